"""How stock goes down: the band of drawn courses, and the day on which each parcel is used up."""

from datetime import date, timedelta

import numpy as np

from inventory.domain.demand import Booking, Demand, Rate, StepUse, Stream
from inventory.domain.levels import Ending, Stocked, endings, levels
from inventory.domain.shelf import OpenedLife, Parcel

TODAY = date(2027, 3, 1)


def after(days: int) -> date:
    return TODAY + timedelta(days=days)


def weekly(qty: int) -> Demand:
    """One visit a week, known as well as can be, that takes an amount."""
    return Demand((Stream("final", Rate(1, 10_000, 1), (StepUse(qty),)),), (), 104)


def test_at_mean_use_each_lot_is_used_up_on_its_day_in_issue_order() -> None:
    shelf = [Parcel("soon", 70, after(13)), Parcel("far", 140, after(200)), Parcel("undated", 350)]
    (found,) = endings([Stocked(shelf, weekly(70))], TODAY)
    assert found == {"soon": Ending(after(7), 0), "far": Ending(after(21), 0), "undated": Ending(after(56), 0)}


def test_a_lot_that_ends_before_it_is_used_up_has_no_day_but_a_rest() -> None:
    shelf = [Parcel("soon", 140, after(6)), Parcel("far", 140, after(200)), Parcel("held", 70, after(5), held=True)]
    (found,) = endings([Stocked(shelf, weekly(70))], TODAY)
    assert found == {"soon": Ending(None, 70), "far": Ending(after(21), 0)}


def test_items_walked_together_come_to_what_each_comes_to_alone() -> None:
    items = [
        Stocked([Parcel("a", 200, after(100))], weekly(30)),
        Stocked(
            [Parcel("b", 150, after(400)), Parcel("c", 50, after(20), opened=True)], weekly(20), OpenedLife(50, 14)
        ),
        Stocked([], weekly(10)),
    ]
    assert endings(items, TODAY) == [endings([one], TODAY)[0] for one in items]
    assert endings([], TODAY) == []


def test_the_band_starts_at_what_is_there_and_widens() -> None:
    found = levels([Parcel("a", 500)], weekly(30), TODAY, end=84, generator=np.random.default_rng(1), paths=500)
    first, later = found[0], found[6]
    assert (first.day, first.low, first.median, first.high) == (TODAY, 500, 500, 500)
    assert later.day == after(42)
    assert later.low < later.median < later.high
    assert abs(later.median - (500 - 6 * 30)) <= 30


def test_a_delivery_counts_from_its_day_and_what_ended_does_not() -> None:
    shelf = [Parcel("old", 100, after(9)), Parcel("order 1", 300, arrives=after(20))]
    booked = Demand((), (Booking(after(30), "final", (StepUse(40),)),), 0)
    found = levels(shelf, booked, TODAY, end=40, generator=np.random.default_rng(1), paths=10)
    usable = {(level.day - TODAY).days: level.median for level in found}
    assert usable[7] == 100
    assert usable[10] == 0  # the last day of use is the day before
    assert usable[20] == 300
    assert usable[35] == 260

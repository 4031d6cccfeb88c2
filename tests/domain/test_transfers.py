"""Lots that one practice would throw away and another would use: what carrying them over gains."""

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.domain.demand import Demand, Rate, StepUse, Stream
from inventory.domain.shelf import OpenedLife, Parcel
from inventory.domain.transfers import MOST_TRIED, Shelved, _losses, best_transfer, less, part_of

TODAY = date(2026, 3, 2)
UNIT = 100
NOBODY = Demand()


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def uses(weekly: float) -> Demand:
    """Give a demand of so many visits a week, each of which takes one unit."""
    return Demand((Stream("visit", Rate(weekly), (StepUse(UNIT),)),)) if weekly else NOBODY


def lot(units: int, last: int = 60, key: str = "lot", *, opened: bool = False, held: bool = False) -> Parcel:
    return Parcel(key, units * UNIT, day(last), opened, cents=units * 1000, held=held)


def shelf(weekly: float, *parcels: Parcel) -> Shelved:
    return Shelved(parcels, uses(weekly), TODAY)


def test_a_lot_that_nobody_uses_here_goes_where_all_of_it_is_used_in_time() -> None:
    found = best_transfer(shelf(0, lot(4)), shelf(20), "lot", UNIT)
    assert found is not None
    assert (found.units, found.saved_cents, found.added_cents) == (4, 4000, 0)


def test_no_more_goes_than_the_other_practice_uses_in_time() -> None:
    found = best_transfer(shelf(0, lot(30, last=28)), shelf(1), "lot", UNIT)
    assert found is not None
    assert 4 <= found.units <= 7
    assert 0 <= found.added_cents < found.saved_cents


def test_what_would_expire_there_instead_counts_against_it() -> None:
    """The other practice has as much of the same age as it will use: every unit carried over spoils one there."""
    assert best_transfer(shelf(0, lot(5, last=28)), shelf(1, lot(20, last=28, key="own")), "lot", UNIT) is None


def test_nothing_is_gained_where_it_is_used_up_anyway_or_nobody_uses_it() -> None:
    assert best_transfer(shelf(20, lot(4)), shelf(20), "lot", UNIT) is None
    assert best_transfer(shelf(0, lot(4)), shelf(0), "lot", UNIT) is None


def test_what_is_opened_held_undated_or_too_old_to_arrive_in_time_stays() -> None:
    far = shelf(20)
    undated = Parcel("lot", 4 * UNIT, None, cents=4000)
    for parcel in (lot(1, opened=True), lot(4, held=True), undated, lot(4, last=1), lot(4, last=-1)):
        assert best_transfer(shelf(0, parcel), far, "lot", UNIT, days=2) is None


def test_of_a_part_of_a_unit_only_whole_ones_go() -> None:
    odd = replace(lot(3), qty=3 * UNIT + 50)
    found = best_transfer(shelf(0, odd), shelf(20), "lot", UNIT)
    assert found is not None
    assert found.units == 3


def test_of_many_units_evenly_spread_numbers_are_tried_the_smallest_and_all_of_them_too() -> None:
    many = best_transfer(shelf(0, lot(500)), shelf(2000), "lot", UNIT)
    one = best_transfer(shelf(0, lot(500)), shelf(0, lot(0)), "lot", UNIT)
    assert (many and many.units, one) == (500, None)
    assert MOST_TRIED < 500


def test_the_opened_life_of_a_unit_counts_on_both_sides() -> None:
    """A unit opened there is thrown away with most of it left: what is carried over is not all saved."""
    short = OpenedLife(UNIT, 1)
    rare = Demand((Stream("visit", Rate(1.0), (StepUse(UNIT / 10),)),))
    best = best_transfer(shelf(0, lot(10)), Shelved((), rare, TODAY, short), "lot", UNIT)
    without = best_transfer(shelf(0, lot(10)), Shelved((), rare, TODAY), "lot", UNIT)
    assert best is not None
    assert without is not None
    assert best.added_cents > 0
    assert best.gain_cents != without.gain_cents


@settings(max_examples=25, deadline=None)
@given(
    units=st.integers(1, 8), theirs=st.integers(0, 8), here=st.sampled_from([0.0, 0.5, 2.0]),
    there=st.sampled_from([0.0, 0.5, 2.0]), last=st.integers(3, 90), other=st.integers(3, 90),
)  # fmt: skip
def test_the_gain_is_what_both_shelves_lose_less_together_and_no_other_number_is_worth_more(
    *, units: int, theirs: int, here: float, there: float, last: int, other: int
) -> None:
    sender = shelf(here, lot(units, last))
    receiver = shelf(there, *([lot(theirs, other, "own")] if theirs else []))
    gains = []
    for number in range(1, units + 1):
        carried = replace(part_of(sender.parcels[0], number * UNIT), key="carried over", arrives=day(1))
        saved = _losses(sender, [sender.parcels, less(sender.parcels, "lot", carried.qty)], 0, 50)
        added = _losses(receiver, [receiver.parcels, (*receiver.parcels, carried)], 0, 50)
        gains.append(saved[0] - saved[1] - added[1] + added[0])
    found = best_transfer(sender, receiver, "lot", UNIT, paths=50)
    worth = [gain - 100 * number for number, gain in enumerate(gains, 1)]  # a tenth of a unit's price each
    assert (found.gain_cents if found else None) == (gains[worth.index(max(worth))] if max(worth) > 0 else None)


def test_carrying_loses_and_makes_nothing() -> None:
    whole = lot(7)
    assert (part_of(whole, 300).qty, part_of(whole, 300).cents) == (300, 3000)
    (rest,) = less((whole,), "lot", 300)
    assert (rest.qty, rest.cents) == (400, 4000)
    assert less((whole,), "lot", 700) == ()
    assert less((whole,), "other", 300) == (whole,)

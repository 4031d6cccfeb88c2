"""What if: the same rules asked again with one thing changed."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from inventory.domain import what_if
from inventory.domain.basket import SupplierTerms
from inventory.domain.demand import Demand, Forecast, Rate, StepUse, Stream
from inventory.domain.position import Position, Rules
from inventory.domain.shelf import Parcel
from inventory.domain.supply import Supply
from inventory.domain.vocabulary import BaseUnit

TODAY = date(2027, 3, 10)
NORTH = Supply("north", units_per_pack=2, pack_cents=3000, lead_days=5, further=(("TIP", 12),))
TERMS = {"north": SupplierTerms("north"), "lake": SupplierTerms("lake")}


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def item(code: str, *parcels: Parcel, weekly: float = 4.0, supply: Supply = NORTH) -> Position:
    demand = Demand((Stream("final", Rate(weekly), (StepUse(1000),)),), history_weeks=52)
    return Position(code, f"Item {code}", BaseUnit.CML, 5000, parcels, demand, supply)


def compare(before: what_if.Positions, after: what_if.Positions) -> tuple[what_if.Change, ...]:
    return what_if.compare(before, after, TERMS, TODAY, Rules())


def test_nothing_changed_is_nothing_that_matters() -> None:
    items = (item("A", Parcel("1", 9000)),)
    assert not any(change.matters for change in compare(items, items))


def test_a_late_supplier_delays_what_is_on_order_and_what_is_ordered_from_now_on() -> None:
    other = item("B", Parcel("o", 500, arrives=day(2)), supply=replace(NORTH, supplier="lake"))
    late, same = what_if.late((item("A", Parcel("1", 100), Parcel("o", 500, arrives=day(2))), other), "north", 14)
    assert [parcel.arrives for parcel in late.parcels] == [None, day(16)]
    assert late.supply is not None
    assert late.supply.lead_days == 19
    assert same == other


def test_what_fails_first_is_what_runs_out_first_before_an_order_of_today_is_there() -> None:
    # 4 visits a week at 10 mL each: 80 mL last two weeks, 120 mL three, and 500 mL for long
    items = (item("C", Parcel("1", 50_000)), item("B", Parcel("1", 12_000)), item("A", Parcel("1", 8000)))
    changes = compare(items, what_if.late(items, "north", 14))
    first = what_if.fails_first(changes)
    assert first is not None
    assert (first.code, first.before.gap_days, first.after.gap_days) == ("A", 0, 5)
    assert first.after.runs_out == day(14)
    assert [change.code for change in changes][:1] == ["A"]
    assert what_if.fails_first(compare(items, items)) is None
    nearest = what_if.nearest(compare(items, items))
    assert nearest is not None
    assert nearest.code == "A"


def test_more_visits_come_on_top_of_those_expected_anyway() -> None:
    (busier,) = what_if.more_visits((item("A"),), "final", what_if.spread(TODAY, 4, 28), {"A": (StepUse(1000),)})
    more = Forecast(busier.demand, TODAY).expected(28) - Forecast(item("A").demand, TODAY).expected(28)
    assert more == pytest.approx(4000)
    assert what_if.spread(TODAY, 4, 28) == (day(1), day(8), day(15), day(22))


def test_an_item_that_the_visits_do_not_use_stays_as_it_is() -> None:
    items = (item("A"),)
    assert what_if.more_visits(items, "final", (day(1),), {"B": (StepUse(1),)}) == items


def test_another_pack_has_its_own_price_and_brings_the_rest_in_proportion() -> None:
    bigger, other = what_if.other_pack((item("A"), item("B")), "A", 6, 8000)
    assert bigger.supply is not None
    assert (bigger.supply.units_per_pack, bigger.supply.pack_cents) == (6, 8000)
    assert bigger.supply.further == (("TIP", 36),)
    assert other == item("B")


def test_a_pack_too_big_for_its_life_shows_as_more_that_expires() -> None:
    slow = (replace(item("A", weekly=0.5), lives=(120,)),)
    (change,) = compare(slow, what_if.other_pack(slow, "A", 24, 36_000))
    assert change.matters
    assert change.after.to_expire > change.before.to_expire
    assert change.after.to_expire_cents > change.before.to_expire_cents

"""How stock ages: earliest expiry first, inclusive dates, opened lives; checked against a unit-by-unit enumeration."""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.domain.shelf import (
    Case,
    IssueOrder,
    OpenedLife,
    Outlook,
    Parcel,
    Uses,
    in_issue_order,
    look_ahead,
    mean_uses,
    periods,
    serve,
    walk,
    walk_all,
)

TODAY = date(2026, 3, 2)


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def steady(use: int, times: int, every: int = 1) -> Uses:
    return Uses(tuple(range(0, every * times, every)), every * times, np.full((1, times), use))


def courses(paths: Sequence[Sequence[int]]) -> Uses:
    return Uses(tuple(range(len(paths[0]))), len(paths[0]), np.array(paths))


# --- facts ----------------------------------------------------------------------------------------------------


def test_a_use_by_date_is_still_usable_on_that_day_and_lost_the_day_after() -> None:
    last_day = walk([Parcel("a", 5, day(0))], steady(5, 1), TODAY)
    assert (last_day.usable, last_day.lost, last_day.short) == (5, 0, 0)
    too_late = walk([Parcel("a", 5, day(0))], courses([[0, 5]]), TODAY)
    assert (too_late.lost, too_late.short) == (5, 5)


def test_the_earliest_expiry_goes_first_whatever_order_the_lots_were_listed_in() -> None:
    parcels = [Parcel("late", 5, day(9)), Parcel("none", 5), Parcel("soon", 5, day(2))]
    assert [p.key for p in in_issue_order(parcels)] == ["soon", "late", "none"]
    assert in_issue_order([*parcels, Parcel("open", 1, day(30), opened=True)])[0].key == "open"


def test_stock_on_hold_and_expired_stock_are_told_but_never_used() -> None:
    outlook = walk([Parcel("a", 7, day(-1)), Parcel("b", 9, day(9), held=True)], steady(1, 3), TODAY)
    assert (outlook.usable, outlook.expired, outlook.held, outlook.short) == (0, 7, 9, 3)
    assert outlook.fates == ()


def test_a_delivery_serves_only_from_the_day_it_comes() -> None:
    outlook = walk([Parcel("order", 5, day(90), arrives=day(2))], courses([[1, 1, 1, 1]]), TODAY)
    assert outlook.short == 2
    assert outlook.arriving == 5
    assert outlook.runs_out == (TODAY, TODAY, TODAY)


def test_an_overdue_delivery_counts_as_arriving_today() -> None:
    assert walk([Parcel("order", 5, arrives=day(-3))], steady(1, 3), TODAY).short == 0


def test_the_money_lost_is_the_lots_share_of_what_it_cost() -> None:
    outlook = walk([Parcel("a", 40, day(1), cents=1000)], steady(5, 2), TODAY)
    assert (outlook.lost, outlook.lost_cents) == (30, 750)


def test_the_chance_to_be_used_up_and_the_run_out_days_come_from_the_paths() -> None:
    paths = [[4, 4, 4]] * 9 + [[0, 0, 0]]
    outlook = walk([Parcel("a", 8, day(1))], courses(paths), TODAY)
    assert outlook.fates[0].used_up == 900_000
    assert outlook.fates[0].lost == 1  # 8 on one path in ten
    assert outlook.runs_out == (day(2), day(2), day(2))
    assert walk([Parcel("a", 8)], courses(paths[:8] + [[0, 0, 0]] * 2), TODAY).runs_out == (day(2), day(2), None)


def test_the_rest_of_an_opened_unit_is_lost_when_its_opened_life_ends() -> None:
    life = OpenedLife(unit_qty=10, days=2)
    outlook = walk([Parcel("a", 20, day(90))], courses([[4, 0, 0, 4]]), TODAY, life)
    assert outlook.lost == 6  # 4 of the first unit used on day 0, its rest ends after day 2
    assert outlook.short == 0


def test_opened_units_are_taken_before_sealed_ones_that_expire_earlier() -> None:
    outlook = walk([Parcel("open", 4, day(9), opened=True), Parcel("sealed", 10, day(3))], steady(1, 4), TODAY)
    assert {f.key: f.lost for f in outlook.fates} == {"open": 0, "sealed": 10}


def test_the_opened_rest_keeps_to_the_lots_own_date() -> None:
    outlook = walk([Parcel("a", 10, day(1))], courses([[4, 0, 6]]), TODAY, OpenedLife(10, 30))
    assert (outlook.lost, outlook.short) == (6, 6)


def test_periods_are_cut_where_a_lot_ends_or_a_delivery_comes() -> None:
    parcels = [Parcel("a", 1, day(9)), Parcel("b", 1, arrives=day(3)), Parcel("c", 1, day(900))]
    assert periods(parcels, TODAY, 21, longest=7) == (0, 3, 7, 10, 14)
    assert periods(parcels, TODAY, 70, weekly=14) == (0, 3, 7, 10, 14, 42)


def test_mean_use_is_rounded_without_losing_any_over_the_course() -> None:
    uses = mean_uses([1 / 3] * 30, range(30), 30)
    assert uses.amounts.sum() == 10


def test_the_look_ahead_reaches_the_last_dated_lot_between_half_a_year_and_five() -> None:
    assert look_ahead([Parcel("a", 1, day(299)), Parcel("b", 1)], TODAY) == 300
    assert look_ahead([Parcel("a", 1, day(9000))], TODAY) == 5 * 366
    assert look_ahead([Parcel("a", 1)], TODAY) == 182


def test_an_empty_shelf_is_short_from_the_first_use() -> None:
    outlook = walk([], courses([[0, 2]]), TODAY)
    assert outlook.short == 2
    assert outlook.runs_out[1] == day(1)


def test_serving_takes_from_the_first_column_first() -> None:
    assert serve(np.array([[3, 4], [3, 4]]), np.array([5, 9])).tolist() == [[3, 2], [3, 4]]


# --- every small case, unit by unit ----------------------------------------------------------------------------------


@dataclass
class Unit:
    """One base unit on a shelf that a person could build from wooden blocks."""

    lot: int
    last: int
    comes: int
    opened: bool
    cartridge: int


def block_walk(parcels: Sequence[Parcel], uses: Sequence[int], life: OpenedLife | None) -> tuple[list[int], int]:
    """Lost units of every lot, and what was short, by handling each unit one at a time."""
    size = life.unit_qty if life else 10**9
    shelf = [
        Unit(
            k,
            (p.use_by - TODAY).days if p.use_by else 10**9,
            (p.arrives - TODAY).days if p.arrives else 0,
            p.opened,
            n // size,
        )
        for k, p in enumerate(parcels)
        for n in range(p.qty)
    ]
    lost = [0] * len(parcels)
    short = 0
    for today, use in enumerate([*uses, 0]):
        for unit in [u for u in shelf if u.last < today]:
            shelf.remove(unit)
            lost[unit.lot] += 1
        for _ in range(use):
            there = [u for u in shelf if u.comes <= today]
            if not there:
                short += 1
                continue
            taken = min(there, key=lambda u: (not u.opened, u.last, u.comes, u.lot, u.cartridge))
            shelf.remove(taken)
            if life and not taken.opened:
                for other in shelf:
                    if (other.lot, other.cartridge) == (taken.lot, taken.cartridge) and not other.opened:
                        other.opened = True
                        other.last = min(other.last, today + life.days)
    return lost, short


def stocks(most: int, lots: int, lasts: Sequence[int | None], comes: Sequence[int | None]) -> Iterator[list[Parcel]]:
    """All stocks up to so many lots and units."""
    for count in range(1, lots + 1):
        for sizes in itertools.product(range(1, most + 1), repeat=count):
            if sum(sizes) > most:
                continue
            for dates in itertools.combinations_with_replacement(itertools.product(lasts, comes), count):
                yield [
                    Parcel(str(k), q, None if last is None else day(last), arrives=None if come is None else day(come))
                    for k, (q, (last, come)) in enumerate(zip(sizes, dates, strict=True))
                ]


def check_all(cases: Iterator[list[Parcel]], paths: list[tuple[int, ...]], life: OpenedLife | None = None) -> int:
    uses = courses(paths)
    seen = 0
    for parcels in cases:
        expected = [block_walk(parcels, path, life) for path in paths]
        outlook = walk(parcels, uses, TODAY, life)
        order = [int(f.key) for f in outlook.fates]
        for fate, lot in zip(outlook.fates, order, strict=True):
            losses = [lost[lot] for lost, _ in expected]
            assert fate.lost == (2 * sum(losses) + len(paths)) // (2 * len(paths))
            assert fate.used_up == 1_000_000 * losses.count(0) // len(paths)
        for k in range(0, len(paths), 7):  # and path by path, each on its own
            lost, short = expected[k]
            alone = walk(parcels, courses([paths[k]]), TODAY, life)
            assert [f.lost for f in alone.fates] == [lost[lot] for lot in order]
            assert alone.short == short
        seen += 1
    return seen


def test_every_stock_of_three_lots_four_units_four_periods_walks_as_wooden_blocks_do() -> None:
    paths = list(itertools.product(range(3), repeat=4))
    assert check_all(stocks(4, 3, (0, 1, 2, 3, None), (None,)), paths) == 20 + 6 * 15 + 4 * 35


def test_every_stock_with_deliveries_on_the_way_walks_as_wooden_blocks_do() -> None:
    paths = list(itertools.product((0, 1, 3), repeat=4))
    assert check_all(stocks(4, 2, (1, 2, 3, None), (None, 1, 2)), paths) > 400


@pytest.mark.parametrize("life", [OpenedLife(2, 0), OpenedLife(2, 1), OpenedLife(3, 1), OpenedLife(4, 2)])
def test_every_stock_of_cartridges_walks_as_wooden_blocks_do(life: OpenedLife) -> None:
    paths = list(itertools.product(range(3), repeat=4))
    assert check_all(stocks(4, 2, (0, 1, 2, 3, None), (None,)), paths, life) == 20 + 6 * 15
    opened = ([replace(lots[0], opened=True), *lots[1:]] for lots in stocks(3, 2, (0, 2, None), (None,)))
    assert check_all(opened, paths, life) > 20


# --- laws ----------------------------------------------------------------------------------------------------

lots = st.builds(
    lambda qty, last, come, opened: Parcel(
        "", qty, None if last is None else day(last), opened=opened, arrives=None if come is None else day(come)
    ),
    st.integers(1, 30),
    st.none() | st.integers(0, 25),
    st.none() | st.integers(1, 12),
    st.just(False),
)
shelves = st.lists(lots, min_size=1, max_size=5)
uses_of_a_month = st.lists(st.integers(0, 6), min_size=28, max_size=28)


def keyed(parcels: Sequence[Parcel]) -> list[Parcel]:
    return [replace(p, key=str(k)) for k, p in enumerate(parcels)]


def outlook_of(parcels: Sequence[Parcel], uses: Sequence[int], order: IssueOrder | None = None) -> Outlook:
    return walk(keyed(parcels), courses([uses]), TODAY, order=order or IssueOrder.EARLIEST_EXPIRY)


@given(shelves, uses_of_a_month, st.integers(0, 4), st.integers(1, 30))
def test_a_later_use_by_never_raises_outdating(parcels: list[Parcel], uses: list[int], which: int, later: int) -> None:
    chosen = parcels[which % len(parcels)]
    if chosen.use_by is None:
        return
    kept = [replace(p, use_by=chosen.use_by + timedelta(days=later)) if p is chosen else p for p in parcels]
    assert outlook_of(kept, uses).lost <= outlook_of(parcels, uses).lost


@given(shelves, lots, uses_of_a_month)
def test_adding_a_lot_never_makes_a_use_less_served_nor_lets_less_expire(
    parcels: list[Parcel], more: Parcel, uses: list[int]
) -> None:
    before, after = outlook_of(parcels, uses), outlook_of([*parcels, more], uses)
    assert after.short <= before.short
    assert after.lost >= before.lost


@given(shelves, uses_of_a_month)
def test_nothing_appears_or_vanishes(parcels: list[Parcel], uses: list[int]) -> None:
    outlook = outlook_of(parcels, uses)
    assert 0 <= outlook.lost <= outlook.usable + outlook.arriving
    assert all(0 <= fate.lost <= fate.qty for fate in outlook.fates)
    assert sum(uses) - outlook.short <= outlook.usable + outlook.arriving - outlook.lost


@given(shelves, uses_of_a_month, st.sampled_from([2, 10, 100]))
def test_the_unit_of_measure_does_not_matter(parcels: list[Parcel], uses: list[int], scale: int) -> None:
    fine = outlook_of([replace(p, qty=p.qty * scale) for p in parcels], [u * scale for u in uses])
    coarse = outlook_of(parcels, uses)
    assert [f.lost for f in fine.fates] == [f.lost * scale for f in coarse.fates]
    assert fine.short == coarse.short * scale
    assert fine.runs_out == coarse.runs_out


@given(shelves, uses_of_a_month)
def test_earliest_expiry_first_loses_no_more_than_latest_first(parcels: list[Parcel], uses: list[int]) -> None:
    assert outlook_of(parcels, uses).lost <= outlook_of(parcels, uses, IssueOrder.LATEST_EXPIRY).lost


@given(shelves, uses_of_a_month, st.integers(0, 27))
def test_more_use_never_lets_more_expire(parcels: list[Parcel], uses: list[int], when: int) -> None:
    more = [u + (k == when) for k, u in enumerate(uses)]
    assert outlook_of(parcels, more).lost <= outlook_of(parcels, uses).lost


@settings(deadline=None)
@given(shelves, st.lists(uses_of_a_month, min_size=2, max_size=6))
def test_many_paths_together_are_the_mean_of_each_alone(parcels: list[Parcel], paths: list[list[int]]) -> None:
    together = walk(keyed(parcels), courses(paths), TODAY)
    alone = [walk(keyed(parcels), courses([path]), TODAY) for path in paths]
    for k, fate in enumerate(together.fates):
        total = sum(one.fates[k].lost for one in alone)
        assert abs(fate.lost * len(paths) - total) * 2 <= len(paths)
    assert (
        together.runs_out[1]
        == sorted((one.runs_out[0] for one in alone), key=lambda d: d or date.max)[(len(paths) + 1) // 2 - 1]
    )


lives = st.none() | st.builds(OpenedLife, st.integers(1, 12), st.integers(0, 20))


@settings(deadline=None)
@given(st.lists(st.tuples(shelves, uses_of_a_month, lives, st.integers(1, 28)), min_size=1, max_size=4))
def test_several_shelves_walked_at_once_are_each_as_if_alone(
    asked: list[tuple[list[Parcel], list[int], OpenedLife | None, int]],
) -> None:
    cases = [Case(keyed(parcels), courses([uses[:length]]), life) for parcels, uses, life, length in asked]
    assert walk_all(cases, TODAY) == [walk(case.parcels, case.uses, TODAY, case.life) for case in cases]
    assert walk_all([], TODAY) == []


@given(shelves, st.floats(0, 5))
def test_cutting_the_periods_only_where_something_happens_gives_what_daily_steps_give(
    parcels: list[Parcel], daily: float
) -> None:
    cuts = periods(parcels, TODAY, 28, 28)
    lengths = [after - first for first, after in itertools.pairwise((*cuts, 28))]
    by_event = walk(keyed(parcels), mean_uses([daily * n for n in lengths], cuts, 28), TODAY)
    by_day = walk(keyed(parcels), mean_uses([daily] * 28, range(28), 28), TODAY)
    assert [f.lost for f in by_event.fates] == [f.lost for f in by_day.fates]
    assert by_event.short == by_day.short
    for rough, fine in zip(by_event.runs_out, by_day.runs_out, strict=True):
        assert (rough is None) == (fine is None)
        # use is rounded to whole units, so a day may be off by the time that one unit lasts
        assert rough is None or fine is None or abs((rough - fine).days) <= 2 + 1 / daily

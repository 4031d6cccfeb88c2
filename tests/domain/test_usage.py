"""Use and waste: every change of stock has one heading, and the headings come to what the stock changed by."""

from datetime import date, timedelta
from statistics import mean, stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.ledger import STAYS
from inventory.domain.usage import ADDED, PERIODS, Account, Became, Change, Price, account, became, period, spread
from inventory.domain.vocabulary import MovementKind

TODAY = date(2026, 11, 25)
DAY = timedelta(days=1)


def test_what_only_moves_stock_has_no_heading_and_everything_else_has_one() -> None:
    assert {kind for kind in MovementKind if became(kind) is None} == STAYS


def test_a_retake_costs_its_material_and_its_purge() -> None:
    for kind, first in ((MovementKind.USE, Became.USED), (MovementKind.PURGE, Became.PURGED)):
        assert [became(kind, attempt) for attempt in (None, 1, 2, 3)] == [first, first, *2 * [Became.RETAKEN]]


@pytest.mark.parametrize(
    ("last_day", "heading"),
    [(TODAY - DAY, Became.EXPIRED), (TODAY, Became.EXPIRED), (TODAY + DAY, Became.DISCARDED), (None, Became.DISCARDED)],
)
def test_what_is_thrown_away_on_its_last_day_or_later_is_expired(last_day: date | None, heading: Became) -> None:
    assert became(MovementKind.DISCARD, on=TODAY, last_day=last_day) is heading


@given(st.lists(st.tuples(st.sampled_from(Became), st.integers(-(10**6), 10**6))))
def test_the_headings_come_to_the_change_of_stock(changes: list[tuple[Became, int]]) -> None:
    found = Account.of(changes)
    assert found.change == sum(qty for _, qty in changes)
    for heading in Became:
        signed = sum(qty for each, qty in changes if each is heading)
        assert found.at(heading) == (signed if heading in ADDED else -signed)
    assert found + found == Account.of([*changes, *changes])


def test_money_is_exact_per_lot_and_rounded_once_and_what_has_no_price_is_told() -> None:
    # a pack of two 50 mL cartridges for 30.01: 10 mL cost 3.001, three times that 9.003
    prices = {1: Price(3001, 2, 5000)}
    changes = [*3 * [Change(1, Became.USED, -1000)], Change(1, Became.RECEIVED, 10_000), Change(2, Became.USED, -700)]
    qty, cents, unpriced = account(changes, prices)
    assert (qty.used, qty.received, qty.change) == (3700, 10_000, 6300)
    assert (cents.used, cents.received) == (900, 3001)
    assert unpriced == 700


def test_waste_is_what_served_no_first_attempt() -> None:
    found = Account(used=100, purged=10, retaken=20, lost=3, expired=40, discarded=5, returned=70, miscounted=-2)
    assert found.wasted == 10 + 20 + 3 + 40 + 5 + 2
    assert found.at_work == 133


@given(st.lists(st.integers(0, 10**6), min_size=2, max_size=30))
def test_the_spread_of_costs_is_that_of_a_sample(cents: list[int]) -> None:
    found = spread(cents)
    assert found.mean == pytest.approx(mean(cents), abs=0.5)
    assert found.sd == pytest.approx(stdev(cents), abs=0.501)
    assert (found.number, found.lowest, found.highest, found.total) == (len(cents), min(cents), max(cents), sum(cents))


def test_one_visit_alone_has_no_spread() -> None:
    assert spread([1250]).sd is None


def test_periods_are_those_of_the_calendar_and_end_today_at_the_latest() -> None:
    told = {word: tuple(map(str, period(word, TODAY))) for word in PERIODS}
    assert told == {
        "this month": ("2026-11-01", "2026-11-25"),
        "last month": ("2026-10-01", "2026-10-31"),
        "this quarter": ("2026-10-01", "2026-11-25"),
        "last quarter": ("2026-07-01", "2026-09-30"),
        "this year": ("2026-01-01", "2026-11-25"),
        "last year": ("2025-01-01", "2025-12-31"),
        "twelve months": ("2025-12-01", "2026-11-25"),
    }


@given(st.dates(date(2000, 1, 1), date(2100, 12, 31)))
def test_one_period_follows_the_other(today: date) -> None:
    for now in ("month", "quarter", "year"):
        assert period(f"last {now}", today)[1] + DAY == period(f"this {now}", today)[0] <= today

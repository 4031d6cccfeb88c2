"""One word for the state of what stands on the shelf, and its value to the cent."""

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.stock_lines import StockState, state_of, value_of
from inventory.domain.vocabulary import LateReason, UseByReading

TODAY = date(2026, 3, 2)


def state(
    last_day: date | None, reading: UseByReading = UseByReading.DAY, blocked: LateReason | None = None
) -> StockState:
    return state_of(last_day, reading, blocked, TODAY, warn_days=30)


@pytest.mark.parametrize(
    ("days", "word"),
    [
        (-1, StockState.EXPIRED),
        (0, StockState.SOON),  # usable on its last day
        (30, StockState.SOON),
        (31, StockState.IN_DATE),
    ],
)
def test_a_dated_lot_is_in_date_then_expires_soon_then_is_expired(days: int, word: StockState) -> None:
    assert state(TODAY + timedelta(days=days)) is word
    assert word.usable is (days >= 0)


def test_a_lot_whose_maker_states_no_date_is_not_one_whose_date_nobody_read() -> None:
    assert state(None, UseByReading.NONE_STATED) is StockState.NONE_STATED
    assert state(None, UseByReading.NOT_READ) is StockState.NOT_READ


def test_an_opened_unit_of_a_lot_without_date_expires_by_its_opened_life() -> None:
    yesterday = TODAY - timedelta(days=1)
    assert state(yesterday, UseByReading.NONE_STATED) is StockState.EXPIRED
    assert state(TODAY + timedelta(days=90), UseByReading.NOT_READ) is StockState.NOT_READ


@pytest.mark.parametrize("reading", UseByReading)
@pytest.mark.parametrize("days", [-1, 0, 400])
def test_recalled_comes_before_held_before_expired(reading: UseByReading, days: int) -> None:
    last_day = TODAY + timedelta(days=days)
    assert state(last_day, reading, LateReason.RECALLED) is StockState.RECALLED
    assert state(last_day, reading, LateReason.HELD) is StockState.HELD


@given(st.integers(0, 10**9), st.integers(1, 10**5), st.integers(0, 10**7), st.integers(1, 500))
def test_the_value_is_the_share_of_the_packs_price_to_the_nearest_cent(
    qty: int, unit_qty: int, pack_cents: int, units: int
) -> None:
    exact = Fraction(qty * pack_cents, unit_qty * units)
    assert abs(value_of(qty, unit_qty, pack_cents, units) - exact) <= Fraction(1, 2)


def test_a_whole_pack_is_worth_its_price() -> None:
    assert value_of(4 * 5_000, 5_000, 6_249, 4) == 6_249

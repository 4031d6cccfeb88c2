"""Quantities as people type them: exact, in the item's own unit, and never more precise than the book."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.quantity import ceil_div, parse_amount, parse_decimal, show, show_money, show_units
from inventory.domain.vocabulary import BaseUnit
from inventory.errors import BadInput


@pytest.mark.parametrize(
    ("typed", "qty"),
    [("12.5", 1250), ("12,5 mL", 1250), ("3t", 1500), ("3 tenths", 1500), ("left 4t", 2000), ("left 20", 2000)],
)
def test_an_amount_is_typed_in_ml_in_tenths_of_a_cartridge_or_as_what_is_left(typed: str, qty: int) -> None:
    assert parse_amount(typed, BaseUnit.CML, 5000, left_from=4000) == qty


@pytest.mark.parametrize(
    "typed", ["", "x", "-1", "1.005", "1e9", "1e9999999", "3 g", "left 50", "nan", "inf", "99999999999999999999"]
)
def test_what_can_not_be_meant_is_refused(typed: str) -> None:
    with pytest.raises(BadInput):
        parse_amount(typed, BaseUnit.CML, 5000, left_from=4000)


@pytest.mark.parametrize("typed", ["1e9999999", "1e-9999999", "nan", "Infinity", "½"])
def test_numbers_beyond_all_bounds_are_refused_and_not_a_fault(typed: str) -> None:
    with pytest.raises(BadInput):
        parse_decimal(typed, 100)


def test_left_means_nothing_without_an_opened_cartridge() -> None:
    with pytest.raises(BadInput, match="opened cartridge"):
        parse_amount("left 3", BaseUnit.CML, 5000)


def test_pieces_have_no_tenths() -> None:
    assert parse_amount("4 pcs", BaseUnit.PIECE, 1) == 4
    with pytest.raises(BadInput, match="pieces"):
        parse_amount("3t", BaseUnit.PIECE, 1)


@given(st.integers(0, 10**9))
def test_what_is_shown_is_read_back_exactly(qty: int) -> None:
    assert parse_amount(show(qty, BaseUnit.CML), BaseUnit.CML, 5000) == qty
    assert parse_decimal(show_money(qty), 100) == qty


def test_stock_is_said_in_cartridges_first() -> None:
    assert show_units(3, 2000, 5000, BaseUnit.CML) == "3 + 0.4 opened"
    assert show_units(0, 10, 5000, BaseUnit.CML) == "0 + 0.1 opened"  # nearly empty is not nothing
    assert show_units(12, 0, 1, BaseUnit.PIECE) == "12"


@given(st.integers(0, 10**6), st.integers(1, 10**4))
def test_whole_packs_are_the_fewest_that_suffice(need: int, pack: int) -> None:
    packs = ceil_div(need, pack)
    assert packs * pack >= need
    assert (packs - 1) * pack < need or packs == 0

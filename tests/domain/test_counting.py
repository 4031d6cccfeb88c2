"""From what is read at a shelf to an amount: whole units, tenths by eye, by weight; and what the book says then."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.counting import (
    Compared,
    Reading,
    ShelfFacts,
    counted_qty,
    money_of,
    parse_reading,
    put_back,
    reading_unit_qty,
    show_reading,
)
from inventory.domain.vocabulary import BaseUnit, CountMethod
from inventory.errors import BadInput

SEALED = ShelfFacts(BaseUnit.CML, 5_000, "cartridge", opened=False)
OPENED = ShelfFacts(BaseUnit.CML, 5_000, "cartridge", opened=True, tare_mg=12_000, density_mg_per_ml=1_250)
POWDER = ShelfFacts(BaseUnit.CG, 50_000, "bag", opened=True, tare_mg=8_000)
TIPS = ShelfFacts(BaseUnit.PIECE, 1, "tip", opened=False)


def qty(text: str, shelf: ShelfFacts, method: CountMethod | None = None) -> int:
    return counted_qty(parse_reading(text, shelf, method), shelf)


def test_sealed_units_and_pieces_are_counted_in_whole_ones() -> None:
    assert qty("3", SEALED) == 15_000
    assert qty("48 pcs", TIPS) == 48
    assert qty("0", SEALED) == 0


def test_a_bare_number_of_an_opened_unit_is_tenths_of_it() -> None:
    assert qty("4", OPENED) == qty("4t", OPENED) == qty("4/10", OPENED) == 2_000
    assert qty("10", OPENED) == 5_000


def test_tenths_of_an_odd_content_are_rounded_to_the_nearest() -> None:
    odd = ShelfFacts(BaseUnit.CML, 4_999, "cartridge", opened=True)
    assert [qty(f"{n}t", odd) for n in (1, 5, 10)] == [500, 2_500, 4_999]


def test_by_weight_it_is_gross_less_tare_by_density() -> None:
    """(62.5 g - 12 g) / 1.25 g per mL = 40.4 mL: computed from the rule."""
    assert qty("62.5 g", OPENED) == qty("62,5", OPENED, CountMethod.WEIGHT) == 4_040
    assert qty("12 g", OPENED) == 0


def test_what_is_kept_in_grams_needs_no_density() -> None:
    assert qty("258.05g", POWDER) == 25_005


def test_a_full_one_may_weigh_a_little_more_than_it_says_but_not_much_more() -> None:
    assert qty("77 g", OPENED) == 5_000
    with pytest.raises(BadInput, match="more than a full one"):
        qty("90 g", OPENED)


def test_less_than_the_empty_package_was_weighed_wrongly() -> None:
    with pytest.raises(BadInput, match="less than an empty one, 12 g"):
        qty("11.9 g", OPENED)


@pytest.mark.parametrize(
    ("tare", "density", "lacks"), [(None, 1_250, "its tare is"), (12_000, None, "its density is"),
                                  (None, None, "its tare and density are")]
)  # fmt: skip
def test_a_weight_without_what_it_needs_says_what_lacks(tare: int | None, density: int | None, lacks: str) -> None:
    shelf = ShelfFacts(BaseUnit.CML, 5_000, "cartridge", opened=True, tare_mg=tare, density_mg_per_ml=density)
    with pytest.raises(BadInput, match=f"{lacks} not known"):
        qty("62.5 g", shelf)


@pytest.mark.parametrize(
    ("text", "shelf", "wrong"),
    [
        ("11", OPENED, "more than a full cartridge"),
        ("1 unit", OPENED, "not counted in whole ones"),
        ("4t", SEALED, "only an opened unit"),
        ("60 g", SEALED, "only an opened unit"),
        ("2.5", SEALED, "finer"),
        ("-1", SEALED, "can't be read"),
        ("", SEALED, "can't be read"),
        ("4054321098765", SEALED, "more than any shelf"),
        ("2", ShelfFacts(BaseUnit.PIECE, 1, "bottle", opened=True), "one opened bottle"),
    ],
)
def test_what_can_not_be_read_says_what_to_type(text: str, shelf: ShelfFacts, wrong: str) -> None:
    with pytest.raises(BadInput, match=wrong) as error:
        qty(text, shelf)
    assert error.value.todo


def test_how_fine_a_reading_is_depends_on_how_it_was_read() -> None:
    steps = [reading_unit_qty(method, OPENED) for method in (CountMethod.UNITS, CountMethod.TENTHS, CountMethod.WEIGHT)]
    assert steps == [5_000, 500, 1]


def test_a_reading_is_told_as_it_was_read() -> None:
    readings = [Reading(CountMethod.UNITS, 3), Reading(CountMethod.TENTHS, 1), Reading(CountMethod.WEIGHT, 62_500)]
    assert [show_reading(one) for one in readings] == ["3", "1 tenth", "62.5 g with package"]


def test_a_difference_is_to_what_the_book_expected_at_that_moment() -> None:
    """On hand are 2 since one was used after the count of 4: the book expected 3, and will say 3."""
    compared = Compared(counted=4, on_hand=2, moved_since=-1)
    assert (compared.expected, compared.difference, compared.after) == (3, 1, 3)


def test_a_difference_has_the_money_of_its_sign() -> None:
    assert money_of(-5_000, 5_000, 4_800, 2) == -2_400
    assert money_of(2_500, 5_000, 4_800, 2) == 1_200


@given(st.integers(0, 10**6), st.integers(0, 10**6), st.integers(-(10**6), 10**6), st.integers(-(10**6), 10**6))
def test_what_happens_before_the_correction_is_posted_does_not_change_what_the_book_says_in_the_end(
    counted: int, on_hand: int, since: int, more: int
) -> None:
    now, later = Compared(counted, on_hand, since), Compared(counted, on_hand + more, since + more)
    assert now.difference == later.difference
    assert later.on_hand + later.difference == later.after == now.after + more


@given(st.dictionaries(st.integers(1, 5), st.integers(-9, 9)), st.sets(st.integers(1, 5)))
def test_what_is_booked_late_changes_counted_shelves_by_nothing_and_others_by_all_of_it(
    changes: dict[int, int], counted: set[int]
) -> None:
    back = put_back(changes, counted)
    for shelf, qty_ in changes.items():
        assert qty_ + back.get(shelf, 0) == (0 if shelf in counted else qty_)

"""Text as people type it, made fit to be kept."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.words import clean, clean_code, clean_initials
from inventory.errors import BadInput


def test_blanks_around_and_between_words_are_single() -> None:
    assert clean("  Light \t body\u00a0 A\r\n", "name", 40) == "Light body A"


def test_a_letter_typed_in_two_parts_is_the_same_letter() -> None:
    assert clean("Ko\u0308nig", "name", 40) == clean("K\u00f6nig", "name", 40)


def test_upper_and_lower_case_and_leading_zeros_of_a_lot_number_stay() -> None:
    assert clean("00aB/(7)", "lot", 60) == "00aB/(7)"


@pytest.mark.parametrize("sign", ["\x00", "\x1d", "\x1b", "\u200b", "\u202e", "\ufeff", "\ud800"])
def test_a_sign_that_nobody_can_see_is_refused_by_name(sign: str) -> None:
    with pytest.raises(BadInput, match=f"U\\+{ord(sign):04X}"):
        clean(f"LOT{sign}7", "lot", 60)


def test_a_field_that_must_be_filled_says_its_name_when_it_is_empty() -> None:
    with pytest.raises(BadInput, match="reason"):
        clean(" \n ", "reason", 60)
    assert clean(" \n ", "reason", 60, needed=False) == ""


def test_text_too_long_to_be_kept_is_refused_not_cut() -> None:
    assert clean("x" * 60, "lot", 60) == "x" * 60
    with pytest.raises(BadInput, match="at most 60"):
        clean("x" * 61, "lot", 60)


def test_a_code_is_the_same_in_capitals_and_small_letters() -> None:
    assert clean_code(" wash-a/1 ", "code") == "WASH-A/1"


@pytest.mark.parametrize("code", ["", "two words", "-A", "#A", "\u00c4", "a;b", "a,b"])
def test_a_code_holds_only_signs_that_every_file_and_label_can_carry(code: str) -> None:
    with pytest.raises(BadInput):
        clean_code(code, "code")


def test_initials_are_short_and_in_capitals() -> None:
    assert clean_initials(" ab ") == "AB"


@pytest.mark.parametrize("initials", ["", "A B", "A. Example", "ABCDEFGHI", "[b]"])
def test_a_name_is_not_initials(initials: str) -> None:
    with pytest.raises(BadInput):
        clean_initials(initials)


@given(st.text(max_size=80))
def test_what_is_kept_is_kept_as_it_is_the_next_time(text: str) -> None:
    try:
        kept = clean(text, "text", 60, needed=False)
    except BadInput:
        return
    assert clean(kept, "text", 60, needed=False) == kept
    assert len(kept) <= 60
    assert all(not unicodedata.category(sign).startswith("C") for sign in kept)
    assert len(kept.splitlines()) <= 1

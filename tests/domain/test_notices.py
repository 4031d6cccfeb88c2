"""Which lots a notice names: awkward lot numbers, ranges that can't be compared, codes padded or not."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.notices import (
    LotFacts,
    Match,
    ScopeLine,
    came_between,
    in_range,
    items_of_code,
    line_names,
    named,
    same_code,
    same_number,
)

NO, PERHAPS, SURE = Match.NO, Match.PERHAPS, Match.SURE
ITEM, OTHER = 7, 8
LOTS = st.text("ABab019Oo Il-/._ß\u00e9", min_size=1, max_size=8).filter(str.strip)
PREFIX = st.from_regex(r"([A-Z]{1,3}[-/ ]?)?", fullmatch=True)


# One number


@pytest.mark.parametrize(
    ("other", "match"),
    [
        ("A0120", SURE), (" a0120 ", SURE), ("\uff21\uff10\uff11\uff12\uff10", SURE),  # wide signs
        ("A120", PERHAPS), ("A 0120", PERHAPS), ("A-0120", PERHAPS), ("AO12O", PERHAPS), ("AOI20", PERHAPS),
        ("A0120-2", PERHAPS), ("LOT A0120", PERHAPS), ("A0120/B", PERHAPS),
        ("A01200", NO), ("A0121", NO), ("B0120", NO), ("0120", NO), ("A0120B", NO), ("", NO),
    ],
)  # fmt: skip
def test_a_number_is_the_one_named_perhaps_the_one_named_or_another(other: str, match: Match) -> None:
    assert same_number("A0120", other) is match
    assert same_number(other, "A0120") is match


# A range


@pytest.mark.parametrize(
    ("first", "last", "number", "match"),
    [
        ("A100", "A199", "A150", SURE), ("A100", "A199", "a199", SURE), ("A100", "A199", "A200", NO),
        ("A100", "A199", "B150", NO), ("A100", "C050", "B999", SURE), ("24A015", "24B003", "24A099", SURE),
        ("24A015", "24B003", "24B004", NO), ("0098", "0105", "0099", SURE), ("0098", "0105", "99", PERHAPS),
        ("98", "105", "99", SURE), ("98", "105", "106", NO), ("98", "105", "0099", PERHAPS),
        ("98", "105", "1001", PERHAPS),  # the unit of lot 100, or a lot of another year: nobody can tell
        ("A100", "A199", "A1500", PERHAPS), ("A100", "A199", "150", PERHAPS), ("A100", "A199", "A-150", PERHAPS),
        ("A100", "A199", "A1S0", PERHAPS), ("A100", "A199", "A150B", PERHAPS), ("A100", "B20", "A150", PERHAPS),
        ("I100", "I199", "L150", PERHAPS),  # the same letter to many a reader
        ("B200", "A100", "A150", PERHAPS), ("B200", "A100", "A100", SURE),  # not counted as we would
        ("250624", "050724", "280624", PERHAPS),  # days, read as numbers, run backwards
        ("A100", "A100", "A100", SURE), ("A100", "A100", "A101", NO),
    ],
)  # fmt: skip
def test_a_range_is_compared_only_where_the_pattern_is_the_same(
    first: str, last: str, number: str, match: Match
) -> None:
    assert in_range(first, last, number) is match


@given(LOTS, LOTS)
def test_both_ends_of_a_range_belong_to_it(first: str, last: str) -> None:
    assert in_range(first, last, first) is SURE
    assert in_range(first, last, last) is SURE


@given(PREFIX, st.integers(4, 7), st.lists(st.integers(0, 9999), min_size=3, max_size=3, unique=True))
def test_no_member_of_a_range_is_missed_and_no_stranger_taken_in(prefix: str, width: int, three: list[int]) -> None:
    low, middle, high = (f"{prefix}{number:0{width}}" for number in sorted(three))
    assert in_range(low, high, middle) is SURE
    assert in_range(low, middle, high) is NO
    assert in_range(middle, high, low) is NO


@given(PREFIX, st.lists(st.integers(1, 99_999), min_size=3, max_size=3, unique=True))
def test_members_that_were_counted_without_zeros_in_front_are_not_missed(prefix: str, three: list[int]) -> None:
    low, middle, high = (f"{prefix}{number}" for number in sorted(three))
    assert in_range(low, high, middle) is SURE


@given(
    PREFIX, st.integers(4, 6), st.lists(st.integers(0, 9999), min_size=3, max_size=3, unique=True),
    st.sampled_from([str.lower, lambda n: f" {n} ", lambda n: n.replace("0", "O"), lambda n: n.replace("1", "l"),
                     lambda n: f"{n}-1", lambda n: n.replace("-", ""), lambda n: n.replace(" ", "")]),
)  # fmt: skip
def test_a_member_written_in_another_way_is_at_least_perhaps_in_the_range(
    prefix: str, width: int, three: list[int], otherwise: object
) -> None:
    low, middle, high = (f"{prefix}{number:0{width}}" for number in sorted(three))
    assert callable(otherwise)
    for number in (low, middle, high):
        assert in_range(low, high, otherwise(number)) is not NO


@given(LOTS, LOTS, LOTS)
def test_a_range_never_knows_less_than_the_single_numbers_at_its_ends(first: str, last: str, number: str) -> None:
    assert in_range(first, last, number) >= max(same_number(first, number), same_number(last, number))


# When it came


def test_what_came_on_the_first_or_the_last_day_is_meant() -> None:
    first, last = date(2026, 1, 10), date(2026, 1, 20)
    for day, match in ((9, NO), (10, SURE), (20, SURE), (21, NO)):
        assert came_between(first, last, LotFacts(ITEM, "A", came=(date(2026, 1, day),))) is match
    assert came_between(first, None, LotFacts(ITEM, "A", came=(date(2026, 5, 1),))) is SURE
    assert came_between(None, last, LotFacts(ITEM, "A", came=(date(2025, 5, 1), date(2026, 5, 1)))) is SURE


def test_a_lot_that_no_delivery_brought_is_perhaps_meant_unless_it_was_there_before() -> None:
    first, last = date(2026, 1, 10), date(2026, 1, 20)
    for day, match in ((9, NO), (10, PERHAPS), (31, PERHAPS)):
        assert came_between(first, last, LotFacts(ITEM, "A", there_by=date(2026, 1, day))) is match


# Codes of articles


@pytest.mark.parametrize(
    ("one", "other", "match"),
    [
        ("9506000134352", "09506000134352", SURE), ("09506000134352", "9506000134352", SURE),
        ("19506000134359", "09506000134352", PERHAPS),  # a case of them
        ("09521234543213", "09506000134352", NO), ("12345678", "00000012345678", SURE),
        ("+A123BJC5D6E71", "+a123bjc5d6e71", SURE), ("N-100", "n100", PERHAPS), ("N-100", "N-101", NO), ("-", "/", NO),
    ],
)  # fmt: skip
def test_codes_are_compared_padded_and_without_separators(one: str, other: str, match: Match) -> None:
    assert same_code(one, other) is match
    assert same_code(other, one) is match


def test_a_code_that_means_several_articles_perhaps_means_each_of_them() -> None:
    known = [("N-1", ITEM, SURE), ("N-1", OTHER, SURE), ("X", 9, SURE)]
    assert items_of_code("n-1", known) == {ITEM: PERHAPS, OTHER: PERHAPS}
    assert items_of_code("n-1", [("N-1", ITEM, SURE), ("N-1", OTHER, PERHAPS)]) == {ITEM: SURE, OTHER: PERHAPS}
    assert items_of_code("zz", known) == {}


# Lines


@pytest.mark.parametrize(
    ("line", "lot", "match"),
    [
        (ScopeLine({ITEM: SURE}), LotFacts(ITEM, "A1"), SURE),
        (ScopeLine({ITEM: SURE}), LotFacts(OTHER, "A1"), NO),
        (ScopeLine({ITEM: PERHAPS}, "A1"), LotFacts(ITEM, "A1"), PERHAPS),
        (ScopeLine({ITEM: SURE}, "A1"), LotFacts(ITEM, "A2"), NO),
        (ScopeLine({ITEM: SURE}, "A1"), LotFacts(ITEM, "R-2026-0001-1", ours=True), PERHAPS),
        (ScopeLine({ITEM: SURE}, "A1", "A9"), LotFacts(ITEM, "no lot", ours=True), PERHAPS),
        (ScopeLine(None, "A1"), LotFacts(OTHER, "A1"), SURE),
        (ScopeLine(None, "A1"), LotFacts(OTHER, "A01"), PERHAPS),
        (ScopeLine(None, "A1"), LotFacts(OTHER, "no lot", ours=True), NO),
        (ScopeLine({}, "A1"), LotFacts(OTHER, "A1"), PERHAPS),  # the code is not known here, the number is
        (ScopeLine({}, "A1", "A9"), LotFacts(OTHER, "A5"), PERHAPS),
        (ScopeLine({}, "A1", "A9"), LotFacts(OTHER, "XYZ"), NO),
        (ScopeLine({}), LotFacts(OTHER, "A1"), NO),
        (ScopeLine({ITEM: SURE}, "A1", received_from=date(2026, 1, 2)), LotFacts(ITEM, "A1"), NO),
        (ScopeLine({ITEM: SURE}, "A1", received_from=date(2026, 1, 2)),
         LotFacts(ITEM, "A1", there_by=date(2026, 2, 2)), PERHAPS),
    ],
)  # fmt: skip
def test_every_condition_of_a_line_counts_and_the_least_certain_decides(
    line: ScopeLine, lot: LotFacts, match: Match
) -> None:
    assert line_names(line, lot) is match


def test_of_several_lines_the_most_certain_decides() -> None:
    lines = [ScopeLine({ITEM: SURE}, "A01"), ScopeLine({ITEM: SURE}, "A1")]
    assert named(lines, LotFacts(ITEM, "A1")) is SURE
    assert named(lines[:1], LotFacts(ITEM, "A1")) is PERHAPS
    assert named([], LotFacts(ITEM, "A1")) is NO


@given(LOTS, st.booleans())
def test_every_lot_of_an_article_named_whole_is_surely_named(number: str, ours: bool) -> None:
    assert line_names(ScopeLine({ITEM: SURE}), LotFacts(ITEM, number, ours)) is SURE

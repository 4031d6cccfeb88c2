"""Dates as people type them; the clock stands at Wednesday, 2027-03-10 unless said otherwise."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.dates import DateOrder, TypedDate, full_year, nearest, parse_date
from inventory.errors import BadInput

WEDNESDAY = date(2027, 3, 10)
DAYS = st.dates(date(1990, 1, 1), date(2090, 12, 31))


def day(text: str, today: date = WEDNESDAY, order: DateOrder = DateOrder.DAY_FIRST) -> date:
    return parse_date(text, today, order).day


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("today", date(2027, 3, 10)),
        ("Tomorrow", date(2027, 3, 11)),
        ("yesterday", date(2027, 3, 9)),
        ("in 2 weeks", date(2027, 3, 24)),
        ("2w", date(2027, 3, 24)),
        ("in a month", date(2027, 4, 10)),
        ("10 days ago", date(2027, 2, 28)),
        ("in 1 year", date(2028, 3, 10)),
        ("2027-03-12", date(2027, 3, 12)),
        ("2027/3/12", date(2027, 3, 12)),
        ("20270312", date(2027, 3, 12)),
        ("12 mar", date(2027, 3, 12)),
        ("12. March 2028", date(2028, 3, 12)),
        ("mar 12, 2028", date(2028, 3, 12)),
        ("12mar28", date(2028, 3, 12)),
        ("  12.3.27 ", date(2027, 3, 12)),
        ("12.3.", date(2027, 3, 12)),
    ],
)
def test_common_ways_of_typing_a_day_are_read(typed: str, meant: date) -> None:
    assert parse_date(typed, WEDNESDAY) == TypedDate(meant)


@pytest.mark.parametrize("typed", ["2027-03", "2027/3", "03/2027", "3.2027", "mar 2027", "March 2027"])
def test_a_month_alone_is_its_last_day_and_stays_marked(typed: str) -> None:
    assert parse_date(typed, WEDNESDAY) == TypedDate(date(2027, 3, 31), month_only=True)


def test_february_alone_knows_leap_years() -> None:
    assert day("2028-02") == date(2028, 2, 29)
    assert day("2027-02") == date(2027, 2, 28)


def test_a_weekday_is_the_next_one_after_today() -> None:
    assert day("fri") == date(2027, 3, 12)
    assert day("Monday") == date(2027, 3, 15)
    assert day("wed") == date(2027, 3, 17)


def test_bare_numbers_follow_the_order_of_the_practice() -> None:
    assert day("3/12/2027") == date(2027, 12, 3)
    assert day("3/12/2027", order=DateOrder.MONTH_FIRST) == date(2027, 3, 12)


def test_a_day_without_a_year_is_the_nearest_one() -> None:
    new_year = date(2027, 1, 4)
    assert day("30/12", new_year) == date(2026, 12, 30)
    assert day("3/2", new_year) == date(2027, 2, 3)
    assert day("29/2", date(2027, 6, 1)) == date(2028, 2, 29)


def test_a_month_on_from_the_end_of_a_long_month_is_the_end_of_the_short_one() -> None:
    assert day("in 1 month", date(2027, 1, 31)) == date(2027, 2, 28)


def test_years_of_two_digits_are_the_nearest_century() -> None:
    """GS1 General Specifications 7.12, read in the source; the years are computed from the rule for a clock of 2026."""
    clock = date(2026, 6, 1)
    assert [full_year(digits, clock) for digits in (75, 76, 77)] == [2075, 2076, 1977]


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "  ",
        "31/2",
        "2027-13",
        "2027-00-10",
        "0000-01-01",
        "next fri",
        "t",
        "frx",
        "270312",
        "3",
        "in 2 moons",
        "9999y",
        "ma 2027",
    ],
)
def test_what_nobody_can_read_for_sure_is_refused_with_examples(typed: str) -> None:
    with pytest.raises(BadInput) as refused:
        parse_date(typed, WEDNESDAY, what="use-by")
    assert "use-by" in refused.value.message
    assert "2027-03-12" in refused.value.todo


def test_a_day_is_never_taken_for_a_month_of_the_other_order() -> None:
    with pytest.raises(BadInput):
        parse_date("3/27", WEDNESDAY)
    assert day("3/27", order=DateOrder.MONTH_FIRST) == date(2027, 3, 27)


@given(DAYS, DAYS)
def test_an_iso_date_is_itself_whatever_the_day(meant: date, today: date) -> None:
    assert parse_date(meant.isoformat(), today) == TypedDate(meant)


@given(DAYS, DAYS, st.sampled_from(DateOrder))
def test_a_date_written_in_the_order_of_the_practice_is_read_back(meant: date, today: date, order: DateOrder) -> None:
    parts = (meant.day, meant.month) if order is DateOrder.DAY_FIRST else (meant.month, meant.day)
    assert parse_date(f"{parts[0]}/{parts[1]}/{meant.year}", today, order).day == meant


@given(DAYS, DAYS)
def test_the_nearest_day_of_a_year_is_at_most_half_a_year_away(today: date, other: date) -> None:
    found = nearest(other.day, other.month, today)
    assert (found.day, found.month) == (other.day, other.month)
    leap_day = (other.day, other.month) == (29, 2)
    assert abs(found - today) <= timedelta(days=4 * 366 if leap_day else 183)


def test_no_year_has_a_thirty_first_of_june() -> None:
    with pytest.raises(BadInput):
        parse_date("31/6", WEDNESDAY)


@given(st.text(max_size=20), DAYS)
def test_whatever_is_typed_gives_a_date_or_a_plain_refusal(text: str, today: date) -> None:
    try:
        read: TypedDate | BadInput = parse_date(text, today)
    except BadInput as refused:
        read = refused
    assert isinstance(read, TypedDate) or (read.message and read.todo)

"""Dates as people type them.

At a chair nobody types ``2027-03-12`` when "fri" will do, and a label often gives a month only. This module reads what
was typed into one date, says whether a day was given at all, and refuses what two people would read differently.

Read are: ISO dates and ISO months, ``today``, ``tomorrow``, ``yesterday``, days of the week, ``in 2 weeks``,
``10 days ago``, ``3/12`` or ``3.12.2027`` in the order the practice is used to, ``12 mar 2027``, ``mar 2027`` and
``03/2027``. Names are English; nothing depends on the computer's own locale.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, time
from enum import StrEnum

from dateutil.relativedelta import relativedelta, weekday

from inventory.domain.use_by import last_day_of_month
from inventory.errors import BadInput


class DateOrder(StrEnum):
    """What ``3/12`` means where the practice is: the third of December, or March the twelfth."""

    DAY_FIRST = "day_first"
    MONTH_FIRST = "month_first"


@dataclass(frozen=True)
class TypedDate:
    """A date that was typed; where only a month was given it is that month's last day."""

    day: date
    month_only: bool = False


WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
TODO = "Type e.g. 2027-03-12, today, fri or in 2 weeks; a month alone is 2027-03."

_NEAR = {"today": 0, "now": 0, "tomorrow": 1, "yesterday": -1}
_Groups = dict[str, str]
_TIME = re.compile(r"(?P<hour>\d{1,2})[:.]?(?P<minute>\d{2})", re.ASCII)


def parse_date(text: str, today: date, order: DateOrder = DateOrder.DAY_FIRST, what: str = "date") -> TypedDate:
    """Read one date.

    Args:
        text: what was typed.
        today: the practice's local date.
        order: how a date of bare numbers is meant.
        what: the field's name, for the error.

    Returns:
        The day meant. A weekday is the next one after today. A day and month without a year are the ones nearest to
        today, before or after. Years of two digits are the nearest century (GS1 General Specifications 7.12).

    Raises:
        BadInput: unreadable, no such day, or ambiguous.
    """
    typed = " ".join(text.lower().replace(",", " ").split())
    if not typed:
        raise BadInput(f"{what}: nothing was typed.", TODO)
    matches = ((pattern.fullmatch(typed), read) for pattern, read in _FORMS)
    for match, read in matches:
        if match is None:
            continue
        try:
            return read({name: part for name, part in match.groupdict().items() if part}, today, order)
        except (ValueError, OverflowError):
            break
    raise BadInput(f"{what}: {text.strip()!r} is not a date.", TODO)


def parse_time(text: str, what: str = "time") -> time:
    """Read a time of day: ``9:30``, ``14.05`` or ``0930``.

    Raises:
        BadInput: it is none.
    """
    match = _TIME.fullmatch(text.strip())
    try:
        if match is not None:
            return time(int(match["hour"]), int(match["minute"]))
    except ValueError:
        pass
    raise BadInput(f"{what}: {text.strip()!r} is not a time of day.", "Type e.g. 9:30.")


def parse_moment(
    text: str, today: date, order: DateOrder = DateOrder.DAY_FIRST, what: str = "date"
) -> tuple[TypedDate, time | None]:
    """Read a day, with or without a time behind it: ``fri``, ``2027-03-12 9:30``, or a time of today.

    Raises:
        BadInput: as for a day, or the time is none.
    """
    day, _, last = text.strip().rpartition(" ")
    if ":" not in last:
        return parse_date(text, today, order, what), None
    return parse_date(day or "today", today, order, what), parse_time(last, what)


def full_year(two_digits: int, today: date) -> int:
    """The year within 49 years back and 50 years ahead of today that ends in these digits (GS1 GenSpecs 7.12)."""
    year = today.year - today.year % 100 + two_digits
    if year - today.year > 50:
        return year - 100
    return year + 100 if year - today.year < -49 else year


def nearest(day: int, month: int, today: date) -> date:
    """The day of a year nearest to today: in January "30/12" is last December, "3/2" next month.

    Raises:
        ValueError: no year near today has such a day.
    """
    found = [made for year in range(today.year - 4, today.year + 5) if (made := _day(year, month, day))]
    if not found:
        raise ValueError
    return min(found, key=lambda made: (abs(made - today), made < today))


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _year(digits: str, today: date) -> int:
    return full_year(int(digits), today) if len(digits) == 2 else int(digits)


def _name(prefix: str, names: tuple[str, ...]) -> int:
    """Position of the only name that begins so; `ValueError` where there is none or more than one."""
    found = [index for index, name in enumerate(names) if name.startswith(prefix)]
    if len(found) != 1:
        raise ValueError
    return found[0]


def _near(part: _Groups, today: date, _: DateOrder) -> TypedDate:
    return TypedDate(today + relativedelta(days=_NEAR[part["near"]]))


def _weekday(part: _Groups, today: date, _: DateOrder) -> TypedDate:
    named = weekday(_name(part["weekday"], WEEKDAYS))
    return TypedDate(today + relativedelta(days=1, weekday=named))


def _span(part: _Groups, today: date, _: DateOrder) -> TypedDate:
    sign = -1 if "ago" in part else 1
    number = 1 if part["n"] in ("a", "an") else int(part["n"])
    one = {
        "d": relativedelta(days=1),
        "w": relativedelta(weeks=1),
        "m": relativedelta(months=1),
        "y": relativedelta(years=1),
    }[part["unit"][0]]
    return TypedDate(today + one * (sign * number))


def _iso(part: _Groups, _today: date, _: DateOrder) -> TypedDate:
    return TypedDate(date(int(part["y"]), int(part["m"]), int(part["d"])))


def _month_number(part: _Groups, _today: date, _: DateOrder) -> TypedDate:
    return TypedDate(last_day_of_month(int(part["y"]), int(part["m"])), month_only=True)


def _numbers(part: _Groups, today: date, order: DateOrder) -> TypedDate:
    first, second = int(part["a"]), int(part["b"])
    day, month = (first, second) if order is DateOrder.DAY_FIRST else (second, first)
    if "y" in part:
        return TypedDate(date(_year(part["y"], today), month, day))
    return TypedDate(nearest(day, month, today))


def _named_day(part: _Groups, today: date, _: DateOrder) -> TypedDate:
    month = _name(part["month"], MONTHS) + 1
    if "y" in part:
        return TypedDate(date(_year(part["y"], today), month, int(part["d"])))
    return TypedDate(nearest(int(part["d"]), month, today))


def _named_month(part: _Groups, _today: date, _: DateOrder) -> TypedDate:
    return TypedDate(last_day_of_month(int(part["y"]), _name(part["month"], MONTHS) + 1), month_only=True)


_UNIT = r"(?P<unit>d|days?|w|wks?|weeks?|m|months?|y|years?)"
_YEAR = r"(?P<y>\d{4}|\d{2})"
_FORMS: tuple[tuple[re.Pattern[str], Callable[[_Groups, date, DateOrder], TypedDate]], ...] = (
    (re.compile(r"(?P<near>today|now|tomorrow|yesterday)"), _near),
    (re.compile(r"(?P<weekday>[a-z]{2,})"), _weekday),
    (re.compile(rf"(?:in\s)?(?P<n>\d{{1,4}}|an?)\s?{_UNIT}(?P<ago>\sago)?"), _span),
    (re.compile(r"(?P<y>\d{4})[-/.](?P<m>\d\d?)[-/.](?P<d>\d\d?)"), _iso),
    (re.compile(r"(?P<y>\d{4})(?P<m>\d\d)(?P<d>\d\d)"), _iso),
    (re.compile(r"(?P<y>\d{4})[-/.](?P<m>\d\d?)"), _month_number),
    (re.compile(r"(?P<m>\d\d?)[-/.](?P<y>\d{4})"), _month_number),
    (re.compile(rf"(?P<a>\d\d?)[-/.](?P<b>\d\d?)(?:[-/.]{_YEAR}|\.)?"), _numbers),
    (re.compile(rf"(?P<d>\d\d?)\.?\s?(?P<month>[a-z]{{3,}})\.?(?:\s?{_YEAR})?"), _named_day),
    (re.compile(r"(?P<month>[a-z]{3,})\.?\s(?P<y>\d{4})"), _named_month),
    (re.compile(rf"(?P<month>[a-z]{{3,}})\.?\s(?P<d>\d\d?)(?:\s{_YEAR})?"), _named_day),
)

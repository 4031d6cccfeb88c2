"""HIBC supplier labels (ANSI/HIBC 2.6): the article in one code, lot and date in a second, or both in one.

Every code ends with a check character, and the second repeats that of the first, so that two boxes are not mixed up.
The check character may be a blank, a slash or a plus: nothing is ever cut off the end. Dates of two-digit years take
the century nearest to today, as in GS1; the standard names none (from memory).
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from inventory.domain.dates import full_year
from inventory.domain.labels.label import CodeKind, Label, unreadable
from inventory.domain.use_by import last_day_of_month
from inventory.domain.vocabulary import UseByReading

SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"
"""In the order of their values, 0 to 42."""

_ARTICLE = re.compile(r"[A-Z][A-Z0-9]{3}[A-Z0-9]{1,18}[0-9]")
_LOT = re.compile(r"[A-Z0-9.-]{0,18}")
_Day = tuple[date, UseByReading]


def check_character(text: str) -> str:
    """The check character of all before it: the sum of their values modulo 43."""
    return SIGNS[sum(map(SIGNS.index, text)) % 43]


def fits(text: str) -> bool:
    """Whether a text has HIBC's signs only, and ends with their check character."""
    return len(text) > 2 and all(sign in SIGNS for sign in text) and check_character(text[:-1]) == text[-1]


@dataclass
class _Said:
    """What the parts have said so far."""

    today: date
    fields: dict[str, Any] = field(default_factory=dict)

    def note(self, name: str, value: object, at: int, *, instead: bool = False) -> None:
        if self.fields.get(name, value) != value and not instead:
            raise unreadable(f"the {name.replace('_', ' ')} stands there twice", at)
        self.fields[name] = value

    def note_use_by(self, day: _Day | None, at: int, *, instead: bool = False) -> None:
        if day is not None:
            self.note("use_by", day[0], at, instead=instead)
            self.fields["use_by_read"] = day[1]


def read(text: str, at: int, today: date) -> Label:
    """Read a code, from its plus on.

    Raises:
        BadInput: a wrong check character, or a part that does not fit.
    """
    _check(text, at)
    said = _Said(today)
    check = text[-1]
    if text[at + 1].isalpha():
        article, *rest = text[at + 1 : -1].split("/")
        if _ARTICLE.fullmatch(article) is None:
            raise unreadable(f"{article!a} is no labeler, product and unit of measure", at + 1)
        _supplements(said, rest, at + 2 + len(article))
        kind = CodeKind.HIBC if rest else CodeKind.HIBC_PRIMARY
        return Label(kind, hibc=article, check=None if rest else check, **said.fields)
    _supplements(said, text[at + 1 : -2].split("/"), at + 1)
    if not said.fields:
        raise unreadable("it names no article, lot or date", at)
    return Label(CodeKind.HIBC_SECONDARY, link=text[-2], **said.fields)


def _check(text: str, at: int) -> None:
    for place, sign in enumerate(text[at:], at):
        if sign not in SIGNS:
            why = "small letters are not used in HIBC" if sign.islower() else f"{sign!a} is not used in HIBC"
            raise unreadable(why, place)
    if len(text) - at < 5:
        raise unreadable("the label ends here", len(text))
    if not fits(text[at:]):
        raise unreadable(
            f"the check character {text[-1]!r} does not fit the rest",
            len(text) - 1,
            "Scan it again (a blank at its end counts), or type the lot and the date by hand.",
        )


def _supplements(said: _Said, parts: list[str], at: int) -> None:
    """The parts behind the article, in their order: lot and date first, quantity last."""
    seen = set()
    for number, part in enumerate(parts):
        read_part = next((read for pattern, read in _PARTS if pattern.match(part)), None)
        if read_part is None or (part.startswith("$") and number > 0):
            raise unreadable(f"{part!a} does not fit here", at)
        if part.startswith("Q") and number < len(parts) - 1:
            raise unreadable("the quantity comes last", at)
        if read_part in seen:
            raise unreadable(f"{part!a} stands there although the like stood before", at)
        seen.add(read_part)
        read_part(said, part, at)
        at += len(part) + 1


def _lot(said: _Said, lot: str, at: int, name: str = "lot") -> None:
    if _LOT.fullmatch(lot) is None:
        longer = len(lot) > 18
        raise unreadable(f"a {name} has at most 18 signs" if longer else f"{lot!a} is no {name} of HIBC", at)
    if lot:
        said.note(name, lot, at)


def _plain_lot(said: _Said, part: str, at: int) -> None:
    _lot(said, part[1:], at + 1)


def _plain_serial(said: _Said, part: str, at: int) -> None:
    _lot(said, part[2:], at + 2, "serial")


def _dated_serial(said: _Said, part: str, at: int) -> None:
    day, length = _flagged(part, 3, at, said.today)
    said.note_use_by(day, at)
    _lot(said, part[3 + length :], at + 3 + length, "serial")


def _dated_lot(said: _Said, part: str, at: int) -> None:
    """``$$``, a quantity (8 and two digits, 9 and five) where there is one, the date by its flag, the lot."""
    place = 2
    if part[2:3] in ("8", "9"):
        digits = 2 if part[2] == "8" else 5
        said.note("count", int(_digits(part, 3, digits, at)), at + 2)
        place = 3 + digits
        if place == len(part):
            return
    day, length = _flagged(part, place, at, said.today)
    said.note_use_by(day, at)
    _lot(said, part[place + length :], at + place + length)


def _old_lot(said: _Said, part: str, at: int) -> None:
    """The superseded form: year and day of the year, then the lot."""
    said.note_use_by(_day_of_year(_digits(part, 0, 5, at), said.today, at), at)
    _lot(said, part[5:], at + 5)


def _made(said: _Said, part: str, at: int) -> None:
    said.note("made_on", _whole(part, at), at)


def _use_by(said: _Said, part: str, at: int) -> None:
    said.note_use_by((_whole(part, at), UseByReading.DAY), at, instead=True)  # the full date is the better one


def _serial(said: _Said, part: str, at: int) -> None:
    _lot(said, part[1:], at + 1, "serial")


def _quantity(said: _Said, part: str, at: int) -> None:
    if re.fullmatch(r"Q[0-9]{1,5}", part) is None:
        raise unreadable(f"{part[1:]!a} is no quantity", at + 1)
    said.note("count", int(part[1:]), at)


_Part = Callable[[_Said, str, int], None]
_PARTS: tuple[tuple[re.Pattern[str], _Part], ...] = (
    (re.compile(r"\$\$\+"), _dated_serial),
    (re.compile(r"\$\$"), _dated_lot),
    (re.compile(r"\$\+"), _plain_serial),
    (re.compile(r"\$"), _plain_lot),
    (re.compile(r"16D"), _made),
    (re.compile(r"14D"), _use_by),
    (re.compile(r"S"), _serial),
    (re.compile(r"Q"), _quantity),
    (re.compile(r"[0-9]{5}"), _old_lot),
)


def _digits(part: str, start: int, length: int, at: int) -> str:
    """So many digits of a part."""
    digits = part[start : start + length]
    if re.fullmatch(r"[0-9]*", digits) is None or len(digits) < length:
        raise unreadable(f"{length} digits belong here", at + start)
    return digits


def _flagged(part: str, start: int, at: int, today: date) -> tuple[_Day | None, int]:
    """The date that begins here, by its flag, and how many signs it takes: none, or flag and date."""
    flag = part[start : start + 1]
    if flag == "7":
        return None, 1
    if flag in ("0", "1"):
        digits = _digits(part, start, 4, at)
        return _month(digits[2:], digits[:2], today, at + start), 4
    if flag not in _FORMS:
        raise unreadable(f"{flag!a} says no form of a date" if flag else "the label ends here", at + start)
    length, read_day = _FORMS[flag]
    digits = _digits(part, start + 1, length, at)
    return read_day(digits, today, at + start + 1), 1 + length


def _month(year: str, month: str, today: date, at: int) -> _Day:
    if not 1 <= int(month) <= 12:
        raise unreadable(f"there is no month {month}", at)
    return last_day_of_month(full_year(int(year), today), int(month)), UseByReading.MONTH


def _day(year: str, month: str, day: str, today: date, at: int) -> _Day:
    return _made_date(full_year(int(year), today), month, day, at), UseByReading.DAY


def _made_date(year: int, month: str, day: str, at: int) -> date:
    try:
        return date(year, int(month), int(day))
    except ValueError:
        raise unreadable(f"there is no date {year}-{month}-{day}", at) from None


def _day_of_year(digits: str, today: date, at: int) -> _Day:
    year, number = full_year(int(digits[:2]), today), int(digits[2:])
    day = date(year, 1, 1) + timedelta(days=number - 1)
    if day.year != year:
        raise unreadable(f"the year {year} has no day {digits[2:]}", at)
    return day, UseByReading.DAY


def _hour(digits: str, at: int) -> None:
    if int(digits) > 24:
        raise unreadable(f"there is no hour {digits}", at)


def _with_hour(read_day: Callable[[str, date, int], _Day]) -> Callable[[str, date, int], _Day]:
    def read_both(digits: str, today: date, at: int) -> _Day:
        _hour(digits[-2:], at + len(digits) - 2)
        return read_day(digits[:-2], today, at)

    return read_both


def _month_first(digits: str, today: date, at: int) -> _Day:
    return _day(digits[4:], digits[:2], digits[2:4], today, at)


def _year_first(digits: str, today: date, at: int) -> _Day:
    return _day(digits[:2], digits[2:4], digits[4:], today, at)


_FORMS: dict[str, tuple[int, Callable[[str, date, int], _Day]]] = {
    "2": (6, _month_first),
    "3": (6, _year_first),
    "4": (8, _with_hour(_year_first)),
    "5": (5, _day_of_year),
    "6": (7, _with_hour(_day_of_year)),
}


def _whole(part: str, at: int) -> date:
    """A date of four, two and two digits behind its identifier, and nothing more."""
    digits = _digits(part, 3, 8, at)
    if len(part) > 11:
        raise unreadable(f"{part[11:]!a} is too much behind a date", at + 11)
    return _made_date(int(digits[:4]), digits[4:6], digits[6:], at + 3)

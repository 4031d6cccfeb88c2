"""Every value as the screens show it.

Three dangers are met here once. What people type may hold square brackets, which the toolkit would read as styling:
all text leaves this module as `Content`, or as plain strings that are only ever put into one. It may hold control
characters and terminal escapes (a scanner sends some; a pasted note may): they are shown as visible stand-ins. And
it may hold characters two cells wide or none: everything is measured in cells, never in characters, and what must be
cut ends in a visible ``…``.
"""

import unicodedata
from dataclasses import dataclass
from datetime import date

from rich.cells import cell_len, split_graphemes
from textual.content import Content

from inventory.domain import quantity
from inventory.domain.dates import DateOrder
from inventory.domain.vocabulary import BaseUnit, UseByReading
from tui.theme import Status

MUTED = "$muted"
ELLIPSIS = "…"
NOTHING = "-"  # a value that is not there, where a blank could be taken for forgotten

_JOINER = "\u200d"  # holds one emoji together; every other invisible formatting character is shown as a stand-in
_STAND_IN = "\N{REPLACEMENT CHARACTER}"


@dataclass(frozen=True)
class Formats:
    """How the person is used to reading numbers and dates; None as the order means ISO dates."""

    date_order: DateOrder | None = None
    decimal: str = "."


ISO = Formats()


def clean(text: str) -> str:
    """One line of anybody's text, harmless: control characters, escapes and direction marks become visible."""
    shown = "".join(map(_visible, text))
    return f"◌{shown}" if shown and unicodedata.combining(shown[0]) else shown


def _visible(character: str) -> str:
    code = ord(character)
    if code < 0x20:
        return chr(0x2400 + code)  # Unicode block Control Pictures: ␛ for escape, ␝ for the group separator
    match unicodedata.category(character):
        case "Cc":
            return "␡" if code == 0x7F else _STAND_IN
        case "Cs":
            return _STAND_IN
        case "Cf":
            return character if character == _JOINER else _STAND_IN
        case "Zl" | "Zp":
            return "␊"
        case _:
            return character


def clean_lines(text: str) -> str:
    """Anybody's text of several lines, harmless; its line ends stay."""
    return "\n".join(clean(line) for line in text.replace("\r\n", "\n").split("\n"))


def plain(text: str, style: str = "") -> Content:
    """Anybody's text as `Content`: never read as markup, line ends kept, everything else harmless."""
    return Content.styled(clean_lines(text), style) if style else Content(clean_lines(text))


def muted(text: str) -> Content:
    """Text that may stand back."""
    return plain(text, MUTED)


def width(text: str) -> int:
    """Cells the text takes on the screen."""
    return cell_len(text)


def clip(text: str, cells: int) -> str:
    """Text that takes no more than so many cells; what was cut off is marked by a final ``…``.

    A character of two cells is never halved and a combining one never parted from its letter.
    """
    if cell_len(text) <= cells:
        return text
    if cells < 1:
        return ""
    kept, used = 0, 0
    for _, end, size in split_graphemes(text)[0]:
        if used + size > cells - 1:
            break
        kept, used = end, used + size
    return text[:kept] + ELLIPSIS


def pad(text: str, cells: int, *, right: bool = False) -> str:
    """Text cut or filled with blanks to exactly so many cells, at the left edge or (for numbers) at the right."""
    shown = clip(text, cells)
    blanks = " " * (cells - cell_len(shown))
    return blanks + shown if right else shown + blanks


def status(state: Status, word: str = "") -> Content:
    """A state as symbol and word in its colour, e.g. ``! act now``; the word may be the line's own, e.g. "expired"."""
    return Content.styled(f"{state.symbol} {clean(word or state.word)}", state.style)


def noted(state: Status, sentence: str) -> Content:
    """A sentence behind the symbol of its state; only the symbol is coloured."""
    return Content.assemble((f"{state.symbol} ", state.style), clean(sentence))


def amount(qty: int, base: BaseUnit, formats: Formats = ISO) -> str:
    """A quantity with its unit: ``12.35 mL``, ``4 pcs``."""
    return quantity.show(qty, base).replace(".", formats.decimal)


def units(sealed: int, opened_qty: int, unit_qty: int, base: BaseUnit, formats: Formats = ISO) -> str:
    """Stock as it stands on the shelf: ``3 + 0.4 opened``."""
    return quantity.show_units(sealed, opened_qty, unit_qty, base).replace(".", formats.decimal)


def stock(sealed: int, opened_qty: int, unit_qty: int, base: BaseUnit, formats: Formats = ISO) -> Content:
    """Units first, the same in mL or g beside them, standing back; pieces as a bare count."""
    shown = Content(units(sealed, opened_qty, unit_qty, base, formats))
    if base is BaseUnit.PIECE:
        return shown
    total = amount(sealed * unit_qty + opened_qty, base, formats)
    return shown + Content.styled(f"  {total}", MUTED)


def money(cents: int, formats: Formats = ISO) -> str:
    """Cents as ``12.50``; the currency stands in the column's head."""
    return quantity.show_money(cents).replace(".", formats.decimal)


def count(number: int, one: str, many: str = "") -> str:
    """A number with its noun: ``1 lot``, ``3 lots``, ``2 boxes``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def day(on: date | None, formats: Formats = ISO) -> str:
    """A date: ``2027-03-12``, or in the person's own order ``12/03/2027``."""
    match on, formats.date_order:
        case None, _:
            return NOTHING
        case date(), None:
            return on.isoformat()
        case date(), DateOrder.DAY_FIRST:
            return f"{on.day:02d}/{on.month:02d}/{on.year}"
        case _:
            return f"{on.month:02d}/{on.day:02d}/{on.year}"


def month(on: date, formats: Formats = ISO) -> str:
    """A month: ``2027-03``, or ``03/2027`` where dates are not ISO."""
    return f"{on.year}-{on.month:02d}" if formats.date_order is None else f"{on.month:02d}/{on.year}"


def near_day(on: date, today: date, formats: Formats = ISO) -> str:
    """A date one acts on: ``today``, ``tomorrow``, ``Fri 2027-03-12`` within a week either way, else the bare date."""
    away = (on - today).days
    named = {-1: "yesterday", 0: "today", 1: "tomorrow"}.get(away)
    if named:
        return named
    return f"{weekday(on)} {day(on, formats)}" if abs(away) < 7 else day(on, formats)


def weekday(on: date) -> str:
    """``Mon`` to ``Sun``, whatever the computer's locale."""
    return ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")[on.weekday()]


def away(on: date, today: date) -> str:
    """How far off a day is, in words: ``today``, ``in 3 days``, ``in 5 weeks``, ``2 months ago``."""
    days = (on - today).days
    if days == 0:
        return "today"
    size = abs(days)
    if size < 14:
        span = count(size, "day")
    elif size < 70:
        span = count(size // 7, "week")
    else:
        span = count(size * 12 // 365, "month")
    return f"in {span}" if days > 0 else f"{span} ago"


def use_by(on: date | None, reading: UseByReading, formats: Formats = ISO) -> str:
    """A lot's use-by date as its label gives it: a day, the end of a month (marked), none stated, or not read yet."""
    match reading:
        case UseByReading.NONE_STATED:
            return "none stated"
        case UseByReading.NOT_READ:
            return "not read yet"
        case UseByReading.MONTH:
            return NOTHING if on is None else f"{month(on, formats)} end"
        case _:
            return day(on, formats)

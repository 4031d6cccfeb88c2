"""Lots on a line of time: a bar from today to the last day of use, full until use has taken all of the lot."""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from inventory.domain.quantity import show, show_money
from inventory.domain.words import STANDING
from inventory.service.shelf_timeline import LotEnd
from tui.pictures.canvas import FULL, PART, WIDTH, Days, cells, fit

if TYPE_CHECKING:
    from inventory.service.shelf_timeline import LotBar, Timeline

AMOUNT, TAIL = 10, 11
SOON = (30, 60, 90)  # days
LEAST_DAYS, MOST_DAYS = 90, 730
LAST_DAY, LEFT_OVER, FURTHER = "│", "!", "»"
WORDS = {LotEnd.EXPIRED: "past its last day", LotEnd.HELD: "on hold or recalled"}


def draw(found: "Timeline", width: int = WIDTH) -> list[str]:
    """The picture: a line for each lot below an axis of months."""
    names = [_name(lot, of_one=bool(found.item)) for lot in found.lots]
    label = min(24, max(map(cells, names), default=0)) + 1
    days = Days(found.today, _days(found), width - label - AMOUNT - TAIL - 2)
    ticks, months = days.axis()
    before = " " * (label + AMOUNT + 1)
    lines = [f"{before}{months}", f"{before}{ticks}"]
    for name, lot in zip(names, found.lots, strict=True):
        amount = fit(show(lot.qty, lot.base), AMOUNT, right=True)
        tail = lot.last_day.isoformat() if lot.last_day else "no date"
        lines.append(f"{fit(name, label)}{amount} {fit(_bar(lot, found.today, days), days.columns)} {tail}")
    if not found.lots:
        return ["No lot stands on the shelf."]
    return [line.rstrip() for line in lines]


def legend(_: "Timeline") -> list[str]:
    """What the signs mean."""
    return [
        f"{FULL} until use has taken all of it   {PART} life to spare   {LAST_DAY} last day of use",
        f"{LEFT_OVER} something will be left then   {FURTHER} goes on further",
    ]


def _name(lot: "LotBar", *, of_one: bool) -> str:
    if lot.lot == STANDING:
        return lot.item
    return lot.lot if of_one else f"{lot.item} {lot.lot}"


def _days(found: "Timeline") -> int:
    """So far the picture goes: to the last day of use of every lot, within bounds."""
    ends = [day for lot in found.lots for day in (lot.last_day, lot.used_up) if day is not None]
    furthest = max(((day - found.today).days for day in ends), default=0)
    return min(MOST_DAYS, max(LEAST_DAYS, furthest + 7))


def _bar(lot: "LotBar", today: date, days: Days) -> str:
    if words := WORDS.get(lot.end):
        return f"{LEFT_OVER} {words}"
    last = lot.last_day or today + timedelta(days=days.days)
    ends = min(days.column(last), days.columns - 1)
    used = days.column(lot.used_up) + 1 if lot.used_up is not None else days.columns
    bar = "".join(FULL if column < used else PART for column in range(ends))
    if lot.last_day is None:
        return bar.rstrip(PART) + (FURTHER if lot.used_up is None or not days.shows(lot.used_up) else "")
    if not days.shows(last):
        return f"{bar}{FURTHER}"
    return f"{bar}{LEFT_OVER if lot.lost else LAST_DAY}"


def tell(found: "Timeline") -> Iterator[str]:
    """The same in sentences: sums of what ends soon and of what lies too long, then a lot each."""
    if not found.lots:
        yield "No lot stands on the shelf."
        return
    for days in SOON:
        yield _sum(f"Last day within {days} days", found.within(days))
    yield _sum("Not used up before its last day", found.ending(LotEnd.EXPIRES))
    yield _sum("Lasts beyond what is foreseen", found.ending(LotEnd.LASTS))
    for lot in found.lots:
        number = lot.lot if lot.lot == STANDING else f"lot {lot.lot}"
        yield f"{lot.name}, {number}, {show(lot.qty, lot.base)}: {_fate(lot)}."


def _sum(what: str, lots: "Sequence[LotBar]") -> str:
    """How many lots, what they are worth, and what will be lost of that."""
    number = f"{len(lots)} lot{'' if len(lots) == 1 else 's'}"
    worth, lost = (show_money(sum(cents)) for cents in ((lot.cents for lot in lots), (lot.lost_cents for lot in lots)))
    return f"{what}: {number}, worth {worth}; expected to be left of it: {lost}."


def _worth(lot: "LotBar") -> str:
    return f", worth {show_money(lot.lost_cents)}" if lot.lost_cents else ""


def _fate(lot: "LotBar") -> str:
    last = f"last day {lot.last_day.isoformat()}" if lot.last_day else "no last day"
    if lot.end is LotEnd.USED_UP and lot.used_up is not None:
        spare = f", {(lot.last_day - lot.used_up).days} days to spare" if lot.last_day else ""
        return f"used up about {lot.used_up.isoformat()}; {last}{spare}"
    if lot.end is LotEnd.EXPIRES:
        return f"{last}; {show(lot.lost, lot.base)} of it will be left then{_worth(lot)}"
    return f"{lot.end}; {last}"

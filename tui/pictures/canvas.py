"""What all pictures are drawn with: text cut to cells, columns that stand for days, and an axis of months."""

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain.quantity import show
from inventory.domain.vocabulary import BaseUnit

WIDTH = 78
FULL, PART, LINE, MARK = "█", "░", "━", "▵"
EIGHTHS = " ▁▂▃▄▅▆▇"
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def cells(text: str) -> int:
    """Cells that text takes: wide characters two, combining ones none."""
    return sum(_cells(sign) for sign in text)


def _cells(sign: str) -> int:
    if unicodedata.combining(sign) or unicodedata.category(sign) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(sign) in "WF" else 1


def fit(text: str, room: int, *, right: bool = False) -> str:
    """Text cut or filled with blanks to exactly so many cells; what was cut ends in ``…``."""
    if cells(text) > room:
        kept = ""
        for sign in text:
            if cells(kept + sign) >= room:
                break
            kept += sign
        text = kept + "…"
    blanks = " " * (room - cells(text))
    return blanks + text if right else text + blanks


@dataclass(frozen=True, slots=True)
class Days:
    """Columns that stand for the days from one on."""

    first: date
    days: int
    columns: int

    def column(self, day: date) -> int:
        """The column of a day; outside 0 to ``columns - 1`` for days that are not in the picture."""
        return (day - self.first).days * self.columns // self.days

    def day(self, column: int) -> date:
        """The day at which a column begins."""
        return self.first + timedelta(days=-(-column * self.days // self.columns))

    def shows(self, day: date) -> bool:
        return 0 <= self.column(day) < self.columns

    def axis(self) -> tuple[str, str]:
        """A line with a tick at the first of months, and a line with their names; a year stands at its January."""
        ticks, names = ["─"] * self.columns, [" "] * self.columns
        for month in sorted(
            self._months(), key=lambda month: month.month != 1
        ):  # years first: months fill what is left
            at = self.column(month)
            name = f"{month.year}" if month.month == 1 else MONTHS[month.month - 1]
            ticks[at] = "┬"
            room = names[max(0, at - 1) : at + len(name) + 1]
            if at + len(name) <= self.columns and not "".join(room).strip():
                names[at : at + len(name)] = name
        return "".join(ticks), "".join(names)

    def _months(self) -> Iterator[date]:
        """The first days of the months that begin within the picture."""
        month = date(self.first.year, self.first.month, 1)
        while (month := _next_month(month)) < self.first + timedelta(days=self.days):
            yield month


def _next_month(day: date) -> date:
    return (day.replace(day=28) + timedelta(days=4)).replace(day=1)


def units(qty: int, unit_qty: int, base: BaseUnit) -> str:
    """An amount in whole units with a tenth, as an axis has it: ``3.4``; pieces as they are."""
    if base is BaseUnit.PIECE:
        return str(qty)
    tenths = (qty * 10 + unit_qty // 2) // unit_qty
    return f"{tenths // 10}.{tenths % 10}"


def amount(qty: int, unit_qty: int, base: BaseUnit) -> str:
    """An amount as sentences say it: ``3.4 units (170 mL)``; pieces as they are."""
    return show(qty, base) if base is BaseUnit.PIECE else f"{units(qty, unit_qty, base)} units ({show(qty, base)})"


def heading(base: BaseUnit, unit_qty: int) -> str:
    """What the figures at the left of a picture count."""
    return "pieces" if base is BaseUnit.PIECE else f"units of {show(unit_qty, base)}"

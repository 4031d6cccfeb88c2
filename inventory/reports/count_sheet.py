"""The sheet of a round of counting, to be filled in with a pencil: as plain text, as CSV.

A blind sheet has no column for what the book expects, and its lines hold no such amount, so no format can print it.
"""

import csv
import io
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from inventory.domain.cells import harmless

BLANK = "......"  # where the pencil writes
EXPECTED = "Book"
CAUTION = "No patient names on this sheet."


@dataclass(frozen=True, slots=True)
class CountLine:
    """One shelf: its key in the round, where and what it is, how it is read, and the reading where there is one.

    ``expected`` is what the book expects, in words; None on a blind sheet.
    """

    key: str
    place: str
    item: str
    lot: str
    use_by: str
    what: str
    reading: str
    expected: str | None = None


@dataclass(frozen=True, slots=True)
class CountSheet:
    """A round: what is counted, who began it and when, and whether the book's amounts are kept back."""

    number: int
    scope: str
    by: str
    started: datetime
    blind: bool
    lines: tuple[CountLine, ...]

    @property
    def title(self) -> str:
        return f"Count sheet, round {self.number}{' (blind)' if self.blind else ''}"

    @property
    def head(self) -> tuple[str, ...]:
        """What stands above the lines."""
        return (f"Counted: {self.scope}", f"Begun: {self.started:%Y-%m-%d %H:%M} by {self.by}")

    @property
    def notes(self) -> tuple[str, ...]:
        """How the sheet is filled in."""
        return (
            "Sealed: whole units. Opened: tenths by eye (4t), or grams with the package (62.5 g).",
            "Write the time beside each place. Add what stands there and is not listed, with its lot and use-by date.",
            CAUTION,
        )

    @property
    def columns(self) -> tuple[str, ...]:
        """The heads of the columns."""
        names = ("Line", "Item", "Lot", "Use by", "What")
        return (*names, "Counted") if self.blind else (*names, EXPECTED, "Counted")

    def cells(self, line: CountLine) -> tuple[str, ...]:
        """The cells of a line, as many as there are columns."""
        cells = (line.key, line.item, line.lot, line.use_by, line.what)
        return (*cells, line.reading) if self.blind else (*cells, line.expected or "", line.reading)

    @property
    def places(self) -> tuple[tuple[str, tuple[CountLine, ...]], ...]:
        """The lines by place, in the order in which they are walked."""
        return tuple((place, tuple(lines)) for place, lines in groupby(self.lines, key=lambda line: line.place))


def as_text(sheet: CountSheet) -> str:
    """The sheet as plain text, place after place, in columns that stand one under the other in any fixed type."""
    rows = [sheet.columns, *(sheet.cells(line) for line in sheet.lines)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(sheet.columns))]

    def told(cells: tuple[str, ...]) -> str:
        *front, last = cells
        return "  ".join([*(cell.ljust(width) for cell, width in zip(front, widths, strict=False)), last]).rstrip()

    lines = [sheet.title, *sheet.head, "", *sheet.notes]
    for place, of_place in sheet.places:
        lines += ["", f"{place}, at ..:..", told(sheet.columns)]
        lines += [told((*sheet.cells(line)[:-1], line.reading or BLANK)) for line in of_place]
    return "\n".join([*lines, ""])


def as_csv(sheet: CountSheet) -> str:
    """The sheet's lines as CSV, a head of names first; cells that look like formulas are made harmless."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["round", "place", *(name.lower().replace(" ", "_") for name in sheet.columns)])
    for line in sheet.lines:
        writer.writerow([sheet.number, harmless(line.place), *(harmless(cell) for cell in sheet.cells(line))])
    return out.getvalue()

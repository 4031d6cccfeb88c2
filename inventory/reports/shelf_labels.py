"""A sheet of shelf labels as PDF: the name, lot, place, use-by date and minimum to be read, a 2-D code to be scanned.

Sheets of sticky labels come in two common sizes of paper, with a grid of labels each. A sheet that was begun before is
used up by leaving the first labels out.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fpdf import FPDF

QUIET = 4  # modules of white around a QR code (ISO/IEC 18004)
MARGIN = 2.5  # mm between the edge of a label and what is printed on it
FONT = "Helvetica"


@dataclass(frozen=True, slots=True)
class ShelfLabel:
    """One label: ``code`` is scanned, ``name`` and ``lines`` are read."""

    code: str
    name: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A grid of labels on paper; in millimetres, ``across`` and ``down`` from label to label."""

    paper: tuple[float, float]
    columns: int
    rows: int
    left: float
    top: float
    width: float
    height: float
    across: float
    down: float

    @property
    def size(self) -> int:
        return self.columns * self.rows


SHEETS = {
    "a4": Sheet((210, 297), 3, 8, 0, 0.5, 70, 37, 70, 37),
    "letter": Sheet((215.9, 279.4), 3, 10, 4.8, 12.7, 66.7, 25.4, 69.8, 25.4),
}
"""Common grids (common practice, no source): 24 labels of 70 x 37 mm, 30 labels of 66.7 x 25.4 mm."""


def sheets(labels: Sequence[ShelfLabel], sheet: Sheet, *, skip: int = 0, made: datetime | None = None) -> bytes:
    """The labels as PDF.

    Args:
        labels: in the order in which they are printed, row by row.
        sheet: the grid.
        skip: so many labels of the first sheet are used up.
        made: when it is made, for the file's own record.
    """
    from fpdf import FPDF  # noqa: PLC0415 - takes a while to load, and only printing needs it

    paper = FPDF(unit="mm", format=sheet.paper)
    paper.set_auto_page_break(auto=False)
    paper.set_title("Shelf labels")
    paper.set_creation_date(made)
    waiting: Iterator[ShelfLabel | None] = iter([*[None] * (skip % sheet.size), *labels])
    while page := list(islice(waiting, sheet.size)):
        paper.add_page()
        for place, label in enumerate(page):
            if label is not None:
                row, column = divmod(place, sheet.columns)
                _draw(paper, label, sheet, sheet.left + column * sheet.across, sheet.top + row * sheet.down)
    return bytes(paper.output())


def _draw(paper: "FPDF", label: ShelfLabel, sheet: Sheet, x: float, y: float) -> None:
    side = min(sheet.height - 2 * MARGIN, 0.36 * sheet.width)
    _draw_code(paper, label.code, x + MARGIN, y + (sheet.height - side) / 2, side)
    left, width = x + 2 * MARGIN + side, sheet.width - side - 3 * MARGIN
    step = 4.4 if sheet.height > 30 else 3.9
    top = y + MARGIN
    paper.set_font(FONT, "B", 10 if sheet.height > 30 else 9)
    for text in _wrapped(paper, label.name, width, 2):
        paper.text(left, top + step - 1, text)
        top += step
    paper.set_font(FONT, "", 9 if sheet.height > 30 else 8)
    for line in label.lines[: int((y + sheet.height - MARGIN - top) / step)]:
        paper.text(left, top + step - 0.8, _wrapped(paper, line, width, 1)[0])
        top += step


def _draw_code(paper: "FPDF", code: str, x: float, y: float, side: float) -> None:
    """A QR code as filled bars, so that it stays sharp at any size."""
    import segno  # noqa: PLC0415 - only printing needs it

    rows = [bytes(row) for row in segno.make_qr(code, error="m").matrix]
    module = side / (len(rows) + 2 * QUIET)
    paper.set_fill_color(0, 0, 0)
    for line, row in enumerate(rows):
        for start, length in _bars(row):
            left, top = x + (QUIET + start) * module, y + (QUIET + line) * module
            paper.rect(left, top, length * module, module, style="F")


def _bars(row: bytes) -> Iterator[tuple[int, int]]:
    """Where dark modules stand side by side: first one and number."""
    start = None
    for place, dark in enumerate([*row, 0]):
        if dark and start is None:
            start = place
        elif not dark and start is not None:
            yield start, place - start
            start = None


def _wrapped(paper: "FPDF", text: str, width: float, most: int) -> list[str]:
    """A text in lines that fit, at most so many; what does not fit is cut off with two dots."""
    lines = [""]
    for word in printable(text).split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and paper.get_string_width(longer) > width and len(lines) < most:
            lines.append(word)
        else:
            lines[-1] = longer
    return [_cut(paper, line, width) for line in lines]


def _cut(paper: "FPDF", text: str, width: float) -> str:
    if paper.get_string_width(text) <= width:
        return text
    while text and paper.get_string_width(f"{text}..") > width:
        text = text[:-1]
    return f"{text.rstrip()}.."


def printable(text: str) -> str:
    """A text in the letters that every printer's own fonts have; others become question marks."""
    return text.encode("latin-1", "replace").decode("latin-1")

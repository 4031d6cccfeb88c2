"""The record of a case for the patient's file and the laboratory slip: plain text, whole, and on one page of PDF.

A case is known by its reference; no name stands here. One page is asked for, so a long case is set smaller first; then
the oldest visits and lines of materials are left out. What was left out is said on the page; the text has all of it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from inventory.reports.shelf_labels import printable

if TYPE_CHECKING:
    from fpdf import FPDF

FONT = "Helvetica"
MARGIN = 16.0  # mm
SIZES = (10.0, 9.0, 8.0, 7.0)  # points, tried in this order
HEAD = ("Step", "Material", "Amount", "Lot", "Use by", "Lot read", "Mind")
WIDTHS = (38, 46, 19, 25, 23, 19, 26)  # parts of the width, column by column
LONGEST = 400  # signs of one fact on the page


@dataclass(frozen=True, slots=True)
class MaterialLine:
    """What one step took from one lot, in words; ``mind`` says what was wrong with the lot, where something was."""

    step: str
    item: str
    amount: str
    lot: str
    use_by: str
    read: str
    mind: str


@dataclass(frozen=True, slots=True)
class VisitPart:
    """One visit of the case: its head, its materials, and facts as (name, words)."""

    visit_id: int
    on: date
    title: str
    about: str
    lines: tuple[MaterialLine, ...]
    facts: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class CaseSheet:
    """A case as its record says it, newest visit first; ``left_out`` is empty where all of it stands."""

    case_ref: str
    made: datetime
    visits: tuple[VisitPart, ...]
    cautions: tuple[str, ...]
    left_out: str = ""

    @property
    def title(self) -> str:
        return f"Record of case {self.case_ref}"


# as text


def as_text(sheet: CaseSheet) -> str:
    """All of it as plain text, one fact a line."""
    lines = [sheet.title, f"Made {sheet.made:%Y-%m-%d %H:%M}"]
    for visit in sheet.visits:
        lines += ["", visit.title, f"  {visit.about}"]
        lines += [f"  {_told(line)}" for line in visit.lines]
        lines += [f"  {name}: {words}" for name, words in visit.facts]
    return "\n".join([*lines, "", *sheet.cautions, ""])


def _told(line: MaterialLine) -> str:
    lot = f"lot {line.lot}" if line.lot else ""
    use_by = f"use by {line.use_by}" if line.use_by else ""
    return ", ".join(filter(None, (line.step, f"{line.item} {line.amount}", lot, use_by, line.read, line.mind)))


# on one page


def as_pdf(sheet: CaseSheet, *, paper: str = "A4") -> bytes:
    """The record on one page.

    Args:
        sheet: the case.
        paper: ``A4`` or ``letter``.
    """
    for size in SIZES:
        page = _page(sheet, size, paper)
        if page.page_no() == 1:
            return bytes(page.output())
    return bytes(_shortest(sheet, paper).output())


def _shortest(sheet: CaseSheet, paper: str) -> "FPDF":
    """The page with as much as fits in the smallest size: what matters least is left out first."""
    least, most = 0, sum(len(visit.lines) for visit in sheet.visits) + len(sheet.visits)
    kept = _page(_cut(sheet, 0), SIZES[-1], paper)
    while least < most:  # the most that fits lies in least .. most
        middle = (least + most + 1) // 2
        page = _page(_cut(sheet, middle), SIZES[-1], paper)
        if page.page_no() == 1:
            least, kept = middle, page
        else:
            most = middle - 1
    return kept


def _cut(sheet: CaseSheet, room: int) -> CaseSheet:
    """The sheet with so many lines, newest visits first; each visit counts as one, and one always stays."""
    visits = []
    for visit in sheet.visits[: max(1, room)]:
        room -= 1
        visits.append(replace(visit, lines=visit.lines[: max(0, room)]))
        room -= len(visits[-1].lines)
        if room <= 0:
            break
    earlier = len(sheet.visits) - len(visits)
    lines = sum(len(visit.lines) for visit in sheet.visits) - sum(len(visit.lines) for visit in visits)
    gone = [
        _number(earlier, "earlier visit", "earlier visits"),
        _number(lines, "line of materials", "lines of materials"),
    ]
    said = " and ".join(filter(None, gone))
    return replace(
        sheet, visits=tuple(visits), left_out=f"Left out to keep one page: {said}. The record as text has all of it."
    )


def _number(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}" if count else ""


def _page(sheet: CaseSheet, size: float, paper: str) -> "FPDF":
    from fpdf import FPDF  # noqa: PLC0415 - takes a while to load, and only printing needs it

    pdf = FPDF(unit="mm", format=paper)
    pdf.set_margin(MARGIN)
    pdf.set_auto_page_break(auto=True, margin=MARGIN)
    pdf.set_title(printable(sheet.title))
    pdf.set_creation_date(sheet.made)
    pdf.add_page()
    row = size * 0.5  # mm, a little more than the type is high
    pdf.set_font(FONT, "B", size + 5)
    pdf.cell(0, row * 1.8, printable(sheet.title), new_x="LMARGIN", new_y="NEXT")
    _say(pdf, f"Made {sheet.made:%Y-%m-%d %H:%M}. For the patient's file and the laboratory.", size, row)
    for visit in sheet.visits:
        _visit(pdf, visit, size, row)
    pdf.ln(row)
    for text in filter(None, (sheet.left_out, *sheet.cautions)):
        _say(pdf, text, size - 1, row * 0.9)
    return pdf


def _visit(pdf: "FPDF", visit: VisitPart, size: float, row: float) -> None:
    pdf.ln(row)
    pdf.set_font(FONT, "B", size + 1)
    pdf.multi_cell(0, row * 1.2, printable(visit.title), new_x="LMARGIN", new_y="NEXT", align="L")
    _say(pdf, visit.about, size, row)
    if visit.lines:
        pdf.ln(row * 0.3)
        pdf.set_font(FONT, "", size)
        columns = len(HEAD) if any(line.mind for line in visit.lines) else len(HEAD) - 1
        with pdf.table(
            col_widths=WIDTHS[:columns], text_align="L", line_height=row * 1.1, gutter_width=2,
            borders_layout="HORIZONTAL_LINES",
        ) as table:  # fmt: skip
            table.row(HEAD[:columns])
            for line in visit.lines:
                table.row([printable(cell) for cell in _cells(line)][:columns])
        pdf.ln(row * 0.3)
    for name, words in visit.facts:
        _fact(pdf, name, words, size, row)


def _cells(line: MaterialLine) -> Iterator[str]:
    yield from (line.step, line.item, line.amount, line.lot, line.use_by, line.read, line.mind)


def _fact(pdf: "FPDF", name: str, words: str, size: float, row: float) -> None:
    pdf.set_font(FONT, "B", size)
    pdf.cell(size * 3.6, row * 1.1, printable(name))
    pdf.set_font(FONT, "", size)
    short = words if len(words) <= LONGEST else f"{words[: LONGEST - 4]} ..."
    pdf.multi_cell(0, row * 1.1, printable(short), new_x="LMARGIN", new_y="NEXT", align="L")


def _say(pdf: "FPDF", text: str, size: float, row: float) -> None:
    pdf.set_font(FONT, "", size)
    pdf.multi_cell(0, row, printable(text), new_x="LMARGIN", new_y="NEXT", align="L")

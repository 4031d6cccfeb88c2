"""The sheet of a round of counting as PDF, place after place, with room to write in."""

from datetime import datetime
from typing import TYPE_CHECKING

from inventory.reports.count_sheet import CountLine, CountSheet
from inventory.reports.paper import first_page
from inventory.reports.shelf_labels import printable

if TYPE_CHECKING:
    from fpdf import FPDF

FONT = "Helvetica"
MARGIN = 15.0  # mm
WIDTHS = {"Line": 12, "Item": 58, "Lot": 28, "Use by": 24, "What": 34, "Book": 22, "Counted": 24}  # parts of the width


def as_pdf(sheet: CountSheet, *, made: datetime | None = None, paper: str = "A4") -> bytes:
    """The sheet.

    Args:
        sheet: the round.
        made: when it is made, for the file's own record.
        paper: ``A4`` or ``letter``.
    """
    pdf = first_page(sheet.title, MARGIN, made=made, paper=paper)
    _head(pdf, sheet)
    for place, lines in sheet.places:
        _place(pdf, sheet, place, lines)
    _signed(pdf)
    return bytes(pdf.output())


def _head(pdf: "FPDF", sheet: CountSheet) -> None:
    pdf.set_font(FONT, "B", 16)
    pdf.cell(0, 9, printable(sheet.title), new_x="LMARGIN", new_y="NEXT")
    pdf.set_font(FONT, "", 11)
    for text in sheet.head:
        pdf.multi_cell(0, 6, printable(text), new_x="LMARGIN", new_y="NEXT")
    pdf.ln(2)
    pdf.set_font(FONT, "", 9)
    for text in sheet.notes:
        pdf.multi_cell(0, 4.5, printable(text), new_x="LMARGIN", new_y="NEXT")


def _place(pdf: "FPDF", sheet: CountSheet, place: str, lines: tuple[CountLine, ...]) -> None:
    if pdf.will_page_break(30):  # a place's name and its first lines stay together
        pdf.add_page()
    pdf.ln(4)
    pdf.set_font(FONT, "B", 12)
    pdf.cell(0, 8, printable(f"{place}, at __:__"), new_x="LMARGIN", new_y="NEXT")
    pdf.set_font(FONT, "", 9)
    with pdf.table(
        col_widths=tuple(WIDTHS[name] for name in sheet.columns), text_align="L", line_height=6.5, gutter_width=2,
        borders_layout="HORIZONTAL_LINES",
    ) as table:  # fmt: skip
        table.row(sheet.columns)
        for line in lines:
            table.row([printable(cell) for cell in sheet.cells(line)])


def _signed(pdf: "FPDF") -> None:
    pdf.ln(8)
    pdf.set_font(FONT, "", 10)
    pdf.cell(0, 6, "Counted by (initials): ________    Entered by: ________")

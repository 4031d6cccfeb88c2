"""The order sheet as PDF, to print or to attach: the same lines and sums as its text, on as many pages as it takes."""

from datetime import datetime
from typing import TYPE_CHECKING

from inventory.domain.quantity import show_money
from inventory.reports.order_sheet import Sheet
from inventory.reports.paper import first_page
from inventory.reports.shelf_labels import printable

if TYPE_CHECKING:
    from fpdf import FPDF

FONT = "Helvetica"
MARGIN = 18.0  # mm
HEAD = ("No.", "Article", "Packs", "A pack holds", "Pack price", "Price")
WIDTHS = (26, 62, 14, 32, 22, 18)  # parts of the width, column by column
RIGHT = "R"
SIDES = ("L", "L", RIGHT, "L", RIGHT, RIGHT)


def as_pdf(sheet: Sheet, *, made: datetime | None = None, paper: str = "A4") -> bytes:
    """The order sheet.

    Args:
        sheet: the order.
        made: when it is made, for the file's own record.
        paper: ``A4`` or ``letter``.
    """
    pdf = first_page(sheet.title, MARGIN, made=made, paper=paper)
    _head(pdf, sheet)
    _lines(pdf, sheet)
    _sums(pdf, sheet)
    return bytes(pdf.output())


def _head(pdf: "FPDF", sheet: Sheet) -> None:
    pdf.set_font(FONT, "B", 16)
    pdf.cell(0, 9, printable(sheet.title), new_x="LMARGIN", new_y="NEXT")
    pdf.set_font(FONT, "", 11)
    for text in (f"To: {sheet.supplier}", f"Date: {sheet.on.isoformat()}", f"Ordered by: {sheet.by}"):
        pdf.cell(0, 6, printable(text), new_x="LMARGIN", new_y="NEXT")
    pdf.ln(5)


def _lines(pdf: "FPDF", sheet: Sheet) -> None:
    pdf.set_font(FONT, "", 10)
    with pdf.table(
        col_widths=WIDTHS, text_align=SIDES, line_height=6, gutter_width=3, borders_layout="HORIZONTAL_LINES"
    ) as table:
        table.row(HEAD)
        for line in sheet.lines:
            cells = (
                line.catalogue_no, line.name, str(line.packs), line.pack, show_money(line.pack_cents),
                show_money(line.cents),
            )  # fmt: skip
            table.row([printable(cell) for cell in cells])


def _sums(pdf: "FPDF", sheet: Sheet) -> None:
    pdf.ln(4)
    wide = pdf.epw - 24
    for place, (name, money) in enumerate(sheet.sums):
        pdf.set_font(FONT, "B" if place == len(sheet.sums) - 1 else "", 10)
        pdf.cell(wide, 6, printable(name), align=RIGHT)
        pdf.cell(24, 6, money, align=RIGHT, new_x="LMARGIN", new_y="NEXT")
    pdf.ln(6)
    pdf.set_font(FONT, "", 10)
    pdf.cell(0, 6, "Please confirm the day of delivery.")

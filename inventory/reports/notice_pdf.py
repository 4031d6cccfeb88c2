"""A recall notice for the file as PDF: its lots, what became of them place by place, cases, proofs, a line to sign."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from inventory.reports.notice_sheet import CAUTIONS, Sheet
from inventory.reports.shelf_labels import printable

if TYPE_CHECKING:
    from fpdf import FPDF

FONT = "Helvetica"
MARGIN = 16.0  # mm
SMALL = 8.5
LEFT, RIGHT = "L", "R"


def as_pdf(sheet: Sheet, *, paper: str = "A4") -> bytes:
    """The notice, on as many pages as it takes; every page bears its reference and number.

    Args:
        sheet: the notice.
        paper: ``A4`` or ``letter``.
    """
    pdf = _paper(sheet, paper)
    pdf.add_page()
    _head(pdf, sheet)
    _list(pdf, "The notice names", sheet.lines)
    _lots(pdf, sheet)
    _places(pdf, sheet)
    _cases(pdf, sheet)
    _proofs(pdf, sheet)
    _list(pdf, "To be looked at", sheet.notes)
    _list(pdf, "Left to do", sheet.left or ("Nothing: everything is settled.",))
    _list(pdf, "Please note", CAUTIONS)
    _signature(pdf)
    return bytes(pdf.output())


def _paper(sheet: Sheet, paper: str) -> "FPDF":
    from fpdf import FPDF  # noqa: PLC0415 - takes a while to load, and only printing needs it

    class Pages(FPDF):
        def footer(self) -> None:
            self.set_y(-12)
            self.set_font(FONT, "", SMALL)
            made = f"{sheet.made:%Y-%m-%d %H:%M}"
            self.cell(0, 5, printable(f"{sheet.title}, as it stood on {made}"))
            self.set_x(self.l_margin)
            self.cell(0, 5, f"page {self.page_no()} of {{nb}}", align=RIGHT)

    pdf = Pages(unit="mm", format=paper)
    pdf.set_margin(MARGIN)
    pdf.set_auto_page_break(auto=True, margin=MARGIN)
    pdf.set_title(printable(sheet.title))
    pdf.set_creation_date(sheet.made)
    return pdf


def _head(pdf: "FPDF", sheet: Sheet) -> None:
    pdf.set_font(FONT, "B", 15)
    pdf.multi_cell(0, 8, printable(sheet.title), new_x="LMARGIN", new_y="NEXT")
    for name, value in sheet.facts:
        pdf.set_font(FONT, "B", 10)
        pdf.cell(32, 5.5, printable(name))
        pdf.set_font(FONT, "", 10)
        pdf.multi_cell(0, 5.5, printable(value), new_x="LMARGIN", new_y="NEXT")
    if sheet.text:
        pdf.ln(1)
        pdf.multi_cell(0, 5, printable(sheet.text), align=LEFT, new_x="LMARGIN", new_y="NEXT")


def _heading(pdf: "FPDF", text: str) -> None:
    if pdf.will_page_break(24):  # a heading stands with what it heads
        pdf.add_page()
    pdf.ln(4)
    pdf.set_font(FONT, "B", 11)
    pdf.cell(0, 6, text, new_x="LMARGIN", new_y="NEXT")
    pdf.set_font(FONT, "", SMALL)


def _list(pdf: "FPDF", heading: str, lines: Sequence[str]) -> None:
    if not lines:
        return
    _heading(pdf, heading)
    for line in lines:
        pdf.cell(4, 4.6, "-")
        pdf.multi_cell(0, 4.6, printable(line), align=LEFT, new_x="LMARGIN", new_y="NEXT")


def _table(
    pdf: "FPDF", head: Sequence[str], widths: tuple[int, ...], rows: Iterable[Sequence[str]], right: int = 0
) -> None:
    """A table; the last ``right`` columns are amounts."""
    pdf.set_line_width(0.1)
    sides = (LEFT,) * (len(head) - right) + (RIGHT,) * right
    with pdf.table(
        col_widths=widths, text_align=sides, line_height=4.6, gutter_width=1.5, borders_layout="HORIZONTAL_LINES"
    ) as table:
        table.row(head)
        for row in rows:
            table.row([printable(cell) for cell in row])


def _lots(pdf: "FPDF", sheet: Sheet) -> None:
    _heading(pdf, f"Lots of the practice ({len(sheet.lots)})")
    if not sheet.lots:
        pdf.cell(0, 5, "None.", new_x="LMARGIN", new_y="NEXT")
        return
    rows = ((lot.item, lot.lot, lot.use_by, lot.named) for lot in sheet.lots)
    _table(pdf, ("Item", "Lot", "Use by", "Named"), (60, 36, 30, 52), rows)


def _places(pdf: "FPDF", sheet: Sheet) -> None:
    if not sheet.places:
        return
    _heading(pdf, "What became of them, place by place")
    head = ("Item, lot", "Place", "Was", "Set aside", "Missing", "Returned", "Destroyed", "There", "")
    rows = (
        (
            f"{one.item}, {one.lot}", one.place, one.was, one.set_aside, one.missing, one.returned, one.destroyed,
            one.there, one.unit,
        )
        for one in sheet.places
    )  # fmt: skip
    _table(pdf, head, (48, 26, 13, 17, 16, 18, 20, 13, 8), rows, right=7)


def _cases(pdf: "FPDF", sheet: Sheet) -> None:
    _heading(pdf, f"Cases that used them ({len({case.case for case in sheet.cases if case.case})})")
    if not sheet.cases:
        pdf.cell(0, 5, "None.", new_x="LMARGIN", new_y="NEXT")
        return
    rows = (
        (
            case.case or "no case", case.on.isoformat() if case.on else "", f"{case.item}, {case.lot}".strip(", "),
            case.amount, "confirmed" if case.lot_read else "assumed", f"{case.status} {case.by}".strip(), case.note,
        )
        for case in sheet.cases
    )  # fmt: skip
    head = ("Case", "Used on", "Item, lot", "Amount", "Lot", "Told", "Note")
    _table(pdf, head, (22, 20, 48, 17, 18, 24, 29), rows)


def _proofs(pdf: "FPDF", sheet: Sheet) -> None:
    if sheet.proofs:
        _heading(pdf, "Entries under this notice, with their proofs")
        rows = ((proof.on.isoformat(), proof.by, proof.words, proof.proof) for proof in sheet.proofs)
        _table(pdf, ("Date", "By", "What", "Proof"), (20, 12, 96, 50), rows)


def _signature(pdf: "FPDF") -> None:
    if pdf.will_page_break(20):
        pdf.add_page()
    pdf.ln(12)
    pdf.set_font(FONT, "", SMALL)
    pdf.cell(0, 5, "Date, initials: ______________________", new_x="LMARGIN", new_y="NEXT")

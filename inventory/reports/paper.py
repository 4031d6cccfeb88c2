"""A document's first page, as the sheets that are printed begin it."""

from datetime import datetime
from typing import TYPE_CHECKING

from inventory.reports.shelf_labels import printable

if TYPE_CHECKING:
    from fpdf import FPDF


def first_page(title: str, margin: float, *, made: datetime | None, paper: str) -> "FPDF":
    """A document with one empty page.

    Args:
        title: of the file's own record.
        margin: on every side, in mm.
        made: when it is made, for the file's own record.
        paper: ``A4`` or ``letter``.
    """
    from fpdf import FPDF  # noqa: PLC0415 - takes a while to load, and only printing needs it

    pdf = FPDF(unit="mm", format=paper)
    pdf.set_margin(margin)
    pdf.set_auto_page_break(auto=True, margin=margin)
    pdf.set_title(printable(title))
    pdf.set_creation_date(made)
    pdf.add_page()
    return pdf

"""An order as its supplier reads it: as text, as CSV, as PDF. The program writes it; a person sends it."""

from inventory.domain.vocabulary import OrderState
from inventory.errors import BadInput
from inventory.reports import order_pdf, order_sheet
from inventory.reports.order_sheet import Sheet, SheetLine
from inventory.service import orders
from inventory.service.practice import Practice

FORMATS = ("txt", "csv", "pdf")


def sheet(practice: Practice, number: str) -> Sheet:
    """The order sheet of an order, as it was ordered.

    Raises:
        NotFound: there is no such order.
    """
    order = orders.order(practice, number)
    with practice.reading() as desk:
        currency = str(desk.settings["currency"])
    lines = tuple(
        SheetLine(
            line.catalogue_no, line.name, line.packs, line.units_per_pack, line.unit_name, line.pack_cents, line.cents
        )
        for line in order.lines
    )
    return Sheet(
        order.number, order.supplier, order.sent_on or order.written_on, order.by, currency,
        order.state is OrderState.DRAFT, lines, order.sum.goods_cents, order.sum.fee_cents,
    )  # fmt: skip


def written(practice: Practice, number: str, kind: str) -> bytes:
    """The order sheet as a file's content.

    Args:
        practice: the practice at work.
        number: which order.
        kind: one of `FORMATS`, as the ending of a file's name.

    Raises:
        NotFound: there is no such order.
        BadInput: there is no such format.
    """
    if kind not in FORMATS:
        raise BadInput(f"An order sheet can't be written as {kind!r}.", f"Name a file ending in {', '.join(FORMATS)}.")
    found = sheet(practice, number)
    if kind == "pdf":
        with practice.reading() as desk:
            return order_pdf.as_pdf(found, made=desk.now)
    return {"txt": order_sheet.as_text, "csv": order_sheet.as_csv}[kind](found).encode("utf-8")

"""The order sheet for a supplier: plain text to paste into an e-mail, and CSV for whoever reads it by machine.

No text in the CSV file is taken for a formula by the spreadsheet that opens it; line ends and separators follow
RFC 4180.
"""

import csv
import io
from dataclasses import dataclass
from datetime import date

from inventory.domain.cells import harmless
from inventory.domain.quantity import show_money

HEAD = ("order", "catalogue_no", "article", "packs", "units_per_pack", "unit", "pack_price", "price", "currency")


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One article: the supplier's number for it, its name, packs, what a pack holds, prices in cents."""

    catalogue_no: str
    name: str
    packs: int
    units_per_pack: int
    unit_name: str
    pack_cents: int
    cents: int

    @property
    def pack(self) -> str:
        """What a pack holds, in words."""
        return f"{self.units_per_pack} x {self.unit_name}"


@dataclass(frozen=True, slots=True)
class Sheet:
    """An order as its supplier reads it; ``draft`` where it was not sent yet."""

    number: str
    supplier: str
    on: date
    by: str
    currency: str
    draft: bool
    lines: tuple[SheetLine, ...]
    goods_cents: int
    fee_cents: int

    @property
    def title(self) -> str:
        return f"Order {self.number}{' (draft)' if self.draft else ''}"

    @property
    def sums(self) -> tuple[tuple[str, str], ...]:
        """Goods, delivery and both together, as names and money."""
        return (
            ("goods", show_money(self.goods_cents)),
            ("delivery", show_money(self.fee_cents)),
            (f"in all, {self.currency}", show_money(self.goods_cents + self.fee_cents)),
        )


def as_text(sheet: Sheet) -> str:
    """The sheet as plain text, in columns that stand one under the other in any fixed type."""
    rows = [("No.", "Article", "Packs", "A pack holds", "Pack price", "Price")]
    rows += [
        (line.catalogue_no, line.name, str(line.packs), line.pack, show_money(line.pack_cents), show_money(line.cents))
        for line in sheet.lines
    ]
    widths = [max(len(row[column]) for row in rows) for column in range(6)]
    right = (2, 4, 5)
    table = [
        "  ".join(
            cell.rjust(width) if column in right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
    names = max(len(name) for name, _ in sheet.sums)
    most = max(len(money) for _, money in sheet.sums)
    sums = [f"{name:<{names}}  {money:>{most}}" for name, money in sheet.sums]
    head = [sheet.title, f"To: {sheet.supplier}", f"Date: {sheet.on.isoformat()}", f"Ordered by: {sheet.by}"]
    return "\n".join([*head, "", *table, "", *sums, "", "Please confirm the day of delivery.", ""])


def as_csv(sheet: Sheet) -> str:
    """The sheet's lines as CSV, a head of names first; money in whole units with a decimal point."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(HEAD)
    for line in sheet.lines:
        writer.writerow(
            [
                harmless(sheet.number), harmless(line.catalogue_no), harmless(line.name), line.packs,
                line.units_per_pack, harmless(line.unit_name), show_money(line.pack_cents), show_money(line.cents),
                harmless(sheet.currency),
            ]
        )  # fmt: skip
    return out.getvalue()

"""Use and waste as CSV, for whoever goes on reckoning: a row for each item, or a row for each kind of visit.

Amounts are in the item's unit (mL, g, pieces), money in whole units, both with a decimal point. No text in the files is
taken for a formula by the spreadsheet that opens them; line ends and separators follow RFC 4180.
"""

import csv
import io
from collections.abc import Iterable

from inventory.domain.cells import harmless
from inventory.domain.quantity import SIGNS, show, show_money
from inventory.domain.usage import Became, ItemUse, KindCost, Usage

ITEM_HEAD = (
    "from", "to", "item", "name", "kind", "unit", "before", *(heading.value for heading in Became), "after", "currency",
    *(f"{heading.value}_money" for heading in Became), "without_price",
)  # fmt: skip
KIND_HEAD = (
    "from", "to", "case_kind", "name", "visits", "mean", "standard_deviation", "lowest", "highest", "total", "currency",
    "visits_without_some_price",
)  # fmt: skip


def items_csv(usage: Usage) -> str:
    """What became of each item, in its unit and in money."""
    return _csv(ITEM_HEAD, (_item(usage, item) for item in usage.items))


def visits_csv(usage: Usage) -> str:
    """What the materials of each kind of visit cost."""
    return _csv(KIND_HEAD, (_kind(usage, kind) for kind in usage.kinds))


def _csv(head: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(head)
    writer.writerows(rows)
    return out.getvalue()


def _item(usage: Usage, item: ItemUse) -> tuple[object, ...]:
    def amount(qty: int) -> str:
        return show(qty, item.base).partition(" ")[0]

    return (
        usage.since, usage.until, harmless(item.code), harmless(item.name), item.kind.value, SIGNS[item.base],
        amount(item.before), *(amount(item.qty.at(heading)) for heading in Became), amount(item.after),
        usage.currency, *(show_money(item.cents.at(heading)) for heading in Became), amount(item.unpriced),
    )  # fmt: skip


def _kind(usage: Usage, kind: KindCost) -> tuple[object, ...]:
    cost = kind.cost
    return (
        usage.since, usage.until, harmless(kind.case_kind), harmless(kind.name), cost.number, show_money(cost.mean),
        "" if cost.sd is None else show_money(cost.sd), show_money(cost.lowest), show_money(cost.highest),
        show_money(cost.total), usage.currency, kind.unpriced,
    )  # fmt: skip

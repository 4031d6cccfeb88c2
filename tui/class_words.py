"""How an item's class and its counts are said, on screens and by commands alike."""

from datetime import date
from typing import TYPE_CHECKING

from inventory.domain.quantity import show_money

if TYPE_CHECKING:
    from inventory.service.item_classes import ItemClass


def line(one: "ItemClass", today: date) -> str:
    """``LIGHT-R, Light body: class A, essential, 610.00 a year, ...``."""
    classed = one.classed
    parts = [
        f"class {classed.value}, {classed.item.criticality}, category {classed.category}",
        f"{show_money(classed.item.cents)} a year" if classed.item.cents else "no use of known price in a year",
        f"counted {every(one)}",
        counted(one, today),
    ]
    return f"{one.code}, {one.name}: {', '.join(parts)}"


def every(one: "ItemClass") -> str:
    """``every 4 weeks``, and whether the practice set that for this item."""
    own = ", set for this item" if one.classed.own else ""
    return f"every {one.classed.weeks} week{'' if one.classed.weeks == 1 else 's'}{own}"


def counted(one: "ItemClass", today: date) -> str:
    """When it was counted last, and when the next count is due."""
    last = f"last counted {one.last_counted.isoformat()}" if one.last_counted else "never counted"
    if one.due_on is None:
        return f"{last}, nothing on the shelf"
    return f"{last}, {'due since' if one.due(today) else 'next until'} {one.due_on.isoformat()}"

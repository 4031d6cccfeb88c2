"""Lots by the number on their label, whatever is left of them."""

from typing import Any

from sqlalchemy import func, select
from sqlmodel import Session, col

from inventory.store.tables import Item, Lot


def lots_of_number(session: Session, number: str) -> list[Any]:
    """Every lot of a number, upper or lower case alike, newest first.

    Each row: lot, number, item, its code, name, base unit and unit name, content of a unit, use-by, how it was read.
    """
    query = (
        select(
            col(Lot.id), col(Lot.number), col(Item.id), col(Item.code), col(Item.name), col(Item.base),
            col(Item.unit_name), col(Lot.unit_qty), col(Lot.use_by), col(Lot.use_by_read),
        )
        .join(Item, col(Item.id) == col(Lot.item_id))
        .where(func.lower(col(Lot.number)) == number.lower())
        .order_by(col(Lot.id).desc())
    )  # fmt: skip
    return list(session.execute(query).all())

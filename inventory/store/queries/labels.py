"""Lots as a label points at them, by item, by number or by both; and what codes of packages stand for."""

from typing import Any

from sqlalchemy import exists, func, select
from sqlmodel import Session, col

from inventory.store.tables import Barcode, Holding, Item, Lot, StockRule


def lots_like(session: Session, *, item_id: int | None, number: str | None, lot_id: int | None = None) -> list[Any]:
    """Lots of an item, of a number (upper or lower case alike), or of both, or one of them, newest first.

    Without a number only those of which something is left. Each row: lot, number, item, its code, name, base unit and
    unit name, content of a unit, use-by, how it was read.
    """
    query = (
        select(
            col(Lot.id), col(Lot.number), col(Item.id), col(Item.code), col(Item.name), col(Item.base),
            col(Item.unit_name), col(Lot.unit_qty), col(Lot.use_by), col(Lot.use_by_read),
        )
        .join(Item, col(Item.id) == col(Lot.item_id))
        .order_by(col(Lot.id).desc())
    )  # fmt: skip
    if item_id is not None:
        query = query.where(col(Lot.item_id) == item_id)
    if lot_id is not None:
        query = query.where(col(Lot.id) == lot_id)
    elif number is not None:
        query = query.where(func.lower(col(Lot.number)) == number.lower())
    else:
        left = (col(Holding.lot_id) == col(Lot.id)) & (col(Holding.on_hand) > 0)
        query = query.where(exists().where(left))
    return list(session.execute(query).all())


def packages(session: Session, item_id: int | None) -> list[Any]:
    """Codes of packages, of one item or of all: scheme, code, item's code and name, units."""
    query = (
        select(col(Barcode.scheme), col(Barcode.code), col(Item.code), col(Item.name), col(Barcode.units))
        .join(Item, col(Item.id) == col(Barcode.item_id))
        .order_by(col(Item.code), col(Barcode.scheme), col(Barcode.code))
    )
    if item_id is not None:
        query = query.where(col(Barcode.item_id) == item_id)
    return list(session.execute(query).all())


def fill_up_levels(session: Session) -> dict[tuple[int, int], int]:
    """To how many units an item is filled up at a place of its own, by item and place."""
    query = select(col(StockRule.item_id), col(StockRule.place_id), col(StockRule.top_up_to_units))
    return {(item_id, place_id): units for item_id, place_id, units in session.execute(query)}

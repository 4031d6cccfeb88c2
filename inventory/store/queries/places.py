"""Levels of their own that places have, and how they are changed."""

from sqlalchemy import delete, select
from sqlmodel import Session, col

from inventory.store.tables import Item, StockRule


def levels(session: Session, place_id: int) -> dict[int, tuple[str, str, str, int]]:
    """By item, by name: its code, name, what a unit is called, and the level of a place, in sealed units."""
    query = (
        select(col(Item.id), col(Item.code), col(Item.name), col(Item.unit_name), col(StockRule.top_up_to_units))
        .join(StockRule, col(StockRule.item_id) == col(Item.id))
        .where(col(StockRule.place_id) == place_id, col(Item.active))
        .order_by(col(Item.name), col(Item.id))
    )
    return {item_id: (code, name, unit, units) for item_id, code, name, unit, units in session.execute(query)}


def set_level(session: Session, item_id: int, place_id: int, units: int) -> int:
    """Set a place's own level of an item, 0 for none; returns what it was."""
    row = session.get(StockRule, (item_id, place_id))
    before = row.top_up_to_units if row is not None else 0
    if row is not None and not units:
        which = (col(StockRule.item_id) == item_id, col(StockRule.place_id) == place_id)
        session.execute(delete(StockRule).where(*which).execution_options(synchronize_session=False))
        session.expunge(row)
    elif row is not None:
        row.top_up_to_units = units
        session.flush()
    elif units:
        session.add(StockRule(item_id=item_id, place_id=place_id, top_up_to_units=units))
        session.flush()
    return before

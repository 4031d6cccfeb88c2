"""Lots by the number on their label, whatever is left of them; cases by their reference."""

from typing import Any

from sqlalchemy import func, select
from sqlmodel import Session, col

from inventory.store.tables import Item, Lot, Visit


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


def case_ref(session: Session, named: str) -> str | None:
    """The reference of a case, as typed or in capitals, if any visit has it."""
    wanted = (named, named.upper())
    query = select(col(Visit.case_ref)).where(col(Visit.case_ref).in_(wanted)).limit(1)
    return session.execute(query).scalar_one_or_none()

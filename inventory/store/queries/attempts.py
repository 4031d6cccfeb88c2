"""Which attempts took what from which lot, for a look at retakes."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Integer, cast, func, select
from sqlmodel import Session, col

from inventory.domain.vocabulary import Arch, DocumentKind, ItemKind, MovementKind
from inventory.store.tables import Document, Holding, Item, Lot, Movement


@dataclass(frozen=True, slots=True)
class Attempt:
    """What one attempt at a step took from one lot, in base units, purges included."""

    visit_id: int
    step: str
    arch: Arch | None
    attempt: int
    item: str
    name: str
    kind: ItemKind
    lot_id: int
    lot: str
    unit_qty: int
    qty: int


def attempts(session: Session, since: date) -> list[Attempt]:
    """Every attempt since a day with what it took; bookings undone are left out."""
    undone = select(col(Document.reverses_id)).where(col(Document.reverses_id).is_not(None))
    names = (
        col(Document.visit_id), col(Movement.step), col(Movement.arch), col(Movement.attempt),
        col(Item.code), col(Item.name), col(Item.kind), col(Lot.id), col(Lot.number), col(Lot.unit_qty),
    )  # fmt: skip
    query = (
        select(*names, cast(func.sum(-col(Movement.qty)), Integer))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .join(Item, col(Item.id) == col(Movement.item_id))
        .join(Holding, col(Holding.id) == col(Movement.holding_id))
        .join(Lot, col(Lot.id) == col(Holding.lot_id))
        .where(
            col(Document.visit_id).is_not(None),
            col(Movement.step).is_not(None),
            col(Movement.attempt).is_not(None),
            col(Movement.kind).in_((MovementKind.USE, MovementKind.PURGE, MovementKind.WASTE)),
            col(Document.happened_on) >= since,
            col(Document.kind) != DocumentKind.REVERSAL,
            col(Document.id).not_in(undone),
        )
        .group_by(*names)
    )
    return [Attempt(*row) for row in session.execute(query)]

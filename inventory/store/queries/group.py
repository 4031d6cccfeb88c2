"""What a group of practices reads of each: what its codes mean, and which halves of transfers it posted."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from inventory.domain.vocabulary import BaseUnit, DocumentKind
from inventory.store.tables import Barcode, Document, Holding, Item, Lot, Movement


@dataclass(frozen=True, slots=True)
class HalfLine:
    """A line of one half of a transfer: what went out (negative) or came in, in base units."""

    reference: str
    kind: DocumentKind
    on: date
    words: str
    item: str
    lot: str
    qty: int
    base: BaseUnit


def codes(session: Session) -> dict[int, frozenset[tuple[str, str]]]:
    """By item: the codes that mean it anywhere, article numbers and HIBC; a practice's own mean nothing elsewhere."""
    found: dict[int, set[tuple[str, str]]] = defaultdict(set)
    for row in session.execute(select(Barcode).where(col(Barcode.scheme) != "own")).scalars():
        found[row.item_id].add((row.scheme, row.code))
    return {item_id: frozenset(codes) for item_id, codes in found.items()}


def halves(session: Session, reference: str | None = None) -> list[HalfLine]:
    """Halves of transfers between practices that stand, all or those of one reference, oldest first."""
    undoing = aliased(Document)
    query = (
        select(
            col(Document.group_ref), col(Document.kind), col(Document.happened_on), col(Document.reason),
            col(Item.code), col(Lot.number), col(Movement.qty), col(Item.base),
        )
        .join(Movement, col(Movement.document_id) == col(Document.id))
        .join(Holding, col(Holding.id) == col(Movement.holding_id))
        .join(Lot, col(Lot.id) == col(Holding.lot_id))
        .join(Item, col(Item.id) == col(Lot.item_id))
        .outerjoin(undoing, col(undoing.reverses_id) == col(Document.id))
        .where(
            col(Document.kind).in_((DocumentKind.RETURN, DocumentKind.RECEIPT)),
            col(Document.group_ref).is_not(None) if reference is None else col(Document.group_ref) == reference,
            col(undoing.id).is_(None),
        )
        .order_by(col(Document.id), col(Movement.line))
    )  # fmt: skip
    return [HalfLine(*row) for row in session.execute(query)]

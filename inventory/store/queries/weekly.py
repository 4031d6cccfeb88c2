"""What was used day by day of one item, for a look at its weeks."""

from datetime import date

from sqlalchemy import func, select
from sqlmodel import Session, col

from inventory.domain.vocabulary import DocumentKind, MovementKind
from inventory.store.tables import Document, Movement


def taken_by_day(
    session: Session, item_id: int, since: date, kinds: tuple[MovementKind, ...]
) -> list[tuple[date, MovementKind, int]]:
    """Base units taken from stock by day and kind; what was undone is left out."""
    undone = select(col(Document.reverses_id)).where(col(Document.reverses_id).is_not(None))
    query = (
        select(col(Document.happened_on), col(Movement.kind), func.sum(-col(Movement.qty)))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .where(
            col(Movement.item_id) == item_id,
            col(Movement.kind).in_(kinds),
            col(Movement.qty) < 0,
            col(Document.happened_on) >= since,
            col(Document.kind) != DocumentKind.REVERSAL,
            col(Document.id).not_in(undone),
        )
        .group_by(col(Document.happened_on), col(Movement.kind))
    )
    return [(on, kind, int(qty)) for on, kind, qty in session.execute(query)]

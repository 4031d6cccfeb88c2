"""When items were last counted, and since when they have been there at all: what the reminder to count reads."""

from datetime import date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from inventory.domain.vocabulary import DocumentKind
from inventory.store.queries.counting import current, in_force
from inventory.store.tables import CountLine, CountRound, Document, Lot, Movement


def last_read(session: Session) -> dict[int, datetime]:
    """By item: the last reading in a round that is approved and stands."""
    query = (
        select(col(Lot.item_id), func.max(col(CountLine.counted_at)))
        .join(Lot, col(Lot.id) == col(CountLine.lot_id))
        .join(CountRound, col(CountRound.id) == col(CountLine.count_round_id))
        .where(current(), in_force())
        .group_by(col(Lot.item_id))
    )
    return {row[0]: row[1] for row in session.execute(query)}


def last_corrected(session: Session) -> dict[int, date]:
    """By item: the day of its last count correction that stands; stock found for a visit is no count."""
    undoing = aliased(Document)
    query = (
        select(col(Movement.item_id), func.max(col(Document.happened_on)))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .outerjoin(undoing, col(undoing.reverses_id) == col(Document.id))
        .where(
            col(Document.kind) == DocumentKind.COUNT,
            col(Document.visit_id).is_(None),
            col(Document.part) == 0,
            col(undoing.id).is_(None),
        )
        .group_by(col(Movement.item_id))
    )
    return {row[0]: row[1] for row in session.execute(query)}


def first_received(session: Session) -> dict[int, date]:
    """By item: the day the first of it came into the book; whoever entered it had counted it."""
    query = (
        select(col(Movement.item_id), func.min(col(Document.happened_on)))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .where(col(Document.kind) == DocumentKind.RECEIPT)
        .group_by(col(Movement.item_id))
    )
    return {row[0]: row[1] for row in session.execute(query)}

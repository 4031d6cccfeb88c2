"""What moved in a period, summed by lot: what the report of use and waste reads.

Days are practice-local, both included. A reversal happened on the day of what it undoes, so sums need no look at what
was undone: in any period either both are there or neither.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Select, func, select
from sqlmodel import Session, col

from inventory.domain.ledger import STAYS
from inventory.domain.vocabulary import MovementKind, VisitState
from inventory.store.tables import Document, Holding, Lot, Movement, Visit

AT_WORK = (MovementKind.USE, MovementKind.PURGE, MovementKind.WASTE)


@dataclass(frozen=True, slots=True)
class MovedLot:
    """A signed sum of movements of a lot, in base units.

    ``attempt`` is told of what steps took, ``opened_on`` and ``happened_on`` of what was discarded.
    """

    lot_id: int
    kind: MovementKind
    attempt: int | None
    opened_on: date | None
    happened_on: date | None
    qty: int


@dataclass(frozen=True, slots=True)
class LotOf:
    """A lot as the report needs it."""

    lot_id: int
    item_id: int
    unit_qty: int
    use_by: date | None


@dataclass(frozen=True, slots=True)
class Taken:
    """What a visit took of a lot, in base units, undone bookings left out."""

    visit_id: int
    case_kind_id: int
    lot_id: int
    qty: int


def moved(session: Session, since: date, until: date) -> list[MovedLot]:
    """All that changed stock in a period; openings and transfers, which only move it, left out."""
    lot, kind, attempt = col(Holding.lot_id), col(Movement.kind), col(Movement.attempt)
    passing = (*STAYS, MovementKind.DISCARD)
    others = _within(lot, kind, attempt, since=since, until=until).where(kind.not_in(passing))
    found = [
        MovedLot(of, what, which, None, None, int(qty))
        for of, what, which, qty in session.execute(others.group_by(lot, kind, attempt))
        if qty
    ]
    opened, on = col(Holding.opened_on), col(Document.happened_on)
    discards = _within(lot, opened, on, since=since, until=until).where(kind == MovementKind.DISCARD)
    found += [
        MovedLot(of, MovementKind.DISCARD, None, opened_on, happened_on, int(qty))
        for of, opened_on, happened_on, qty in session.execute(discards.group_by(lot, opened, on))
        if qty
    ]
    return found


def _within(*columns: Any, since: date, until: date) -> Select[Any]:
    return (
        select(*columns, func.sum(col(Movement.qty)))
        .select_from(Document)
        .join(Movement, col(Movement.document_id) == col(Document.id))
        .join(Holding, col(Holding.id) == col(Movement.holding_id))
        .where(col(Document.happened_on) >= since, col(Document.happened_on) <= until)
    )


def lots(session: Session, lot_ids: Collection[int]) -> dict[int, LotOf]:
    """Lots by number."""
    query = select(col(Lot.id), col(Lot.item_id), col(Lot.unit_qty), col(Lot.use_by)).where(col(Lot.id).in_(lot_ids))
    return {row[0]: LotOf(*row) for row in session.execute(query)}


def on_hand(session: Session) -> dict[int, int]:
    """What the book has of each item now, in base units; items without anything left out."""
    query = (
        select(col(Lot.item_id), func.sum(col(Holding.on_hand)))
        .join(Lot, col(Lot.id) == col(Holding.lot_id))
        .where(col(Holding.on_hand) > 0)
        .group_by(col(Lot.item_id))
    )
    return {item_id: int(qty) for item_id, qty in session.execute(query)}


def changed_after(session: Session, day: date) -> dict[int, int]:
    """By item: what changed its stock after a day, in base units."""
    query = (
        select(col(Movement.item_id), func.sum(col(Movement.qty)))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .where(col(Document.happened_on) > day)
        .group_by(col(Movement.item_id))
    )
    return {item_id: int(qty) for item_id, qty in session.execute(query)}


def taken_by_visits(session: Session, since: date, until: date) -> list[Taken]:
    """What visits that are done took, by visit and lot: used, purged and lost."""
    grouped = (col(Document.visit_id), col(Visit.case_kind_id), col(Holding.lot_id))
    query = (
        _within(*grouped, since=since, until=until)
        .join(Visit, col(Visit.id) == col(Document.visit_id))
        .where(col(Movement.kind).in_(AT_WORK), col(Visit.state) == VisitState.DONE)
        .group_by(*grouped)
    )
    return [Taken(visit, kind, lot, -int(qty)) for visit, kind, lot, qty in session.execute(query) if qty]

"""What was posted, and where a lot went: documents with their movements, found through indexes, never by a scan."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from inventory.domain.vocabulary import Arch, BaseUnit, DocumentKind, LateReason, MovementKind
from inventory.store.tables import Document, Holding, Item, Lot, Movement, Person, Place, Visit


@dataclass(frozen=True, slots=True)
class Line:
    """One movement as people read it. ``qty`` is signed, ``on_hand`` is what its holding holds now, in base units."""

    document_id: int
    line: int
    holding_id: int
    lot_id: int
    lot_number: str
    item_id: int
    item_code: str
    item_name: str
    base: BaseUnit
    unit_qty: int
    place: str
    opened_on: date | None
    on_hand: int
    kind: MovementKind
    qty: int
    arch: Arch | None
    step: str | None
    attempt: int | None
    lot_confirmed: bool
    late_reason: LateReason | None


@dataclass(frozen=True, slots=True)
class Posted:
    """A document: who posted what, when it happened and when it was recorded, and whether it was undone since."""

    document_id: int
    kind: DocumentKind
    request_key: str
    part: int
    by: str
    recorded_at: datetime
    happened_at: datetime
    happened_on: date
    reason: str | None
    proof: str | None
    reverses_id: int | None
    reversed_by_id: int | None
    visit_id: int | None
    case_ref: str | None
    delivery_id: int | None


def documents(session: Session, document_ids: Collection[int]) -> dict[int, Posted]:
    """Documents by their number."""
    undoing = aliased(Document)
    query = (
        select(
            col(Document.id), col(Document.kind), col(Document.request_key), col(Document.part), col(Person.initials),
            col(Document.recorded_at), col(Document.happened_at), col(Document.happened_on), col(Document.reason),
            col(Document.proof), col(Document.reverses_id), col(undoing.id), col(Document.visit_id),
            col(Visit.case_ref), col(Document.delivery_id),
        )
        .join(Person, col(Person.id) == col(Document.person_id))
        .outerjoin(undoing, col(undoing.reverses_id) == col(Document.id))
        .outerjoin(Visit, col(Visit.id) == col(Document.visit_id))
        .where(col(Document.id).in_(document_ids))
        .order_by(col(Document.id))
    )  # fmt: skip
    return {row[0]: Posted(*row) for row in session.execute(query)}


def lines(session: Session, document_ids: Collection[int]) -> dict[int, tuple[Line, ...]]:
    """Movements of documents, in their order."""
    query = (
        select(
            col(Movement.document_id), col(Movement.line), col(Movement.holding_id), col(Lot.id), col(Lot.number),
            col(Item.id), col(Item.code), col(Item.name), col(Item.base), col(Lot.unit_qty), col(Place.name),
            col(Holding.opened_on), col(Holding.on_hand), col(Movement.kind), col(Movement.qty), col(Movement.arch),
            col(Movement.step), col(Movement.attempt), col(Movement.lot_confirmed), col(Movement.late_reason),
        )
        .join(Holding, col(Holding.id) == col(Movement.holding_id))
        .join(Lot, col(Lot.id) == col(Holding.lot_id))
        .join(Item, col(Item.id) == col(Lot.item_id))
        .join(Place, col(Place.id) == col(Holding.place_id))
        .where(col(Movement.document_id).in_(document_ids))
        .order_by(col(Movement.document_id), col(Movement.line))
    )  # fmt: skip
    found: dict[int, list[Line]] = defaultdict(list)
    for row in session.execute(query):
        found[row[0]].append(Line(*row))
    return {number: tuple(of_one) for number, of_one in found.items()}


def moved_after(session: Session, holding_id: int, day: date) -> int:
    """Sum of what moved at a holding after a practice-local day, in base units."""
    query = (
        select(func.coalesce(func.sum(col(Movement.qty)), 0))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .where(col(Movement.holding_id) == holding_id, col(Document.happened_on) > day)
    )
    return int(session.execute(query).scalar_one())


def sealed_at(session: Session, lot_id: int, place_id: int) -> tuple[int, int] | None:
    """The sealed stack of a lot at a place as (holding, on hand); None where there never was one."""
    query = select(col(Holding.id), col(Holding.on_hand)).where(
        col(Holding.lot_id) == lot_id, col(Holding.place_id) == place_id, col(Holding.opened_on).is_(None)
    )
    row = session.execute(query).one_or_none()
    return None if row is None else (row.id, row.on_hand)

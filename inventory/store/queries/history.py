"""What was posted, and where a lot went: documents with their movements, found through indexes, never by a scan."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from inventory.domain.quantity import LARGEST
from inventory.domain.vocabulary import Arch, BaseUnit, DocumentKind, LateReason, MovementKind, UseByReading
from inventory.store.tables import Document, Hold, Holding, Item, Lot, Movement, Person, Place, Visit


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

    @property
    def stands(self) -> bool:
        """Neither an undoing nor undone."""
        return self.reverses_id is None and self.reversed_by_id is None


@dataclass(frozen=True, slots=True)
class Filter:
    """Which documents are asked for; what is None does not matter. Days are practice-local, both included."""

    item_id: int | None = None
    lot_id: int | None = None
    visit_id: int | None = None
    case_ref: str | None = None
    person_id: int | None = None
    kind: DocumentKind | None = None
    since: date | None = None
    until: date | None = None
    before_id: int | None = None  # only documents with a smaller number: the next page


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


def matching(which: Filter, limit: int) -> Select[Any]:
    """Numbers of the newest documents that match, at most so many, each filter by its own index."""
    number = col(Document.id)
    query = select(number).where(number < (LARGEST if which.before_id is None else which.before_id))
    if which.item_id is not None:
        query = query.where(number.in_(select(col(Movement.document_id)).where(col(Movement.item_id) == which.item_id)))
    if which.lot_id is not None:
        holdings = select(col(Holding.id)).where(col(Holding.lot_id) == which.lot_id)
        query = query.where(number.in_(select(col(Movement.document_id)).where(col(Movement.holding_id).in_(holdings))))
    if which.case_ref is not None:
        visits = select(col(Visit.id)).where(col(Visit.case_ref) == which.case_ref)
        query = query.where(col(Document.visit_id).in_(visits))
    for column, wanted in (
        (col(Document.visit_id), which.visit_id),
        (col(Document.person_id), which.person_id),
        (col(Document.kind), which.kind),
    ):
        if wanted is not None:
            query = query.where(column == wanted)
    if which.since is not None:
        query = query.where(col(Document.happened_on) >= which.since)
    if which.until is not None:
        query = query.where(col(Document.happened_on) <= which.until)
    return query.order_by(number.desc()).limit(limit)


def page(session: Session, which: Filter, limit: int) -> list[Posted]:
    """The newest documents that match, newest first."""
    found = documents(session, list(session.execute(matching(which, limit)).scalars()))
    return [found[number] for number in sorted(found, reverse=True)]


def of_request(session: Session, request_key: str) -> list[Posted]:
    """The documents that one request posted, by part."""
    ids = session.execute(select(col(Document.id)).where(col(Document.request_key) == request_key)).scalars()
    return sorted(documents(session, list(ids)).values(), key=lambda document: document.part)


def of_visit(session: Session, visit_id: int) -> list[Posted]:
    """Everything posted for a visit, oldest first."""
    ids = session.execute(select(col(Document.id)).where(col(Document.visit_id) == visit_id)).scalars()
    return list(documents(session, list(ids)).values())


def standing_since(session: Session, holding_ids: Collection[int], document_id: int) -> list[Posted]:
    """What was posted at some holdings after a document and still stands, oldest first."""
    query = select(col(Movement.document_id)).where(
        col(Movement.holding_id).in_(holding_ids), col(Movement.document_id) > document_id
    )
    later = documents(session, set(session.execute(query).scalars())).values()
    return [one for one in later if one.stands]


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


@dataclass(frozen=True, slots=True)
class Use:
    """What one movement that stands took from a lot at work; ``qty`` in base units, positive."""

    document_id: int
    visit_id: int | None
    case_ref: str | None
    on: date
    by: str
    item_id: int
    item_code: str
    item_name: str
    base: BaseUnit
    lot_id: int
    lot_number: str
    use_by: date | None
    use_by_read: UseByReading
    place: str
    qty: int
    arch: Arch | None
    step: str | None
    attempt: int | None
    lot_confirmed: bool
    late_reason: LateReason | None


def _uses() -> Select[*tuple[Any, ...]]:
    """Use, purge and waste, and reusable trays that went on from a visit; undoings and what was undone left out."""
    undoing = aliased(Document)
    at_work = col(Movement.kind).in_((MovementKind.USE, MovementKind.PURGE, MovementKind.WASTE))
    went_on = (col(Movement.kind) == MovementKind.TRANSFER) & col(Document.visit_id).is_not(None)
    return (
        select(
            col(Document.id), col(Document.visit_id), col(Visit.case_ref), col(Document.happened_on),
            col(Person.initials), col(Item.id), col(Item.code), col(Item.name), col(Item.base), col(Lot.id),
            col(Lot.number), col(Lot.use_by), col(Lot.use_by_read), col(Place.name),
            -col(Movement.qty), col(Movement.arch),
            col(Movement.step), col(Movement.attempt), col(Movement.lot_confirmed), col(Movement.late_reason),
        )
        .select_from(Movement)
        .join(Holding, col(Holding.id) == col(Movement.holding_id))
        .join(Lot, col(Lot.id) == col(Holding.lot_id))
        .join(Item, col(Item.id) == col(Lot.item_id))
        .join(Place, col(Place.id) == col(Holding.place_id))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .join(Person, col(Person.id) == col(Document.person_id))
        .outerjoin(Visit, col(Visit.id) == col(Document.visit_id))
        .outerjoin(undoing, col(undoing.reverses_id) == col(Document.id))
        .where(
            at_work | went_on, col(Movement.qty) < 0, col(Document.kind) != DocumentKind.REVERSAL,
            col(undoing.id).is_(None),
        )
        .order_by(col(Movement.id))
    )  # fmt: skip


def uses_of_lot(lot_id: int) -> Select[*tuple[Any, ...]]:
    """Query: every use of a lot, oldest first."""
    return _uses().where(col(Lot.id) == lot_id)


def uses_of_lots(lot_ids: Collection[int]) -> Select[*tuple[Any, ...]]:
    """Query: every use of some lots, oldest first."""
    return _uses().where(col(Lot.id).in_(lot_ids))


def uses_of_case(case_ref: str) -> Select[*tuple[Any, ...]]:
    """Query: every use in the visits of a case, oldest first."""
    return _uses().where(col(Visit.case_ref) == case_ref)


def uses(session: Session, query: Select[*tuple[Any, ...]]) -> list[Use]:
    """The uses that such a query finds."""
    return [Use(*row) for row in session.execute(query)]


def sums_of_lot(session: Session, lot_id: int) -> dict[MovementKind, int]:
    """What each kind of movement changed in a lot, everywhere and over its whole life, in base units."""
    query = (
        select(col(Movement.kind), func.sum(col(Movement.qty)))
        .join(Holding, col(Holding.id) == col(Movement.holding_id))
        .where(col(Holding.lot_id) == lot_id)
        .group_by(col(Movement.kind))
    )
    return {kind: int(total) for kind, total in session.execute(query)}


def open_holds(session: Session, lot_ids: Collection[int]) -> list[Hold]:
    """Holds of some lots that are not released."""
    query = select(Hold).where(col(Hold.lot_id).in_(lot_ids), col(Hold.released_at).is_(None)).order_by(col(Hold.id))
    return list(session.execute(query).scalars())


def person_id(session: Session, initials: str) -> int | None:
    """The person with these initials, active or not."""
    return session.execute(select(col(Person.id)).where(col(Person.initials) == initials)).scalar_one_or_none()

"""Parcels to the laboratory with their visits, and how long what was used keeps an impression."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from inventory.domain.vocabulary import DocumentKind, ItemKind, LaboratoryAnswer, MovementKind, VisitState
from inventory.store.tables import CaseKind, Document, Item, Movement, Person, Shipment, Visit

LATELY = 100  # parcels


@dataclass(frozen=True, slots=True)
class ParcelRow:
    """A parcel as it stands in the book; instants in UTC."""

    id: int
    visit_id: int
    contents: list[str]
    disinfectant: str | None
    disinfectant_name: str | None
    contact_minutes: int | None
    taken_at: datetime | None
    pour_by: datetime | None
    carrier: str
    sent_at: datetime | None
    sent_by: str | None
    answer: LaboratoryAnswer | None
    answered_at: datetime | None
    answer_note: str
    version: int


@dataclass(frozen=True, slots=True)
class ShippingVisit:
    """A visit that is done, and what of its kind usually goes to the laboratory."""

    id: int
    case_ref: str
    on: date
    case_kind: str
    case_kind_name: str
    ships: list[str]


@dataclass(frozen=True, slots=True)
class Taken:
    """When the impression of a visit was booked, and the shortest pour window of what was used for it, in hours."""

    at: datetime
    within_hours: int | None


def _parcels() -> Select[*tuple[Any, ...]]:
    return (
        select(
            col(Shipment.id), col(Shipment.visit_id), col(Shipment.contents), col(Item.code), col(Item.name),
            col(Shipment.contact_minutes), col(Shipment.taken_at), col(Shipment.pour_by), col(Shipment.carrier),
            col(Shipment.sent_at), col(Person.initials), col(Shipment.answer), col(Shipment.answered_at),
            col(Shipment.answer_note), col(Shipment.version),
        )
        .outerjoin(Item, col(Item.id) == col(Shipment.disinfectant_id))
        .outerjoin(Person, col(Person.id) == col(Shipment.sent_by_id))
        .order_by(col(Shipment.id))
    )  # fmt: skip


def parcels(session: Session, visit_ids: Collection[int]) -> list[ParcelRow]:
    """The parcels of some visits, oldest first."""
    query = _parcels().where(col(Shipment.visit_id).in_(visit_ids))
    return [ParcelRow(*row) for row in session.execute(query)]


def latest(session: Session, visit_id: int) -> Shipment | None:
    """The latest parcel of a visit, as a row, locked."""
    query = select(Shipment).where(col(Shipment.visit_id) == visit_id).order_by(col(Shipment.id).desc()).limit(1)
    return session.execute(query.with_for_update()).scalar_one_or_none()


def shipping_visits(
    session: Session, *, since: date | None = None, case_ref: str = "", visit_ids: Collection[int] | None = None
) -> list[ShippingVisit]:
    """Visits that are done, newest first, whatever their kind sends."""
    query = (
        select(
            col(Visit.id), col(Visit.case_ref), col(Visit.on), col(CaseKind.code), col(CaseKind.name),
            col(CaseKind.ships),
        )
        .join(CaseKind, col(CaseKind.id) == col(Visit.case_kind_id))
        .where(col(Visit.state) == VisitState.DONE)
        .order_by(col(Visit.on).desc(), col(Visit.id).desc())
    )  # fmt: skip
    if since is not None:
        query = query.where(col(Visit.on) >= since)
    if case_ref:
        query = query.where(col(Visit.case_ref) == case_ref)
    if visit_ids is not None:
        query = query.where(col(Visit.id).in_(visit_ids))
    return [ShippingVisit(*row) for row in session.execute(query)]


def packed_last(session: Session, limit: int) -> list[int]:
    """The visits of the parcels packed last, at most so many."""
    query = select(col(Shipment.visit_id)).order_by(col(Shipment.id).desc()).limit(limit)
    return list(session.execute(query).scalars())


def taken(session: Session, visit_ids: Collection[int]) -> dict[int, Taken]:
    """When each of some visits was booked for, and the pour window of the impression materials really used."""
    undoing = aliased(Document)
    query = (
        select(col(Document.visit_id), func.min(col(Document.happened_at)), func.min(col(Item.pour_within_hours)))
        .select_from(Document)
        .join(Movement, col(Movement.document_id) == col(Document.id))
        .join(Item, col(Item.id) == col(Movement.item_id))
        .outerjoin(undoing, col(undoing.reverses_id) == col(Document.id))
        .where(
            col(Document.visit_id).in_(visit_ids),
            col(Document.kind) == DocumentKind.USE,
            col(Movement.kind) == MovementKind.USE,
            col(Item.kind) == ItemKind.IMPRESSION,
            col(undoing.id).is_(None),
        )
        .group_by(col(Document.visit_id))
    )
    return {visit_id: Taken(at, hours) for visit_id, at, hours in session.execute(query)}


def carriers(session: Session, limit: int) -> list[str]:
    """By what the last parcels were sent, each way once, the latest first."""
    query = (
        select(col(Shipment.carrier)).where(col(Shipment.carrier) != "").order_by(col(Shipment.id).desc()).limit(LATELY)
    )
    return list(dict.fromkeys(session.execute(query).scalars()))[:limit]


def disinfectants(session: Session) -> list[tuple[str, str, int | None]]:
    """The disinfectants: accessories that have a contact time, as code, name and minutes."""
    query = (
        select(col(Item.code), col(Item.name), col(Item.contact_minutes))
        .where(col(Item.kind) == ItemKind.ACCESSORY, col(Item.active), col(Item.contact_minutes).is_not(None))
        .order_by(col(Item.code))
    )
    return [(code, name, minutes) for code, name, minutes in session.execute(query)]


def remakes(session: Session, visit_ids: Collection[int]) -> dict[int, int]:
    """By visit, the latest visit that does it again and was not cancelled."""
    query = (
        select(col(Visit.remake_of_id), func.max(col(Visit.id)))
        .where(col(Visit.remake_of_id).in_(visit_ids), col(Visit.state) != VisitState.CANCELLED)
        .group_by(col(Visit.remake_of_id))
    )
    return {earlier: later for earlier, later in session.execute(query) if earlier is not None}

"""Who changed what beside the stock itself: the log of changes, found by subject, person or moment, never by a scan."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, false, or_, select
from sqlmodel import Session, col

from inventory.domain.quantity import LARGEST
from inventory.store.tables import Change, Delivery, Item, Lot, Notice, Person, Purchase, Supplier, Supply, Visit


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """One field of something that was changed; ``at`` in UTC, ``by`` None for the program itself."""

    id: int
    at: datetime
    by: str | None
    subject: str
    subject_id: str
    field: str
    old: str | None
    new: str | None
    reason: str | None


@dataclass(frozen=True, slots=True)
class Asked:
    """Which changes are asked for; what is None does not matter.

    ``about`` names things as (subject, subject ids), any of them; ``until`` is exclusive.
    """

    about: Mapping[str, Collection[str]] | None = None
    subject: str | None = None
    person_id: int | None = None
    since: datetime | None = None
    until: datetime | None = None
    before_id: int | None = None


def matching(asked: Asked, limit: int) -> Select[*tuple[Any, ...]]:
    """The newest changes that match, at most so many."""
    query = (
        select(
            col(Change.id), col(Change.at), col(Person.initials), col(Change.subject), col(Change.subject_id),
            col(Change.field), col(Change.old), col(Change.new), col(Change.reason),
        )
        .outerjoin(Person, col(Person.id) == col(Change.person_id))
        .where(col(Change.id) < (LARGEST if asked.before_id is None else asked.before_id))
        .order_by(col(Change.id).desc())
        .limit(limit)
    )  # fmt: skip
    if asked.about is not None:
        named = [
            (col(Change.subject) == subject) & col(Change.subject_id).in_(sorted(ids))
            for subject, ids in asked.about.items()
        ]
        query = query.where(col(Change.id).in_(select(col(Change.id)).where(or_(false(), *named))))
    for column, wanted in ((col(Change.subject), asked.subject), (col(Change.person_id), asked.person_id)):
        if wanted is not None:
            query = query.where(column == wanted)
    if asked.since is not None:
        query = query.where(col(Change.at) >= asked.since)
    if asked.until is not None:
        query = query.where(col(Change.at) < asked.until)
    return query


def changes(session: Session, asked: Asked, limit: int) -> list[ChangeRow]:
    """The newest changes that match, newest first."""
    return [ChangeRow(*row) for row in session.execute(matching(asked, limit))]


def supplies_of(session: Session, item_id: int) -> list[int]:
    """The numbers of the ways in which an item is or was bought."""
    return list(session.execute(select(col(Supply.id)).where(col(Supply.item_id) == item_id)).scalars())


def visits_of(session: Session, case_ref: str) -> list[int]:
    """The numbers of a case's visits."""
    return list(session.execute(select(col(Visit.id)).where(col(Visit.case_ref) == case_ref)).scalars())


def names(session: Session, subject: str, ids: Collection[str]) -> dict[str, str]:
    """What some subjects are called by people, by id; those that are named by a word already are left out."""
    numbers = [int(one) for one in ids if one.isascii() and one.isdigit()]
    queries: dict[str, Select[*tuple[Any, ...]]] = {
        "item": select(col(Item.id), col(Item.code)).where(col(Item.id).in_(numbers)),
        "lot": select(col(Lot.id), col(Lot.number)).where(col(Lot.id).in_(numbers)),
        "visit": select(col(Visit.id), col(Visit.case_ref)).where(col(Visit.id).in_(numbers)),
        "parcel": select(col(Visit.id), col(Visit.case_ref)).where(col(Visit.id).in_(numbers)),
        "supplier": select(col(Supplier.id), col(Supplier.name)).where(col(Supplier.id).in_(numbers)),
        "purchase": select(col(Purchase.id), col(Purchase.number)).where(col(Purchase.id).in_(numbers)),
        "notice": select(col(Notice.id), col(Notice.reference)).where(col(Notice.id).in_(numbers)),
        "supply": select(col(Supply.id), col(Supply.catalogue_no)).where(col(Supply.id).in_(numbers)),
    }
    if subject not in queries or not numbers:
        return {}
    return {str(number): str(name) for number, name in session.execute(queries[subject])}


def deliveries(session: Session, delivery_ids: Collection[int]) -> dict[int, tuple[str, str | None]]:
    """By delivery: who brought it, and the number of its slip."""
    query = (
        select(col(Delivery.id), col(Supplier.name), col(Delivery.slip_no))
        .join(Supplier, col(Supplier.id) == col(Delivery.supplier_id))
        .where(col(Delivery.id).in_(delivery_ids))
    )
    return {number: (name, slip) for number, name, slip in session.execute(query)}

"""Recall notices: what they name, the lots that may be meant, what became of them, and the cases that used them."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import exists, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from inventory.domain.notices import LotFacts, Match
from inventory.domain.vocabulary import ContactStatus, DocumentKind, PlaceRole
from inventory.store.tables import (
    Barcode,
    Delivery,
    DeliveryLine,
    Document,
    Hold,
    Holding,
    Item,
    Lot,
    Movement,
    Notice,
    NoticeCase,
    NoticeScope,
    PackContent,
    Person,
    Place,
    Supply,
)

AT_ONCE = 500  # parameters of one statement


@dataclass(frozen=True, slots=True)
class Membership:
    """A hold for a notice: the lot with its item, and whether and why it was released as not concerned."""

    notice_id: int
    lot_id: int
    at: datetime
    reason: str
    released_at: datetime | None
    release_reason: str | None


@dataclass(frozen=True, slots=True)
class Dealt:
    """One movement under a notice that stands; ``qty`` signed, in base units."""

    document_id: int
    kind: DocumentKind
    recorded_at: datetime
    on: date
    by: str
    reason: str | None
    proof: str | None
    lot_id: int
    place: str
    role: PlaceRole
    opened_on: date | None
    qty: int


@dataclass(frozen=True, slots=True)
class Contact:
    """How far the patient of a case was told, by whom it was noted, and when."""

    case_ref: str
    status: ContactStatus
    at: datetime
    by: str
    note: str


def notices(session: Session, *, open_only: bool = False) -> list[Notice]:
    """Notices, the open ones first, newest first."""
    query = select(Notice).order_by(col(Notice.state).desc(), col(Notice.notice_on).desc(), col(Notice.id).desc())
    if open_only:
        query = query.where(col(Notice.state) == "open")
    return list(session.execute(query).scalars())


def with_work(session: Session) -> list[Notice]:
    """Open notices, and closed ones of which a lot stands somewhere again, newest first."""
    stands = (
        exists()
        .where(col(Hold.notice_id) == col(Notice.id), col(Hold.released_at).is_(None))
        .where(col(Holding.lot_id) == col(Hold.lot_id), col(Holding.on_hand) > 0)
    )
    query = select(Notice).where((col(Notice.state) == "open") | stands).order_by(col(Notice.id).desc())
    return list(session.execute(query).scalars())


def by_reference(session: Session, reference: str, *, lock: bool = False) -> Notice | None:
    """The notice of this reference, capitals and small letters alike where only one fits."""
    query = select(Notice).where(col(Notice.reference) == reference)
    if lock:
        query = query.with_for_update()
    found = session.execute(query).scalar_one_or_none()
    if found is None:
        alike = [row for row in notices(session) if row.reference.casefold() == reference.casefold()]
        found = alike[0] if len(alike) == 1 else None
        if found is not None and lock:
            session.refresh(found, with_for_update=True)
    return found


def scope(session: Session, notice_ids: Collection[int] | None = None) -> list[NoticeScope]:
    """Lines of some notices, or of all, withdrawn ones too, in their order."""
    query = select(NoticeScope).order_by(col(NoticeScope.id))
    if notice_ids is not None:
        query = query.where(col(NoticeScope.notice_id).in_(notice_ids))
    return list(session.execute(query).scalars())


def standing_lines(session: Session) -> list[tuple[Notice, NoticeScope]]:
    """Every line that was not withdrawn, with its notice, open or closed."""
    query = (
        select(Notice, NoticeScope)
        .join(NoticeScope, col(NoticeScope.notice_id) == col(Notice.id))
        .where(col(NoticeScope.withdrawn_at).is_(None))
        .order_by(col(NoticeScope.id))
    )
    return [(notice, line) for notice, line in session.execute(query)]


def known_codes(session: Session) -> list[tuple[str, int, Match]]:
    """Every code of the catalogue with its article: of packages, of suppliers, and of what else is in a pack."""
    codes = select(col(Barcode.code), col(Barcode.item_id)).where(col(Barcode.scheme) != "own")
    numbers = select(col(Supply.catalogue_no), col(Supply.item_id)).distinct()
    inside = select(col(Supply.catalogue_no), col(PackContent.item_id)).join(
        PackContent, col(PackContent.supply_id) == col(Supply.id)
    )
    return [
        *((code, item_id, Match.SURE) for code, item_id in session.execute(codes)),
        *((code, item_id, Match.SURE) for code, item_id in session.execute(numbers)),
        *((code, item_id, Match.PERHAPS) for code, item_id in session.execute(inside.distinct())),
    ]


def lots_of_items(session: Session, item_ids: Collection[int] | None) -> list[int]:
    """Numbers of the lots of some articles; of all where None."""
    query = select(col(Lot.id)).order_by(col(Lot.id))
    if item_ids is not None:
        query = query.where(col(Lot.item_id).in_(item_ids))
    return list(session.execute(query).scalars())


def facts(session: Session, lot_ids: Collection[int]) -> dict[int, LotFacts]:
    """What lots are known by, with the days on which deliveries that stand brought some of them."""
    found: dict[int, LotFacts] = {}
    for some in batches(lot_ids):
        came = _came(session, some)
        query = select(
            col(Lot.id), col(Lot.item_id), col(Lot.number), col(Lot.number_is_ours), col(Lot.first_received_on)
        ).where(col(Lot.id).in_(some))
        for lot_id, item_id, number, ours, first in session.execute(query):
            days = tuple(sorted(came.get(lot_id, ())))
            there_by = first if not days or first < days[0] else None
            found[lot_id] = LotFacts(item_id, number, ours, days, there_by)
    return found


def _came(session: Session, lot_ids: Collection[int]) -> dict[int, set[date]]:
    undoing = aliased(Document)
    query = (
        select(col(DeliveryLine.lot_id), col(Delivery.received_on))
        .join(Delivery, col(Delivery.id) == col(DeliveryLine.delivery_id))
        .where(
            col(DeliveryLine.lot_id).in_(lot_ids),
            ~exists().where(col(undoing.reverses_id) == col(DeliveryLine.document_id)),
        )
    )
    found: dict[int, set[date]] = defaultdict(set)
    for lot_id, on in session.execute(query):
        found[lot_id].add(on)
    return found


def lots(session: Session, lot_ids: Collection[int]) -> dict[int, tuple[Lot, Item]]:
    """Lots with their articles, by number."""
    found: dict[int, tuple[Lot, Item]] = {}
    for some in batches(lot_ids):
        query = select(Lot, Item).join(Item, col(Item.id) == col(Lot.item_id)).where(col(Lot.id).in_(some))
        found.update((lot.id or 0, (lot, item)) for lot, item in session.execute(query))
    return found


def memberships(
    session: Session, *, notice_ids: Collection[int] | None = None, lot_ids: Collection[int] | None = None
) -> list[Membership]:
    """Holds for notices, of some notices or of some lots, oldest first."""
    query = select(
        col(Hold.notice_id), col(Hold.lot_id), col(Hold.at), col(Hold.reason), col(Hold.released_at),
        col(Hold.release_reason),
    ).order_by(col(Hold.id))  # fmt: skip
    if notice_ids is not None:
        query = query.where(col(Hold.notice_id).in_(notice_ids))
    if lot_ids is not None:
        query = query.where(col(Hold.notice_id).is_not(None), col(Hold.lot_id).in_(lot_ids))
    return [Membership(*row) for row in session.execute(query)]


def open_holds_of(session: Session, notice_id: int, lot_ids: Collection[int]) -> list[Hold]:
    """Holds of some lots for one notice that are not released, to change them."""
    query = select(Hold).where(
        col(Hold.notice_id) == notice_id, col(Hold.lot_id).in_(lot_ids), col(Hold.released_at).is_(None)
    )
    return list(session.execute(query).scalars())


def notice_of(session: Session, holding_ids: Collection[int], lot_ids: Collection[int]) -> int | None:
    """A notice for which the lots of some holdings, or some lots, are on hold; the newest of several."""
    held = select(col(Holding.lot_id)).where(col(Holding.id).in_(holding_ids))
    query = (
        select(col(Hold.notice_id))
        .where(
            col(Hold.lot_id).in_(held) | col(Hold.lot_id).in_(lot_ids),
            col(Hold.released_at).is_(None), col(Hold.notice_id).is_not(None),
        )
        .order_by(col(Hold.notice_id).desc())
        .limit(1)
    )  # fmt: skip
    return session.execute(query).scalar_one_or_none()


def dealt(session: Session, lot_ids: Collection[int]) -> list[Dealt]:
    """What was set aside, counted, returned or destroyed of some lots for notices; what was undone left out."""
    undoing = aliased(Document)
    query = (
        select(
            col(Document.id), col(Document.kind), col(Document.recorded_at), col(Document.happened_on),
            col(Person.initials), col(Document.reason), col(Document.proof), col(Holding.lot_id), col(Place.name),
            col(Place.role), col(Holding.opened_on), col(Movement.qty),
        )
        .select_from(Holding)
        .join(Movement, col(Movement.holding_id) == col(Holding.id))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .join(Person, col(Person.id) == col(Document.person_id))
        .join(Place, col(Place.id) == col(Holding.place_id))
        .outerjoin(undoing, col(undoing.reverses_id) == col(Document.id))
        .where(
            col(Holding.lot_id).in_(lot_ids), col(Document.notice_id).is_not(None),
            col(Document.kind) != DocumentKind.REVERSAL, col(undoing.id).is_(None),
        )
        .order_by(col(Movement.id))
    )  # fmt: skip
    return [Dealt(*row) for row in session.execute(query)]


def contacts(session: Session, notice_ids: Collection[int]) -> dict[int, dict[str, Contact]]:
    """Contact notes by notice and case."""
    query = (
        select(
            col(NoticeCase.notice_id), col(NoticeCase.case_ref), col(NoticeCase.status), col(NoticeCase.at),
            col(Person.initials), col(NoticeCase.note),
        )
        .join(Person, col(Person.id) == col(NoticeCase.person_id))
        .where(col(NoticeCase.notice_id).in_(notice_ids))
    )  # fmt: skip
    found: dict[int, dict[str, Contact]] = defaultdict(dict)
    for notice_id, *said in session.execute(query):
        found[notice_id][said[0]] = Contact(*said)
    return found


def contact_row(session: Session, notice_id: int, case_ref: str) -> NoticeCase | None:
    """The contact note of a case, to change it."""
    return session.get(NoticeCase, (notice_id, case_ref), with_for_update=True)


def set_aside_places(session: Session) -> list[str]:
    """Names of the places where stock is set aside, in the order in which they are walked."""
    query = (
        select(col(Place.name))
        .where(col(Place.role) == PlaceRole.SET_ASIDE, col(Place.active))
        .order_by(col(Place.walk_order), col(Place.id))
    )
    return list(session.execute(query).scalars())


def batches(keys: Collection[int]) -> Iterator[Sequence[Any]]:
    """So many at once that no store meets its limit of parameters."""
    ordered = sorted(keys)
    for start in range(0, len(ordered), AT_ONCE):
        yield ordered[start : start + AT_ONCE]

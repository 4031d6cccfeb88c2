"""Parcels to the laboratory as people look at them: what is to be sent, by when it is poured, what came of it.

A visit that is booked out, of a kind that sends something, has a parcel to be packed, whether or not anybody said so.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from inventory.domain import parcels as rules
from inventory.domain.alerts import Alert
from inventory.domain.parcels import ParcelState, Unsent
from inventory.errors import NotAllowed, NotFound
from inventory.service.practice import Desk, Practice
from inventory.store.queries import laboratory as query
from inventory.store.queries import visits as visit_query
from inventory.store.queries.laboratory import ParcelRow, ShippingVisit, Taken

LOOK_BACK = timedelta(days=14)  # own judgement: what nobody sent for longer than that will not be sent any more


@dataclass(frozen=True, slots=True)
class Parcel:
    """What goes, or went, to the laboratory after a visit; moments in the practice's own time.

    Attributes:
        parcel_id: None while nothing is packed; ``contents`` is then what the case kind usually sends.
        disinfectant: the item's code; ``contact_minutes`` is how long it was left to work.
        taken_at: when the impression was taken, as booked or as said when it was packed.
        pour_by: by the leaflets of what was used; None where none of them states a window.
        late: it is past and not sent.
        remake: the visit that does this one again.
    """

    visit_id: int
    case_ref: str
    on: date
    case_kind: str
    case_kind_name: str
    state: ParcelState
    parcel_id: int | None
    contents: tuple[str, ...]
    disinfectant: str | None
    disinfectant_name: str | None
    contact_minutes: int | None
    taken_at: datetime | None
    pour_by: datetime | None
    late: bool
    carrier: str
    sent_at: datetime | None
    sent_by: str | None
    answered_at: datetime | None
    note: str
    remake: int | None
    version: int


@dataclass(frozen=True, slots=True)
class Parcels:
    """Parcels to look through: what is to be sent first, by when it has to be poured, then the others, newest first."""

    now: datetime
    parcels: tuple[Parcel, ...]
    more: bool = False


@dataclass(frozen=True, slots=True)
class Disinfectant:
    """What an impression may be disinfected with; ``minutes`` as the leaflet states them."""

    code: str
    name: str
    minutes: int


@dataclass(frozen=True, slots=True)
class PackChoices:
    """What a form to pack begins with: the parcel as it stands, disinfectants, and by what parcels were sent lately."""

    now: datetime
    parcel: Parcel
    disinfectants: tuple[Disinfectant, ...]
    carriers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ships:
    """What a case kind usually sends to the laboratory."""

    code: str
    name: str
    contents: tuple[str, ...]


def parcels(practice: Practice, *, state: ParcelState | None = None, case_ref: str = "", limit: int = 200) -> Parcels:
    """Parcels with those still to be packed.

    Args:
        practice: the practice at work.
        state: only those that are so far.
        case_ref: of this case, however old; else of the last two weeks where nothing is packed.
        limit: at most so many.
    """
    with practice.reading() as desk:
        rows = _lately(desk, limit) if not case_ref else query.shipping_visits(desk.session, case_ref=case_ref.strip())
        found = sorted((one for one in _of_visits(desk, rows) if state in (None, one.state)), key=_order)
        return Parcels(desk.now.astimezone(desk.zone), tuple(found[:limit]), len(found) > limit)


def _lately(desk: Desk, limit: int) -> list[ShippingVisit]:
    """The visits of the last two weeks, and those of the parcels packed last, however old."""
    rows = query.shipping_visits(desk.session, since=desk.today - LOOK_BACK)
    older = set(query.packed_last(desk.session, limit + 1)) - {row.id for row in rows}
    return [*rows, *query.shipping_visits(desk.session, visit_ids=older)]


def _order(parcel: Parcel) -> tuple[bool, bool, float]:
    """Unsent ones first, what is to be poured first before the others; then what was not answered; then by day."""
    if parcel.state.unsent:
        return False, parcel.pour_by is None, parcel.pour_by.timestamp() if parcel.pour_by else parcel.on.toordinal()
    return True, not parcel.state.open, -(parcel.sent_at.timestamp() if parcel.sent_at else 0)


def of_visit(practice: Practice, visit_id: int) -> Parcel:
    """The parcel of a visit that is booked out, packed or not.

    Raises:
        NotFound: there is no such visit.
        NotAllowed: it is not booked out.
    """
    with practice.reading() as desk:
        return within(desk, visit_id)


def choices(practice: Practice, visit_id: int) -> PackChoices:
    """What a form to pack or to send begins with.

    Raises:
        NotFound: there is no such visit.
        NotAllowed: it is not booked out.
    """
    with practice.reading() as desk:
        found = tuple(
            Disinfectant(code, name, minutes or 0) for code, name, minutes in query.disinfectants(desk.session)
        )
        carriers = tuple(query.carriers(desk.session, 10))
        return PackChoices(desk.now.astimezone(desk.zone), within(desk, visit_id), found, carriers)


def ships(practice: Practice) -> tuple[Ships, ...]:
    """What each case kind usually sends."""
    with practice.reading() as desk:
        return tuple(
            Ships(kind.code, kind.name, tuple(kind.ships))
            for kind in visit_query.case_kinds(desk.session)
            if kind.active
        )


def not_sent(desk: Desk) -> Iterator[Alert]:
    """Lines of the day: what is not on its way though it has to be poured soon, or had to be."""
    rows = [row for row in query.shipping_visits(desk.session, since=desk.today - LOOK_BACK) if row.ships]
    unsent = (
        Unsent(one.visit_id, one.case_ref, one.case_kind_name, one.parcel_id is not None, one.taken_at, one.pour_by)
        for one in _of_visits(desk, rows)
        if one.state.unsent and one.taken_at is not None and one.pour_by is not None
    )
    return rules.not_sent(unsent, desk.now.astimezone(desk.zone), int(desk.settings["pour_warn_hours"]))


def within(desk: Desk, visit_id: int) -> Parcel:
    """The parcel of a visit inside another service's unit of work."""
    rows = query.shipping_visits(desk.session, visit_ids=[visit_id])
    if not rows:
        row = visit_query.visit(desk.session, visit_id)
        if row is None:
            raise NotFound(f"There is no visit {visit_id}.", "Look it up in the list of visits.")
        raise NotAllowed(
            f"The visit of case {row.case_ref} is {row.state}.", "Book it out first, then pack its parcel."
        )
    return next(_of_visits(desk, rows, all_kinds=True))


def _of_visits(desk: Desk, rows: Sequence[ShippingVisit], *, all_kinds: bool = False) -> Iterator[Parcel]:
    """The latest parcel of each visit; visits of which nothing was packed and nothing usually goes are left out."""
    numbers = [row.id for row in rows]
    packed = {one.visit_id: one for one in query.parcels(desk.session, numbers)}  # the latest of each visit
    wanted = [row for row in rows if row.ships or row.id in packed or all_kinds]
    taken = query.taken(desk.session, [row.id for row in wanted])
    again = query.remakes(desk.session, [row.id for row in wanted])
    for row in wanted:
        yield _parcel(desk, row, packed.get(row.id), taken.get(row.id), again.get(row.id))


def _parcel(desk: Desk, row: ShippingVisit, made: ParcelRow | None, taken: Taken | None, again: int | None) -> Parcel:
    at = made.taken_at if made is not None and made.taken_at else taken.at if taken else None
    sent = made is not None and made.sent_at is not None
    windows = [taken.within_hours] if taken else []
    pour_by = made.pour_by if made is not None and sent else rules.pour_by(at, windows)
    state = rules.state_of(packed=made is not None, sent=sent, answer=made.answer if made else None)
    return Parcel(
        visit_id=row.id, case_ref=row.case_ref, on=row.on, case_kind=row.case_kind, case_kind_name=row.case_kind_name,
        state=state, parcel_id=made.id if made else None, contents=tuple(made.contents if made else row.ships),
        disinfectant=made.disinfectant if made else None,
        disinfectant_name=made.disinfectant_name if made else None,
        contact_minutes=made.contact_minutes if made else None,
        taken_at=_local(desk, at), pour_by=_local(desk, pour_by),
        late=state.unsent and pour_by is not None and pour_by <= desk.now, carrier=made.carrier if made else "",
        sent_at=_local(desk, made.sent_at if made else None), sent_by=made.sent_by if made else None,
        answered_at=_local(desk, made.answered_at if made else None), note=made.answer_note if made else "",
        remake=again, version=made.version if made else 0,
    )  # fmt: skip


def _local(desk: Desk, at: datetime | None) -> datetime | None:
    return None if at is None else at.astimezone(desk.zone)

"""To the laboratory: what was packed for a visit, when and how it was sent, and what the laboratory answered.

A parcel belongs to a visit that is booked out, and begins with what its case kind usually sends. It is disinfected,
packed, sent, and then received or rejected; a rejected one can be planned again at once, as a remake that the
laboratory asked for. By when it has to be poured follows from the materials really used: the shortest of their windows.

Every step says the same thing when it is said twice: packed again with the same content, sent again, answered again, it
stays what it is. Patient names never enter: a parcel carries the case reference.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from inventory.domain import parcels as rules
from inventory.domain.vocabulary import LaboratoryAnswer, RemakeAskedBy
from inventory.domain.words import clean
from inventory.errors import AlreadyDone, BadInput, NeedsConfirmation, NotAllowed, NotFound
from inventory.service import visits
from inventory.service.parcels import (
    PackChoices,
    Parcel,
    Parcels,
    Ships,
    choices,
    not_sent,
    of_visit,
    parcels,
    ships,
    within,
)
from inventory.service.practice import Desk, Practice
from inventory.service.visits import VisitCard, VisitPlan
from inventory.store.queries import catalogue
from inventory.store.queries import laboratory as query
from inventory.store.queries import visits as visit_query
from inventory.store.tables import Shipment, Visit

__all__ = [
    "Answered", "PackChoices", "Packing", "Parcel", "Parcels", "Ships", "answer", "choices", "not_sent", "of_visit",
    "pack", "parcels", "send", "set_ships", "ships", "take_back", "within",
]  # fmt: skip

MOST_THINGS = 20
MOST_MINUTES = 24 * 60
NO_NAMES = "No patient names: the case reference only."


@dataclass(frozen=True, slots=True)
class Packing:
    """What is in a parcel, in words.

    ``disinfectant`` is an item's code, empty where nothing was disinfected. ``contact_minutes`` None: what the leaflet
    states. ``taken_at`` None: as the visit was booked; a moment without zone is the practice's own time.
    """

    visit_id: int
    contents: tuple[str, ...]
    disinfectant: str = ""
    contact_minutes: int | None = None
    taken_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Answered:
    """A parcel that the laboratory answered, and the visit planned because of it."""

    parcel: Parcel
    remake: VisitCard | None = None


def pack(practice: Practice, packing: Packing, *, by: str, confirmed: bool = False) -> Parcel:
    """Say what is in the parcel of a visit and how it was disinfected; a parcel not sent yet is packed anew.

    Args:
        practice: the practice at work.
        packing: what is in it.
        by: initials.
        confirmed: a person has said yes to what is unusual.

    Raises:
        BadInput: a field is not valid; the message names it.
        NotFound: no such visit or disinfectant.
        NotAllowed: the visit is not booked out.
        NeedsConfirmation: a parcel of this visit was sent already, or the disinfectant had less time than it needs.
    """
    contents = _things(packing.contents)
    with practice.writing() as desk:
        person_id = desk.person(by)
        _lock(desk, packing.visit_id)
        before = within(desk, packing.visit_id)
        item_id, minutes, stated = _disinfected(desk, packing)
        taken_at = _moment(desk, packing.taken_at, "taken") or before.taken_at
        row = query.latest(desk.session, packing.visit_id)
        odd = [] if confirmed else [*_odd(desk, before, minutes, stated, row)]
        if odd:
            raise NeedsConfirmation("\n".join(odd), "Check it, then confirm.")
        if row is None or row.sent_at is not None:
            row = Shipment(visit_id=packing.visit_id)
            desk.add(row)
        facts = {
            "contents": contents, "disinfectant_id": item_id, "contact_minutes": minutes, "taken_at": taken_at,
            "pour_by": _pour_by(desk, packing.visit_id, taken_at),
        }  # fmt: skip
        _save(desk, person_id, row, facts)
        return within(desk, packing.visit_id)


def send(
    practice: Practice, visit_id: int, carrier: str, *, by: str, at: datetime | None = None, confirmed: bool = False
) -> Parcel:
    """Say that the parcel of a visit is on its way.

    Args:
        practice: the practice at work.
        visit_id: whose.
        carrier: by what it went, in words: courier, post, somebody's initials.
        by: initials.
        at: when; None: now. Without zone it is the practice's own time.
        confirmed: a person has said yes to what is unusual.

    Raises:
        BadInput: nothing is said of the way, or the moment can't be.
        NotFound: no such visit.
        NotAllowed: nothing is packed.
        AlreadyDone: it was sent, and by something else.
        NeedsConfirmation: it had to be poured before it was sent.
    """
    carrier = clean(carrier, "sent by", 80)
    with practice.writing() as desk:
        person_id = desk.person(by)
        _lock(desk, visit_id)
        before, row = within(desk, visit_id), query.latest(desk.session, visit_id)
        if row is None:
            raise NotAllowed(f"Nothing is packed for case {before.case_ref}.", "Pack it first, then send it.")
        if row.sent_at is not None:
            if row.carrier == carrier:
                return before
            raise AlreadyDone(f"It was sent already, by {row.carrier}.", "Take that back first if it was wrong.")
        sent_at = _moment(desk, at, "sent") or desk.now
        if before.taken_at is not None and sent_at < before.taken_at:
            raise BadInput(f"sent: it was taken at {before.taken_at:%Y-%m-%d %H:%M} only.", "Correct the moment.")
        if before.pour_by is not None and sent_at > before.pour_by and not confirmed:
            raise NeedsConfirmation(
                f"It had to be poured by {before.pour_by:%Y-%m-%d %H:%M}.",
                "Ask the laboratory whether it still can be; confirm if it goes all the same.",
            )
        facts = {"carrier": carrier, "sent_at": sent_at, "sent_by_id": person_id, "pour_by": before.pour_by}
        _save(desk, person_id, row, facts)
        return within(desk, visit_id)


def answer(
    practice: Practice,
    visit_id: int,
    said: LaboratoryAnswer,
    *,
    by: str,
    note: str = "",
    remake_on: date | None = None,
) -> Answered:
    """Say what the laboratory answered; a rejected parcel may lead to a remake at once.

    Args:
        practice: the practice at work.
        visit_id: whose parcel.
        said: received or rejected.
        by: initials.
        note: why it was rejected, or what else was said; no patient names.
        remake_on: plan a remake of the visit for this day, asked for by the laboratory.

    Raises:
        BadInput: rejected without a reason, or a remake of what was received.
        NotFound: no such visit.
        NotAllowed: nothing was sent.
        AlreadyDone: the laboratory answered otherwise before.
    """
    note = clean(note, "note", 500, needed=said is LaboratoryAnswer.REJECTED)
    if remake_on is not None and said is LaboratoryAnswer.RECEIVED:
        raise BadInput("remake: what was received is not done again.", "Leave the day out.")
    with practice.writing() as desk:
        person_id = desk.person(by)
        _lock(desk, visit_id)
        before, row = within(desk, visit_id), query.latest(desk.session, visit_id)
        if row is None or row.sent_at is None:
            raise NotAllowed(f"Nothing of case {before.case_ref} was sent.", "Say first that it was sent.")
        if row.answer not in (None, said):
            raise AlreadyDone(f"The laboratory {row.answer} it already.", "Take that back first if it was wrong.")
        if row.answer is None:
            _save(desk, person_id, row, {"answer": said, "answered_at": desk.now, "answer_note": note})
        remake = _remake(desk, person_id, visit_id, remake_on, note) if remake_on is not None else None
        return Answered(within(desk, visit_id), remake)


def take_back(practice: Practice, visit_id: int, *, reason: str, by: str) -> Parcel:
    """Take the last step of a parcel back, said by mistake: the laboratory's answer, else that it was sent.

    Raises:
        BadInput: no reason is given.
        NotFound: no such visit.
        NotAllowed: it was not sent.
    """
    reason = clean(reason, "reason", 500)
    with practice.writing() as desk:
        person_id = desk.person(by)
        _lock(desk, visit_id)
        before, row = within(desk, visit_id), query.latest(desk.session, visit_id)
        if row is None or row.sent_at is None:
            raise NotAllowed(f"Nothing of case {before.case_ref} was sent.", "A parcel not sent yet is packed anew.")
        sent: dict[str, Any] = {"sent_at": None, "sent_by_id": None, "carrier": ""}
        answered: dict[str, Any] = {"answer": None, "answered_at": None, "answer_note": ""}
        _save(desk, person_id, row, sent if row.answer is None else answered, reason)
        return within(desk, visit_id)


def set_ships(practice: Practice, case_kind: str, contents: Iterable[str], *, by: str, reason: str = "") -> Ships:
    """Say what a case kind usually sends to the laboratory; nothing at all: its visits have no parcel.

    Raises:
        NotFound: no such case kind.
        BadInput: a thing is not valid, or too many.
    """
    things = _things(contents, needed=False)
    with practice.writing() as desk:
        person_id = desk.person(by)
        kinds = {kind.code: kind for kind in visit_query.case_kinds(desk.session)}
        row = kinds.get(case_kind.strip())
        if row is None:
            raise NotFound(f"There is no case kind {case_kind!r}.", f"Known are: {', '.join(kinds)}.")
        changes = {"ships": ("; ".join(row.ships), "; ".join(things))}
        row.ships = things
        desk.session.add(row)
        desk.log_change(person_id, "case_kind", row.code, changes, clean(reason, "reason", 500, needed=False))
        return Ships(row.code, row.name, tuple(things))


def _things(contents: Iterable[str], *, needed: bool = True) -> list[str]:
    things = list(dict.fromkeys(filter(None, (clean(one, "contents", 80, needed=False) for one in contents))))
    if needed and not things:
        raise BadInput("contents: nothing is in it.", "Say what goes to the laboratory.")
    if len(things) > MOST_THINGS:
        raise BadInput(f"contents: {len(things)} things, at most {MOST_THINGS} are kept.", "Say it shorter.")
    return things


def _lock(desk: Desk, visit_id: int) -> None:
    """Let two workstations pack or send one visit's parcel one after the other."""
    desk.session.get(Visit, visit_id, with_for_update=True)


def _disinfected(desk: Desk, packing: Packing) -> tuple[int | None, int | None, int | None]:
    """The disinfectant, how long it was left to work, and what its leaflet states."""
    code = packing.disinfectant.strip().upper()
    if not code:
        if packing.contact_minutes is not None:
            raise BadInput("disinfectant: minutes are given, but not of what.", "Name the disinfectant.")
        return None, None, None
    item = catalogue.item_by_code(desk.session, code)
    if item is None:
        raise NotFound(f"There is no item {code!r}.", "Look it up in the list of items.")
    if item.contact_minutes is None:
        raise BadInput(
            f"disinfectant: {item.name} has no contact time.", "Name a disinfectant, or give the item its minutes."
        )
    minutes = item.contact_minutes if packing.contact_minutes is None else packing.contact_minutes
    if not 1 <= minutes <= MOST_MINUTES:
        raise BadInput(f"contact time: {minutes} minutes can't be.", f"Type 1 to {MOST_MINUTES}.")
    return item.id, minutes, item.contact_minutes


def _odd(desk: Desk, before: Parcel, minutes: int | None, stated: int | None, row: Shipment | None) -> Iterator[str]:
    """What is unusual about packing it so."""
    if row is not None and row.sent_at is not None:
        sent = row.sent_at.astimezone(desk.zone)
        yield f"A parcel of case {before.case_ref} was sent on {sent:%Y-%m-%d}; this would be another one."
    if minutes is not None and stated is not None and minutes < stated:
        yield f"The disinfectant had {minutes} minutes; its leaflet states {stated}."


def _moment(desk: Desk, at: datetime | None, what: str) -> datetime | None:
    """A moment as typed, in the practice's own time where it names no zone; none to come."""
    if at is None:
        return None
    at = at.replace(tzinfo=desk.zone) if at.tzinfo is None else at
    if at > desk.now:
        raise BadInput(f"{what}: {at:%Y-%m-%d %H:%M} is still to come.", "Give the moment it happened.")
    return at


def _pour_by(desk: Desk, visit_id: int, taken_at: datetime | None) -> datetime | None:
    taken = query.taken(desk.session, [visit_id]).get(visit_id)
    return rules.pour_by(taken_at, [taken.within_hours] if taken else [])


def _save(desk: Desk, person_id: int, row: Shipment, facts: dict[str, Any], reason: str = "") -> None:
    """Change a parcel's row and log what is different; nothing different leaves it as it is."""
    changes = {name: (_said(desk, getattr(row, name)), _said(desk, value)) for name, value in facts.items()}
    if all(old == new for old, new in changes.values()):
        return
    for name, value in facts.items():
        setattr(row, name, value)
    row.version += 1
    desk.session.flush()
    changes.pop("sent_by_id", None)  # whoever changes it, as the log has it anyway
    desk.log_change(person_id, "parcel", row.visit_id, changes, reason)


def _said(desk: Desk, value: object) -> object:
    """A value as the log of changes keeps it."""
    if isinstance(value, list):
        return "; ".join(map(str, value)) or None
    if isinstance(value, datetime):
        return f"{value.astimezone(desk.zone):%Y-%m-%d %H:%M}"
    return value or None


def _remake(desk: Desk, person_id: int, visit_id: int, on: date, note: str) -> VisitCard:
    """The remake that the laboratory asks for, planned once."""
    earlier = visits.card(desk, visit_id)
    again = query.remakes(desk.session, [visit_id]).get(visit_id)
    if again is not None:
        return visits.card(desk, again)
    if on < desk.today:
        raise BadInput(f"remake: {on} has passed.", "Give a day to come.")
    plan = VisitPlan(
        earlier.case_ref, on, earlier.case_kind, upper=earlier.upper, lower=earlier.lower, place=earlier.place,
        remake_of=visit_id, remake_asked_by=RemakeAskedBy.LABORATORY,
    )  # fmt: skip
    return visits.card(desk, visits.plan_within(desk, person_id, plan, reason=note))

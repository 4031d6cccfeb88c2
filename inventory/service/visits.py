"""Plan a visit under its case reference, change or cancel it, and look visits up.

A case may have several visits; a tray size known from an earlier one is carried over. A remake is a new visit linked to
the earlier one, with who asked for it. Patient names never enter: only references in the practice's own format.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime, timedelta
from typing import Any

from inventory.domain.vocabulary import Arch, ItemKind, RemakeAskedBy, VisitState
from inventory.domain.words import clean
from inventory.errors import AlreadyDone, BadInput, NeedsConfirmation, NotAllowed, NotFound
from inventory.service.practice import Desk, Practice
from inventory.store.queries import catalogue
from inventory.store.queries import visits as query
from inventory.store.queries.visits import VisitRow
from inventory.store.tables import CaseKind, Visit

FAR_AHEAD = timedelta(days=366)  # own judgement: a day farther ahead is probably a mistyped year
_CASE_REF = re.compile(r"(?=.*\d)[A-Za-z0-9][A-Za-z0-9/._-]{0,39}")


@dataclass(frozen=True, slots=True)
class VisitPlan:
    """What is known of a visit beforehand; ``case_kind`` is its code, sizes are tray size labels."""

    case_ref: str
    on: date
    case_kind: str
    upper: bool = True
    lower: bool = True
    upper_size: str | None = None
    lower_size: str | None = None
    place: str | None = None
    remake_of: int | None = None
    remake_asked_by: RemakeAskedBy | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class VisitCard:
    """A visit as screens and commands show it."""

    visit_id: int
    case_ref: str
    on: date
    case_kind: str
    case_kind_name: str
    upper: bool
    lower: bool
    upper_size: str | None
    lower_size: str | None
    place: str | None
    state: VisitState
    remake_of: int | None
    remake_asked_by: RemakeAskedBy | None
    note: str
    version: int
    booked_by: str | None = None
    booked_at: datetime | None = None

    @property
    def arches(self) -> tuple[Arch, ...]:
        return tuple(arch for arch, there in ((Arch.MAXILLARY, self.upper), (Arch.MANDIBULAR, self.lower)) if there)


@dataclass(frozen=True, slots=True)
class KindCard:
    """A case kind to choose from."""

    code: str
    name: str
    technique: str
    uses_tray: bool


def plan(practice: Practice, request: VisitPlan, *, by: str, confirmed: bool = False) -> VisitCard:
    """Plan a visit; a size not given is carried over from the case's latest visit that had one.

    Args:
        practice: the practice at work.
        request: what is known of it.
        by: initials.
        confirmed: a person has said yes to what is unusual.

    Raises:
        BadInput: a field is not valid; the message names it.
        NotFound: unknown case kind, place, tray size or earlier visit.
        NeedsConfirmation: the day has passed or is more than a year ahead, or the case has such a visit on that day.
    """
    with practice.writing() as desk:
        number = plan_within(desk, desk.person(by), request)
        odd = () if confirmed else tuple(_odd(desk, _row(desk, number)))
        if odd:
            raise NeedsConfirmation("\n".join(odd), "Check the day and the case, then confirm.")
        return card(desk, number)


def _odd(desk: Desk, row: VisitRow) -> Iterator[str]:
    """What is unusual about a visit that was just planned."""
    if row.on < desk.today:
        yield f"The day has passed: {row.on}."
    elif row.on - desk.today > FAR_AHEAD:
        yield f"The day is more than a year ahead: {row.on}."
    for other in query.visits(desk.session, since=row.on, until=row.on, case_ref=row.case_ref):
        if other.id != row.id and other.case_kind_id == row.case_kind_id and other.state is not VisitState.CANCELLED:
            yield f"Case {row.case_ref} has a visit of this kind on {row.on} already: visit {other.id}, {other.state}."


def plan_within(desk: Desk, person_id: int, request: VisitPlan, *, reason: str = "", **source: Any) -> int:
    """Plan a visit inside another service's unit of work; returns its number. ``source``: where it came from."""
    values = _checked(desk, request)
    for arch in ("upper", "lower"):
        if getattr(request, arch) and getattr(request, f"{arch}_size") is None:
            values[f"{arch}_size"] = _earlier_size(desk, request, arch, values["case_kind_id"])
    visit_id = desk.add(Visit(**values, **source))
    desk.log_change(person_id, "visit", visit_id, {"state": (None, "planned")}, reason)
    return visit_id


def change(practice: Practice, visit_id: int, request: VisitPlan, *, version: int, by: str) -> VisitCard:
    """Change a planned visit.

    Args:
        practice: the practice at work.
        visit_id: which visit.
        request: all fields as they shall be.
        version: the version that was looked at.
        by: initials.

    Raises:
        AlreadyDone: it is booked or cancelled, or a colleague changed it meanwhile.
        BadInput: a field is not valid.
    """
    with practice.writing() as desk:
        person_id = desk.person(by)
        change_within(desk, person_id, _planned(desk, visit_id, version), request)
        return card(desk, visit_id)


def change_within(desk: Desk, person_id: int, visit: Visit, request: VisitPlan, *, reason: str = "") -> None:
    """Change the row of a visit inside another service's unit of work."""
    values = _checked(desk, request)
    changes = {field: (getattr(visit, field), value) for field, value in values.items()}
    for field, value in values.items():
        setattr(visit, field, value)
    visit.version += 1
    desk.log_change(person_id, "visit", visit.id, changes, reason)
    desk.session.flush()


def cancel(practice: Practice, visit_id: int, *, version: int, reason: str, by: str) -> None:
    """Cancel a planned visit.

    Raises:
        BadInput: no reason is given.
        AlreadyDone: it is booked or cancelled, or a colleague changed it meanwhile.
    """
    reason = clean(reason, "reason", 500)
    with practice.writing() as desk:
        person_id = desk.person(by)
        cancel_within(desk, person_id, _planned(desk, visit_id, version), reason)


def cancel_within(desk: Desk, person_id: int, visit: Visit, reason: str) -> None:
    """Cancel the row of a planned visit inside another service's unit of work."""
    visit.state = VisitState.CANCELLED
    visit.version += 1
    desk.log_change(person_id, "visit", visit.id, {"state": ("planned", "cancelled")}, reason)


def one(practice: Practice, visit_id: int) -> VisitCard:
    """One visit, with who booked it.

    Raises:
        NotFound: there is none with this number.
    """
    with practice.reading() as desk:
        return _card(desk, _row(desk, visit_id))


def upcoming(practice: Practice, *, days: int | None = None, overdue_days: int = 14) -> tuple[VisitCard, ...]:
    """Planned visits of the next days (default: the practice's horizon), late ones first."""
    with practice.reading() as desk:
        today = desk.today
        until = today + timedelta(days=days if days is not None else desk.settings["horizon_days"])
        since = today - timedelta(days=overdue_days)
        rows = query.visits(desk.session, since=since, until=until, state=VisitState.PLANNED)
        return cards(desk, rows)


def between(practice: Practice, since: date, until: date, *, state: VisitState | None = None) -> tuple[VisitCard, ...]:
    """All visits of a period, inclusive."""
    with practice.reading() as desk:
        return cards(desk, query.visits(desk.session, since=since, until=until, state=state))


def of_case(practice: Practice, case_ref: str) -> tuple[VisitCard, ...]:
    """All visits of a case, newest first."""
    with practice.reading() as desk:
        rows = query.visits(desk.session, case_ref=case_ref.strip(), newest_first=True)
        return cards(desk, rows)


def case_refs(practice: Practice, beginning: str = "", limit: int = 20) -> tuple[str, ...]:
    """Case references to choose from while typing."""
    with practice.reading() as desk:
        return tuple(query.case_refs(desk.session, beginning.strip(), limit))


def kinds(practice: Practice) -> tuple[KindCard, ...]:
    """Case kinds to choose from."""
    with practice.reading() as desk:
        needs = query.needs(desk.session)
        return tuple(
            KindCard(kind.code, kind.name, kind.technique, _uses_tray(needs, kind))
            for kind in query.case_kinds(desk.session)
            if kind.active
        )


def _uses_tray(needs: dict[int, tuple[query.NeedRow, ...]], kind: CaseKind) -> bool:
    return any(need.kind is ItemKind.TRAY for need in needs.get(kind.id or 0, ()))


def card(desk: Desk, visit_id: int) -> VisitCard:
    """The card of a visit inside another service's unit of work."""
    return _card(desk, _row(desk, visit_id))


def _row(desk: Desk, visit_id: int) -> VisitRow:
    row = query.visit(desk.session, visit_id)
    if row is None:
        raise NotFound(f"There is no visit {visit_id}.", "Look it up in the list of visits.")
    return row


def _planned(desk: Desk, visit_id: int, version: int) -> Visit:
    """The visit's row, if it is still planned and as it was looked at."""
    row = desk.session.get(Visit, visit_id, with_for_update=True)
    if row is None:
        raise NotFound(f"There is no visit {visit_id}.", "Look it up in the list of visits.")
    if row.state is not VisitState.PLANNED:
        raise AlreadyDone(f"The visit of case {row.case_ref} is {row.state} already.", "Open it again to see how.")
    if row.version != version:
        raise AlreadyDone(f"A colleague changed the visit of case {row.case_ref} meanwhile.", "Open it again.")
    return row


def cards(desk: Desk, rows: Sequence[VisitRow]) -> tuple[VisitCard, ...]:
    """The cards of visits already read, in their order."""
    booked = query.bookings(desk.session, [row.id for row in rows if row.state is VisitState.DONE])
    return tuple(_of(row, booked.get(row.id)) for row in rows)


def _card(desk: Desk, row: VisitRow) -> VisitCard:
    return cards(desk, [row])[0]


def _of(row: VisitRow, booked: tuple[str, datetime] | None) -> VisitCard:
    return VisitCard(
        visit_id=row.id, case_ref=row.case_ref, on=row.on, case_kind=row.case_kind,
        case_kind_name=row.case_kind_name, upper=row.upper, lower=row.lower, upper_size=row.upper_size,
        lower_size=row.lower_size, place=row.place_name, state=row.state, remake_of=row.remake_of_id,
        remake_asked_by=row.remake_asked_by, note=row.note, version=row.version,
        booked_by=booked[0] if booked else None, booked_at=booked[1] if booked else None,
    )  # fmt: skip


def _checked(desk: Desk, request: VisitPlan) -> dict[str, Any]:
    """The request as columns of a visit, every field checked."""
    if not (request.upper or request.lower):
        raise BadInput("arch: neither upper nor lower is chosen.", "Choose at least one.")
    if (request.remake_of is None) != (request.remake_asked_by is None):
        raise BadInput("remake: give the earlier visit and who asked for it.", "Fill both fields or neither.")
    kind = _case_kind(desk, request.case_kind)
    values: dict[str, Any] = {
        field.name: getattr(request, field.name)
        for field in fields(request)
        if field.name not in ("case_kind", "place", "remake_of")
    }
    values["case_ref"] = checked_case_ref(request.case_ref)
    values["note"] = clean(request.note, "note", 500, needed=False)
    values["case_kind_id"] = kind.id
    values["place_id"] = desk.place(request.place).id if request.place else None
    values["remake_of_id"] = request.remake_of
    if request.remake_of is not None:
        earlier = _row(desk, request.remake_of)
        if earlier.case_ref != values["case_ref"]:
            raise NotAllowed(f"remake: visit {earlier.id} belongs to case {earlier.case_ref}.", "Check the case.")
    values["upper_size"] = _size(desk, kind, Arch.MAXILLARY, request.upper_size if request.upper else None)
    values["lower_size"] = _size(desk, kind, Arch.MANDIBULAR, request.lower_size if request.lower else None)
    return values


def checked_case_ref(text: str) -> str:
    """A case reference in the practice's format: letters, digits and ``/ . _ -``, with at least one digit.

    Raises:
        BadInput: it is not; most names fail here, which is the purpose.
    """
    text = text.strip()
    if not _CASE_REF.fullmatch(text):
        raise BadInput(
            f"case reference: {text!r} is not a reference.",
            "Use letters, digits and / . _ - with at least one digit, up to 40 characters; no patient names.",
        )
    return text


def _case_kind(desk: Desk, code: str) -> CaseKind:
    kinds = query.case_kinds(desk.session)
    for kind in kinds:
        if kind.code == code and kind.active:
            return kind
    known = ", ".join(kind.code for kind in kinds if kind.active)
    raise NotFound(f"case kind: there is no {code!r}.", f"Known are: {known or 'none yet'}.")


def _size(desk: Desk, kind: CaseKind, arch: Arch, label: str | None) -> str | None:
    """The size as the practice writes it, for the tray line that the case kind uses."""
    if not label:
        return None
    lines = sorted(query.tray_lines(desk.session).get(kind.id or 0, ()))
    labels = [known for line in lines for known in catalogue.sizes_of(desk.session, line, arch)]
    for known in labels:
        if known.casefold() == label.strip().casefold():
            return known
    raise NotFound(
        f"tray size: {kind.name} has no {arch} size {label!r}.",
        f"Known are: {', '.join(labels)}." if labels else "This kind of visit uses no stock tray; leave it empty.",
    )


def _earlier_size(desk: Desk, request: VisitPlan, arch: str, kind_id: int) -> str | None:
    """Size of the case's latest visit that had one for this arch, where it used trays of the same line."""
    earlier = query.visits(desk.session, case_ref=request.case_ref.strip(), newest_first=True)
    lines = query.tray_lines(desk.session) if earlier else {}
    for row in earlier:
        size: str | None = row.upper_size if arch == "upper" else row.lower_size
        same_line = lines.get(row.case_kind_id, frozenset()) & lines.get(kind_id, frozenset())
        if size and row.state is not VisitState.CANCELLED and same_line:
            return size
    return None

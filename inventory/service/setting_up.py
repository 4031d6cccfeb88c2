"""Starting a practice in an empty store, and changing what it is made of: settings, people, places, tray lines.

Everything starts from the seed data's case kinds and figures (own judgement, editable) and from a few answers: who
works here, where things stand, which tray lines are used.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from inventory.domain.catalogue import TrayLine, cleaned_line, shares
from inventory.domain.vocabulary import Arch, EstimateSource, ItemKind, PlaceRole, Role, Technique
from inventory.domain.why import Term, derive
from inventory.domain.words import clean, clean_initials
from inventory.errors import AlreadyDone, NotAllowed, NotFound
from inventory.service import defaults
from inventory.service.practice import DEFAULTS, Desk, Practice
from inventory.service.settings_check import checked_settings
from inventory.store.queries import catalogue as queries
from inventory.store.queries import people
from inventory.store.tables import CaseKind, Estimate, Need, Person, Place, Setting, SizePrior, Step, TraySize

COMMON_SIZES = ("S", "M", "L", "XL")


@dataclass(frozen=True, slots=True)
class PersonDraft:
    """Somebody who works here: initials only, never a full name."""

    initials: str
    role: Role = Role.ASSISTANT
    active: bool = True


@dataclass(frozen=True, slots=True)
class PlaceDraft:
    """Where stock stands; only a store room and a chair count as usable."""

    name: str
    role: PlaceRole
    active: bool = True


@dataclass(frozen=True, slots=True)
class PersonView:
    person_id: int
    initials: str
    role: Role
    active: bool


@dataclass(frozen=True, slots=True)
class PlaceView:
    place_id: int
    name: str
    role: PlaceRole
    active: bool


@dataclass(frozen=True, slots=True)
class PracticeState:
    """How far a practice is set up."""

    is_set_up: bool
    people: tuple[PersonView, ...]
    places: tuple[PlaceView, ...]
    tray_lines: tuple[TrayLine, ...]
    items: int
    lots: int
    settings: dict[str, Any]


def default_places(operatories: int = 2) -> tuple[PlaceDraft, ...]:
    """Store room, operatories, reprocessing, laboratory and a place for what is set aside."""
    chairs = tuple(PlaceDraft(f"operatory {number}", PlaceRole.CHAIR) for number in range(1, operatories + 1))
    return (
        PlaceDraft("store room", PlaceRole.STORE),
        *chairs,
        PlaceDraft("reprocessing", PlaceRole.REPROCESSING),
        PlaceDraft("laboratory", PlaceRole.LABORATORY),
        PlaceDraft("set aside", PlaceRole.SET_ASIDE),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """The answers a new practice starts from.

    ``final_line`` and ``preliminary_line`` name the tray line of stock-tray final impressions and of preliminary
    impressions; empty means the first line. ``settings`` are `practice.DEFAULTS` keys with other values.
    """

    people: tuple[PersonDraft, ...]
    places: tuple[PlaceDraft, ...] = field(default_factory=default_places)
    tray_lines: tuple[TrayLine, ...] = (TrayLine("Line 1", COMMON_SIZES, COMMON_SIZES),)
    final_line: str = ""
    preliminary_line: str = ""
    settings: Mapping[str, Any] = field(default_factory=dict)


def practice_state(practice: Practice) -> PracticeState:
    """How far the practice is set up; the first start asks this."""
    with practice.reading() as desk:
        staff = queries.all_people(desk.session)
        return PracticeState(
            is_set_up=bool(staff),
            people=tuple(PersonView(row.id or 0, row.initials, row.role, row.active) for row in staff),
            places=tuple(PlaceView(row.id or 0, row.name, row.role, row.active) for row in people.places(desk.session)),
            tray_lines=queries.tray_lines(desk.session),
            items=queries.count_items(desk.session),
            lots=queries.count_lots(desk.session),
            settings=dict(desk.settings),
        )


def is_set_up(practice: Practice) -> bool:
    """Whether somebody works here already."""
    with practice.reading() as desk:
        return bool(queries.all_people(desk.session))


def set_up(practice: Practice, request: SetUp, *, by: str) -> PracticeState:
    """Make an empty store a practice: people, places, settings, tray lines, case kinds, expected use, size shares.

    Raises:
        AlreadyDone: somebody works here already.
        BadInput: an answer is not valid, or ``by`` is not among the people.
    """
    lines = tuple(cleaned_line(line) for line in request.tray_lines)
    named = _lines_of_techniques(request, lines)
    with practice.writing() as desk:
        if queries.all_people(desk.session):
            raise AlreadyDone("This practice is set up already.", "Change people, places and settings one by one.")
        save_people(desk, None, request.people)
        person_id = desk.person(by)
        save_places(desk, person_id, request.places)
        keep_a_store_room(desk)
        _save_settings(desk, person_id, request.settings, "set up")
        for line in lines:
            save_tray_line(desk, line)
        for kind in defaults.case_kinds():
            _save_case_kind(desk, kind, named.get(kind.technique))
    return practice_state(practice)


def add_person(practice: Practice, draft: PersonDraft, *, by: str) -> PersonView:
    """Add somebody, or change the role of (or take out, or back in) somebody who is known already.

    Raises:
        BadInput: not initials, or unknown ``by``.
        NotAllowed: nobody active would be left.
    """
    with practice.writing() as desk:
        row = save_people(desk, desk.person(by), [draft])[0]
        if not people.active_people(desk.session):
            raise NotAllowed("Nobody would be left who works here.", "Add somebody else first.")
        return PersonView(row.id or 0, row.initials, row.role, row.active)


def add_place(practice: Practice, draft: PlaceDraft, *, by: str) -> PlaceView:
    """Add a place, or change the role of (or take out, or back in) one that exists.

    Raises:
        BadInput: no usable name, or unknown ``by``.
        NotAllowed: stock still stands at a place that is taken out or changes its role, or it is the last store room.
    """
    with practice.writing() as desk:
        row = save_places(desk, desk.person(by), [draft])[0]
        keep_a_store_room(desk)
        return PlaceView(row.id or 0, row.name, row.role, row.active)


def change_settings(practice: Practice, changes: Mapping[str, Any], *, by: str, reason: str = "") -> dict[str, Any]:
    """Change settings that all workstations share; returns all settings.

    Raises:
        BadInput: an unknown setting, or a value it can't have.
    """
    with practice.writing() as desk:
        return _save_settings(desk, desk.person(by), changes, clean(reason, "reason", 500, needed=False))


def save_people(desk: Desk, person_id: int | None, drafts: Sequence[PersonDraft]) -> list[Person]:
    """Add or change people within a unit of work; returns their rows in the drafts' order."""
    known = {row.initials: row for row in queries.all_people(desk.session)}
    rows = []
    for draft in drafts:
        initials = clean_initials(draft.initials)
        row = known.get(initials)
        if row is None:
            row = known[initials] = Person(initials=initials, role=draft.role, active=draft.active)
            desk.add(row)
            _log(desk, person_id, "person", initials, {"role": (None, draft.role)})
        else:
            _change(desk, person_id, "person", row, {"role": draft.role, "active": draft.active})
        rows.append(row)
    desk.session.flush()
    return rows


def save_places(desk: Desk, person_id: int, drafts: Sequence[PlaceDraft]) -> list[Place]:
    """Add or change places within a unit of work; returns their rows in the drafts' order."""
    known = {row.name.casefold(): row for row in people.places(desk.session)}
    rows = []
    for draft in drafts:
        name = clean(draft.name, "place", 60)
        row = known.get(name.casefold())
        if row is None:
            row = Place(name=name, role=draft.role, walk_order=len(known) + 1, active=draft.active)
            known[name.casefold()] = row
            desk.add(row)
            desk.log_change(person_id, "place", name, {"role": (None, draft.role)})
        else:
            if (not draft.active or draft.role is not row.role) and queries.stock_at(desk.session, row.id or 0):
                raise NotAllowed(f"Stock still stands at {row.name}.", "Move it elsewhere first.")
            _change(desk, person_id, "place", row, {"role": draft.role, "active": draft.active})
        rows.append(row)
    desk.session.flush()
    return rows


def save_tray_line(desk: Desk, line: TrayLine) -> None:
    """Add a tray line's sizes with their expected shares within a unit of work; new sizes go behind the known ones."""
    for arch, sizes in ((Arch.MAXILLARY, line.upper), (Arch.MANDIBULAR, line.lower)):
        known = queries.sizes_of(desk.session, line.name, arch)
        new = [size for size in sizes if size not in known]
        for position, size in enumerate(new, start=len(known) + 1):
            desk.session.add(TraySize(line=line.name, arch=arch, label=size, position=position))
        if new:
            _save_shares(desk, line.name, arch, [*known, *new])
    desk.session.flush()
    queries.name_unnamed_tray_needs(desk.session, line.name)


def _save_shares(desk: Desk, line: str, arch: Arch, sizes: Sequence[str]) -> None:
    for size, share in zip(sizes, shares(len(sizes), defaults.size_shares()), strict=True):
        desk.session.merge(SizePrior(line=line, arch=arch, tray_size=size, weight_ppm=share))


def _save_settings(desk: Desk, person_id: int, changes: Mapping[str, Any], reason: str) -> dict[str, Any]:
    checked = checked_settings(changes)
    for key, value in checked.items():
        desk.session.merge(Setting(key=key, value=value))
        desk.log_change(person_id, "setting", key, {"value": (desk.settings[key], value)}, reason)
    desk.session.flush()
    return {**DEFAULTS, **desk.settings, **checked}


def _lines_of_techniques(request: SetUp, lines: Iterable[TrayLine]) -> dict[Technique, str]:
    """The tray line of each technique that takes a stock tray."""
    names = [line.name for line in lines]
    wanted = {Technique.STOCK_TRAY: request.final_line, Technique.PRELIMINARY: request.preliminary_line}
    for name in wanted.values():
        if name and name not in names:
            raise NotFound(f"There is no tray line {name!r}.", f"Named are: {', '.join(names) or 'none'}.")
    return {technique: name or names[0] for technique, name in wanted.items() if name or names}


def _save_case_kind(desk: Desk, kind: defaults.CaseKindDefault, tray_line: str | None) -> None:
    case_kind_id = desk.add(CaseKind(code=kind.code, name=kind.name, technique=kind.technique, ships=list(kind.ships)))
    for position, step in enumerate(kind.steps, start=1):
        for arch in step.arches:
            step_id = desk.add(
                Step(case_kind_id=case_kind_id, code=step.code, name=step.name, position=position, arch=arch)
            )
            for need in step.needs:
                _save_need(desk, step_id, arch, need, tray_line)


def _save_need(desk: Desk, step_id: int, arch: Arch | None, need: defaults.NeedDefault, tray_line: str | None) -> None:
    need_id = desk.add(
        Need(
            step_id=step_id,
            kind=need.kind,
            viscosity=need.viscosity,
            setting_speed=need.setting_speed,
            tray_line=tray_line if need.kind is ItemKind.TRAY else None,
            optional=need.optional,
        )
    )
    found = defaults.figures()[need.figure, arch]
    term = Term(found.source, found.mean_qty, found.base.value)
    desk.add(
        Estimate(
            need_id=need_id,
            source=EstimateSource.DEFAULT,
            mean_qty=found.mean_qty,
            sd_qty=found.sd_qty,
            retake_ppm=found.retake_ppm,
            weight=found.weight,
            as_of=desk.now,
            why=[derive("expected per attempt", [term], "default", found.base.value).as_data()],
        )
    )


def keep_a_store_room(desk: Desk) -> None:
    """Refuse a change that leaves no store room.

    Raises:
        NotAllowed: there would be none.
    """
    if not any(place.role is PlaceRole.STORE and place.active for place in people.places(desk.session)):
        raise NotAllowed("There would be no store room.", "Keep one, or add another first.")


def _change(desk: Desk, person_id: int | None, subject: str, row: Person | Place, new: dict[str, Any]) -> None:
    changes = {name: (getattr(row, name), value) for name, value in new.items()}
    for name, value in new.items():
        setattr(row, name, value)
    _log(desk, person_id, subject, row.initials if isinstance(row, Person) else row.name, changes)


def _log(desk: Desk, person_id: int | None, subject: str, subject_id: str, changes: dict[str, Any]) -> None:
    if person_id is not None:
        desk.log_change(person_id, subject, subject_id, changes)

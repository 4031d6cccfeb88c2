"""Visits, their kinds and what their steps need; which sizes a case had; what was booked."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any

from sqlalchemy import Select, func, insert, select, update
from sqlmodel import Session, col

from inventory.domain.vocabulary import (
    Arch,
    DocumentKind,
    EstimateSource,
    ItemKind,
    MovementKind,
    RemakeAskedBy,
    SettingSpeed,
    Technique,
    Viscosity,
    VisitState,
)
from inventory.store.tables import (
    CaseKind,
    Change,
    Document,
    Estimate,
    Holding,
    Item,
    Lot,
    Movement,
    Need,
    NeedItem,
    Person,
    Place,
    SizePrior,
    Step,
    TrayTrial,
    Visit,
    VisitUse,
)

CHUNK = 500  # names in one statement


@dataclass(frozen=True, slots=True)
class NeedRow:
    """What one step needs, with its present estimate (net of tip and purge, in base units) and the articles for it."""

    need_id: int
    case_kind_id: int
    step: str
    step_name: str
    position: int
    arch: Arch | None
    kind: ItemKind
    viscosity: Viscosity | None
    setting_speed: SettingSpeed | None
    tray_line: str | None
    optional: bool
    mean_qty: int
    sd_qty: int
    retake_ppm: int
    source: EstimateSource
    articles: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class VisitRow:
    """A visit as it stands in the book."""

    id: int
    case_ref: str
    on: date
    case_kind_id: int
    case_kind: str
    case_kind_name: str
    technique: Technique
    upper: bool
    lower: bool
    upper_size: str | None
    lower_size: str | None
    place_id: int | None
    place_name: str | None
    remake_of_id: int | None
    remake_asked_by: RemakeAskedBy | None
    state: VisitState
    note: str
    version: int

    @property
    def arches(self) -> tuple[Arch, ...]:
        return tuple(arch for arch, there in ((Arch.MAXILLARY, self.upper), (Arch.MANDIBULAR, self.lower)) if there)

    def size(self, arch: Arch) -> str | None:
        """Tray size known for an arch."""
        return self.upper_size if arch is Arch.MAXILLARY else self.lower_size


def case_kinds(session: Session) -> list[CaseKind]:
    """All case kinds, active ones and others."""
    return list(session.execute(select(CaseKind).order_by(col(CaseKind.id))).scalars())


@cache
def _needs() -> Select[*tuple[Any, ...]]:
    return (
        select(
            col(Need.id), col(Step.case_kind_id), col(Step.code), col(Step.name), col(Step.position), col(Step.arch),
            col(Need.kind), col(Need.viscosity), col(Need.setting_speed), col(Need.tray_line), col(Need.optional),
        )
        .join(Step, col(Step.id) == col(Need.step_id))
        .order_by(col(Step.case_kind_id), col(Step.position), col(Need.id))
    )  # fmt: skip


def needs(session: Session, case_kind_ids: Collection[int] | None = None) -> dict[int, tuple[NeedRow, ...]]:
    """What the steps of case kinds need, by case kind, in the order of the steps."""
    query = _needs()
    if case_kind_ids is not None:
        query = query.where(col(Step.case_kind_id).in_(case_kind_ids))
    rows = session.execute(query).all()
    estimates = _current_estimates(session)
    articles: dict[int, list[int]] = defaultdict(list)
    links = select(col(NeedItem.need_id), col(NeedItem.item_id)).order_by(col(NeedItem.need_id), col(NeedItem.rank))
    for need_id, item_id in session.execute(links):
        articles[need_id].append(item_id)
    found: dict[int, list[NeedRow]] = defaultdict(list)
    for row in rows:
        values: tuple[Any, ...] = (*row, *estimates.get(row.id, _NO_ESTIMATE), tuple(articles[row.id]))
        found[row.case_kind_id].append(NeedRow(*values))
    return {kind: tuple(group) for kind, group in found.items()}


_Figures = tuple[int, int, int, EstimateSource]
_NO_ESTIMATE: _Figures = (0, 0, 0, EstimateSource.DEFAULT)


def _current_estimates(session: Session) -> dict[int, _Figures]:
    """The newest estimate of each need; a pinned one stays until it is pinned anew or reset to a default."""
    current: dict[int, _Figures] = {}
    query = select(
        col(Estimate.need_id), col(Estimate.mean_qty), col(Estimate.sd_qty), col(Estimate.retake_ppm),
        col(Estimate.source),
    ).order_by(col(Estimate.id))  # fmt: skip
    for need_id, *figures in session.execute(query):
        mean, sd, retake, source = figures
        pinned = current.get(need_id, _NO_ESTIMATE)[3] is EstimateSource.PINNED
        if not (pinned and source is EstimateSource.LEARNED):
            current[need_id] = (mean, sd, retake, source)
    return current


@cache  # a statement is costly to build and never changes
def _visits() -> Select[*tuple[Any, ...]]:
    return (
        select(
            col(Visit.id), col(Visit.case_ref), col(Visit.on), col(CaseKind.id), col(CaseKind.code),
            col(CaseKind.name), col(CaseKind.technique), col(Visit.upper), col(Visit.lower), col(Visit.upper_size),
            col(Visit.lower_size), col(Visit.place_id), col(Place.name), col(Visit.remake_of_id),
            col(Visit.remake_asked_by), col(Visit.state), col(Visit.note), col(Visit.version),
        )
        .join(CaseKind, col(CaseKind.id) == col(Visit.case_kind_id))
        .outerjoin(Place, col(Place.id) == col(Visit.place_id))
    )  # fmt: skip


def visit(session: Session, visit_id: int) -> VisitRow | None:
    """One visit."""
    row = session.execute(_visits().where(col(Visit.id) == visit_id)).one_or_none()
    return None if row is None else VisitRow(*row)


def visits(
    session: Session,
    *,
    since: date | None = None,
    until: date | None = None,
    state: VisitState | None = None,
    case_ref: str | None = None,
    case_part: str = "",
    newest_first: bool = False,
    limit: int | None = None,
) -> list[VisitRow]:
    """Visits by date (inclusive), state, case, or part of a case reference in upper or lower case alike."""
    query = _visits()
    if case_part:
        query = query.where(func.lower(col(Visit.case_ref)).contains(case_part.lower(), autoescape=True))
    if state is not None:
        query = query.where(col(Visit.state) == state)
    if since is not None:
        query = query.where(col(Visit.on) >= since)
    if until is not None:
        query = query.where(col(Visit.on) <= until)
    if case_ref is not None:
        query = query.where(col(Visit.case_ref) == case_ref)
    order = (col(Visit.on).desc(), col(Visit.id).desc()) if newest_first else (col(Visit.on), col(Visit.id))
    return [VisitRow(*row) for row in session.execute(query.order_by(*order).limit(limit))]


def from_calendar(session: Session, series: Collection[str]) -> list[Visit]:
    """The visits that came from these entries of a calendar (the first halves of their keys), as rows, locked."""
    found: list[Visit] = []
    names = sorted(series)
    for start in range(0, len(names), CHUNK):
        half = func.substr(col(Visit.source_key), 1, len(names[0]))
        query = select(Visit).where(col(Visit.source_key).is_not(None), half.in_(names[start : start + CHUNK]))
        found += session.execute(query.order_by(col(Visit.id)).with_for_update()).scalars()
    return found


def case_refs(session: Session, beginning: str, limit: int) -> list[str]:
    """Case references that begin so, newest first."""
    query = (
        select(col(Visit.case_ref))
        .where(col(Visit.case_ref).startswith(beginning, autoescape=True))
        .group_by(col(Visit.case_ref))
        .order_by(func.max(col(Visit.on)).desc())
        .limit(limit)
    )
    return list(session.execute(query).scalars())


def mark_done(session: Session, visit_id: int, version: int) -> bool:
    """Mark a planned visit as done; False where it is not planned any more or was changed meanwhile."""
    result = session.execute(
        update(Visit)
        .where(col(Visit.id) == visit_id, col(Visit.state) == VisitState.PLANNED, col(Visit.version) == version)
        .values(state=VisitState.DONE, version=col(Visit.version) + 1)
        .execution_options(synchronize_session=False)
    )
    return bool(result.rowcount)  # type: ignore[attr-defined]


def before_booking(session: Session, visit_id: int, wanted: Collection[str]) -> dict[str, str | None]:
    """What the latest booking of a visit overwrote in it, by field, as the change log has it.

    Fields that the booking left as planned are not in it.
    """
    of_visit = (col(Change.subject) == "visit", col(Change.subject_id) == str(visit_id))
    booking = (
        select(func.max(col(Change.id)))
        .where(*of_visit, col(Change.field) == "state", col(Change.new) == VisitState.DONE.value)
        .scalar_subquery()
    )
    rows = select(col(Change.field), col(Change.old)).where(
        *of_visit, col(Change.id) > booking, col(Change.field).in_(wanted)
    )
    return {row.field: row.old for row in session.execute(rows)}


def keep_uses(session: Session, uses: Sequence[dict[str, Any]], trials: Sequence[dict[str, Any]]) -> None:
    """Keep the lines of a booked visit and its trays' fate, each table in one statement; rows by column name."""
    if uses:
        session.execute(insert(VisitUse).execution_options(render_nulls=True), uses)
    if trials:
        session.execute(insert(TrayTrial).execution_options(render_nulls=True), trials)


def tray_lines(session: Session) -> dict[int, frozenset[str]]:
    """By case kind: the tray lines that its steps take from."""
    found: dict[int, set[str]] = defaultdict(set)
    query = select(col(Step.case_kind_id), col(Need.tray_line)).join(Step, col(Step.id) == col(Need.step_id))
    for kind, line in session.execute(query.where(col(Need.tray_line).is_not(None))):
        found[kind].add(line)
    return {kind: frozenset(lines) for kind, lines in found.items()}


def booked(session: Session, visit_id: int) -> tuple[str, datetime] | None:
    """Who booked a visit and when; None where no booking of it stands."""
    return bookings(session, [visit_id]).get(visit_id)


def bookings(session: Session, visit_ids: Collection[int]) -> dict[int, tuple[str, datetime]]:
    """Who booked each of some visits and when, where a booking of it stands."""
    if not visit_ids:
        return {}
    reversed_ids = select(col(Document.reverses_id)).where(col(Document.reverses_id).is_not(None))
    query = (
        select(col(Document.visit_id), col(Person.initials), col(Document.recorded_at))
        .join(Person, col(Person.id) == col(Document.person_id))
        .where(
            col(Document.visit_id).in_(visit_ids),
            col(Document.kind).in_((DocumentKind.USE, DocumentKind.TRANSFER)),
            col(Document.id).not_in(reversed_ids),
        )
        .order_by(col(Document.id))
    )
    return {visit_id: (initials, at) for visit_id, initials, at in session.execute(query)}


def used_lots(session: Session, document_ids: Iterable[int]) -> list[Any]:
    """What documents took from which lots; use and purge of one line are one row.

    Each row: item, lot, use-by, how it was read, quantity, base unit, arch, step, attempt, confirmed, late reason.
    """
    first = func.min(col(Movement.id))
    query = (
        select(
            col(Item.name), col(Lot.number), col(Lot.use_by), col(Lot.use_by_read), -func.sum(col(Movement.qty)),
            col(Item.base), col(Movement.arch), col(Movement.step), col(Movement.attempt),
            col(Movement.lot_confirmed), col(Movement.late_reason),
        )
        .join(Holding, col(Holding.id) == col(Movement.holding_id))
        .join(Lot, col(Lot.id) == col(Holding.lot_id))
        .join(Item, col(Item.id) == col(Lot.item_id))
        .where(
            col(Movement.document_id).in_(list(document_ids)),
            col(Movement.qty) < 0,
            col(Movement.kind).in_(
                (MovementKind.USE, MovementKind.PURGE, MovementKind.WASTE, MovementKind.TRANSFER)
            ),
        )
        .group_by(
            col(Item.name), col(Lot.number), col(Lot.use_by), col(Lot.use_by_read), col(Item.base),
            col(Movement.arch), col(Movement.step), col(Movement.attempt), col(Movement.lot_confirmed),
            col(Movement.late_reason), col(Movement.holding_id),
        )
        .order_by(first)
    )  # fmt: skip
    # PostgreSQL sums 64-bit integers into a decimal
    return [(*row[:4], int(row[4]), *row[5:]) for row in session.execute(query)]


def tray_trials(session: Session, visit_id: int) -> list[Any]:
    """What became of the trays of a visit's standing booking, in the order they were noted: arch, tray, outcome."""
    reversed_ids = select(col(Document.reverses_id)).where(col(Document.reverses_id).is_not(None))
    query = (
        select(col(TrayTrial.arch), col(Item.name), col(TrayTrial.outcome))
        .join(Item, col(Item.id) == col(TrayTrial.item_id))
        .where(
            col(TrayTrial.visit_id) == visit_id,
            col(TrayTrial.document_id).is_(None) | col(TrayTrial.document_id).not_in(reversed_ids),
        )
        .order_by(col(TrayTrial.id))
    )
    return list(session.execute(query).all())


def size_priors(session: Session) -> list[SizePrior]:
    """Expected share of each tray size before any was fitted."""
    return list(session.execute(select(SizePrior)).scalars())

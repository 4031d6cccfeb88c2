"""Visits as they are looked up at the desk: the list, what a plan can be made of, and the record of a visit."""

from dataclasses import dataclass
from datetime import date, datetime

from inventory.domain.vocabulary import Arch, DocumentKind, ItemKind, PlaceRole, TrialOutcome, VisitState
from inventory.errors import NotFound
from inventory.service import visits
from inventory.service.booking import UsedLot
from inventory.service.practice import Desk, Practice
from inventory.service.visits import VisitCard
from inventory.store.queries import catalogue, history, people
from inventory.store.queries import visits as query
from inventory.store.queries.history import Posted
from inventory.store.queries.visits import NeedRow

LIMIT = 200


@dataclass(frozen=True, slots=True)
class VisitList:
    """Visits that match; ``more`` where the list was cut."""

    today: date
    visits: tuple[VisitCard, ...]
    more: bool


@dataclass(frozen=True, slots=True)
class KindChoice:
    """A case kind, and the tray sizes that it can take by arch (none where it uses no stock tray)."""

    code: str
    name: str
    upper_sizes: tuple[str, ...]
    lower_sizes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlanChoices:
    """What a plan can be made of; places are those where visits take place, case references newest first."""

    today: date
    kinds: tuple[KindChoice, ...]
    places: tuple[str, ...]
    case_refs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TrayFate:
    """What became of one tray of a visit."""

    arch: Arch
    item: str
    outcome: TrialOutcome


@dataclass(frozen=True, slots=True)
class RecordEntry:
    """Something that was posted for a visit; ``at`` in the practice's own time."""

    document_id: int
    at: datetime
    by: str
    what: str
    reason: str


@dataclass(frozen=True, slots=True)
class VisitRecord:
    """A visit for the record.

    Attributes:
        today: the practice-local date.
        card: the visit.
        lots: what its standing booking took, lot by lot.
        trays: what became of its trays.
        step_names: by code, as the case kind calls them.
        entries: everything posted for it, undone bookings too, oldest first.
        others: the other visits of the case, newest first.
    """

    today: date
    card: VisitCard
    lots: tuple[UsedLot, ...]
    trays: tuple[TrayFate, ...]
    step_names: dict[str, str]
    entries: tuple[RecordEntry, ...]
    others: tuple[VisitCard, ...]


def visit_list(
    practice: Practice, *, state: VisitState | None = None, case_part: str = "", limit: int = LIMIT
) -> VisitList:
    """Visits to look through: planned ones by date, all others newest first.

    Args:
        practice: the practice at work.
        state: only visits of this state.
        case_part: only cases whose reference holds this.
        limit: at most so many.
    """
    with practice.reading() as desk:
        rows = query.visits(
            desk.session, state=state, case_part=case_part.strip(),
            newest_first=state is not VisitState.PLANNED, limit=limit + 1,
        )  # fmt: skip
        return VisitList(desk.today, visits.cards(desk, rows[:limit]), len(rows) > limit)


def plan_choices(practice: Practice) -> PlanChoices:
    """What a plan can be made of."""
    with practice.reading() as desk:
        needs = query.needs(desk.session)
        return PlanChoices(
            today=desk.today,
            kinds=tuple(
                KindChoice(
                    kind.code,
                    kind.name,
                    _sizes(desk, needs.get(kind.id or 0, ()), Arch.MAXILLARY),
                    _sizes(desk, needs.get(kind.id or 0, ()), Arch.MANDIBULAR),
                )
                for kind in query.case_kinds(desk.session)
                if kind.active
            ),
            places=visit_places(desk),
            case_refs=tuple(query.case_refs(desk.session, "", LIMIT)),
        )


def places(practice: Practice) -> tuple[str, ...]:
    """Where visits take place."""
    with practice.reading() as desk:
        return visit_places(desk)


def visit_places(desk: Desk) -> tuple[str, ...]:
    """The same within a unit of work."""
    chairs = [place for place in people.places(desk.session) if place.active and place.role is PlaceRole.CHAIR]
    return tuple(place.name for place in chairs)


def record(practice: Practice, visit_id: int) -> VisitRecord:
    """A visit with what was booked for it.

    Raises:
        NotFound: there is none with this number.
    """
    with practice.reading() as desk:
        row = query.visit(desk.session, visit_id)
        if row is None:
            raise NotFound(f"There is no visit {visit_id}.", "Look it up in the list of visits.")
        posted = history.of_visit(desk.session, visit_id)
        standing = [one.document_id for one in posted if one.stands]
        needs = query.needs(desk.session, [row.case_kind_id]).get(row.case_kind_id, ())
        of_case = query.visits(desk.session, case_ref=row.case_ref, newest_first=True)
        return VisitRecord(
            today=desk.today,
            card=visits.card(desk, visit_id),
            lots=tuple(UsedLot(*lot) for lot in query.used_lots(desk.session, standing)),
            trays=tuple(TrayFate(*tray) for tray in query.tray_trials(desk.session, visit_id)),
            step_names={need.step: need.step_name for need in needs},
            entries=tuple(_entry(desk, one) for one in posted),
            others=visits.cards(desk, [other for other in of_case if other.id != visit_id]),
        )


def _sizes(desk: Desk, needs: tuple[NeedRow, ...], arch: Arch) -> tuple[str, ...]:
    """The run of sizes of every tray line that a case kind takes for an arch."""
    lines = dict.fromkeys(
        need.tray_line for need in needs if need.kind is ItemKind.TRAY and need.arch is arch and need.tray_line
    )
    return tuple(dict.fromkeys(size for line in lines for size in catalogue.sizes_of(desk.session, line, arch)))


_WHAT = {
    DocumentKind.USE: "booked out",
    DocumentKind.TRANSFER: "trays sent on",
    DocumentKind.OPENING: "opened for it",
    DocumentKind.COUNT: "stock found recorded",
    DocumentKind.REVERSAL: "undone",
}


def _entry(desk: Desk, posted: Posted) -> RecordEntry:
    what = _WHAT.get(posted.kind, posted.kind.value)
    if posted.reversed_by_id is not None:
        what = f"{what}, undone since"
    return RecordEntry(
        posted.document_id, posted.recorded_at.astimezone(desk.zone), posted.by, what, posted.reason or ""
    )

"""The record of a case: what each visit used of which lots, and what went to the laboratory. References, no names."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory.domain.parcels import ParcelState
from inventory.domain.quantity import show
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, LateReason, TrialOutcome, UseByReading, VisitState
from inventory.domain.words import STANDING
from inventory.errors import BadInput, NotAllowed, NotFound
from inventory.reports import case_record as report
from inventory.reports.case_record import CaseSheet, MaterialLine, VisitPart
from inventory.service import laboratory, visits
from inventory.service.laboratory import Parcel
from inventory.service.practice import Desk, Practice
from inventory.service.visits import VisitCard
from inventory.store.queries import history, planning
from inventory.store.queries import visits as query
from inventory.store.queries.history import Use

FORMATS = ("txt", "pdf")
LEAFLET = "The maker's leaflet and local rules govern how an impression is disinfected, kept and poured."
NO_NAMES = "This is no clinical advice. Case reference only: no patient names."
ASSUMED = "A lot that is assumed was filled in by the program: nobody has read it from the package."
BLOCKED = "A lot marked here should not have been used, or was put on hold or recalled since: ask the practice."

_ARCH = {Arch.MAXILLARY: "upper", Arch.MANDIBULAR: "lower"}
_MATERIALS = (ItemKind.IMPRESSION, ItemKind.BITE)
_FURTHER = (ItemKind.TIP, ItemKind.ACCESSORY)
_OUTCOME = {
    TrialOutcome.FITTED: "fitted",
    TrialOutcome.LAID_OUT_UNUSED: "laid out, not used",
    TrialOutcome.TRIED_REPROCESS: "tried, to reprocessing",
    TrialOutcome.TRIED_THROWN: "tried, thrown away",
}
_LATE = {
    LateReason.EXPIRED: "was past its date",
    LateReason.HELD: "was on hold",
    LateReason.RECALLED: "was recalled",
}


@dataclass(frozen=True, slots=True)
class Meant:
    """What a person means by a case or a visit."""

    case_ref: str
    visit_id: int | None = None


def meant(practice: Practice, named: str) -> Meant:
    """Which case, or which visit alone: a case reference, ``visit:12``, or a visit's number that is no reference.

    Raises:
        NotFound: neither is called so.
    """
    named = named.strip()
    number = named.removeprefix("visit:")
    with practice.reading() as desk:
        if number == named and query.visits(desk.session, case_ref=named, limit=1):
            return Meant(named)
        row = (
            query.visit(desk.session, int(number))
            if number.isascii() and number.isdigit() and len(number) < 10
            else None
        )
        if row is None:
            raise NotFound(f"There is no case and no visit {named!r}.", "Look it up in the list of visits.")
        return Meant(row.case_ref, row.id)


def sheet(practice: Practice, case_ref: str, *, visit_id: int | None = None) -> CaseSheet:
    """The record of a case, newest visit first; of one visit alone where that is named.

    Raises:
        NotFound: nothing was ever booked for the case.
        NotAllowed: the visit is not booked out.
    """
    with practice.reading() as desk:
        rows = query.visits(desk.session, case_ref=case_ref.strip(), newest_first=True)
        wanted = [row for row in rows if visit_id in (None, row.id)]
        done = [row for row in wanted if row.state is VisitState.DONE]
        if wanted and not done:
            raise NotAllowed(f"Nothing is booked out for case {case_ref} yet.", "Book the visit out first.")
        if not done:
            raise NotFound(f"There is no case {case_ref!r}.", "Look it up in the list of visits.")
        uses = history.uses(desk.session, history.uses_of_case(case_ref.strip()))
        blocked = _blocked(desk, uses)
        kinds = {number: item.kind for number, item in planning.items(desk.session, [u.item_id for u in uses]).items()}
        parts = [
            _part(desk, card, [use for use in uses if use.visit_id == card.visit_id], blocked, kinds)
            for card in visits.cards(desk, done)
        ]
        return CaseSheet(case_ref.strip(), desk.now.astimezone(desk.zone), tuple(parts), tuple(_cautions(parts)))


def written(practice: Practice, case_ref: str, kind: str, *, visit_id: int | None = None) -> bytes:
    """The record as a file's content: ``txt`` or ``pdf``.

    Raises:
        BadInput: there is no such format.
        NotFound, NotAllowed: as for `sheet`.
    """
    if kind not in FORMATS:
        raise BadInput(f"A record can't be written as {kind!r}.", f"Name a file ending in {' or '.join(FORMATS)}.")
    found = sheet(practice, case_ref, visit_id=visit_id)
    return report.as_pdf(found) if kind == "pdf" else report.as_text(found).encode("utf-8")


def _blocked(desk: Desk, uses: Sequence[Use]) -> dict[int, str]:
    """By lot, that it is recalled or on hold by now."""
    holds = history.open_holds(desk.session, {use.lot_id for use in uses})
    found = {hold.lot_id: "on hold since" for hold in holds}
    return {**found, **{hold.lot_id: "recalled since" for hold in holds if hold.notice_id is not None}}


def _part(
    desk: Desk, card: VisitCard, uses: Sequence[Use], blocked: dict[int, str], kinds: dict[int, ItemKind]
) -> VisitPart:
    kind_id = next(kind.id or 0 for kind in query.case_kinds(desk.session) if kind.code == card.case_kind)
    steps = {need.step: need.step_name for need in query.needs(desk.session, [kind_id]).get(kind_id, ())}
    groups: dict[tuple[object, ...], list[Use]] = {}
    for use in uses:
        key = (use.item_id, use.lot_id, use.arch, use.step, use.attempt, use.lot_confirmed, use.late_reason)
        groups.setdefault(key, []).append(use)
    lines = [
        _line(of_one, steps, blocked.get(of_one[0].lot_id, ""))
        for of_one in groups.values()
        if kinds[of_one[0].item_id] in _MATERIALS or not _without_lot(of_one[0])
    ]
    further = [use for use in uses if kinds[use.item_id] in _FURTHER and _without_lot(use)]
    sizes = {Arch.MAXILLARY: card.upper_size, Arch.MANDIBULAR: card.lower_size}
    arches = ", ".join(" ".join(filter(None, (_ARCH[arch], sizes[arch]))) for arch in card.arches)
    remake = f"remake of visit {card.remake_of}, asked for by the {card.remake_asked_by}" if card.remake_of else ""
    about = (f"visit {card.visit_id}", card.place, f"booked out by {card.booked_by}" if card.booked_by else "", remake)
    return VisitPart(
        card.visit_id, card.on, f"{card.on.isoformat()}  {card.case_kind_name}, {arches}",
        ", ".join(filter(None, about)),
        tuple(lines), tuple(_facts(desk, card, uses, steps, further)),
    )  # fmt: skip


def _without_lot(use: Use) -> bool:
    """Kept without lots: there is no number to be read, and nothing to be traced."""
    return use.lot_number == STANDING and use.use_by is None


def _line(uses: Sequence[Use], steps: dict[str, str], blocked: str) -> MaterialLine:
    first = uses[0]
    again = f"(attempt {first.attempt})" if (first.attempt or 1) > 1 else ""
    step = " ".join(filter(None, (_place(steps, first.step, first.arch), again)))
    mind = ", ".join(filter(None, (_LATE[first.late_reason] if first.late_reason else "", blocked)))
    return MaterialLine(
        step, first.item_name, show(sum(use.qty for use in uses), first.base), first.lot_number, _use_by(first),
        "read" if first.lot_confirmed else "assumed", mind,
    )  # fmt: skip


def _place(steps: dict[str, str], step: str | None, arch: Arch | None) -> str:
    """A step and its arch: ``Wash upper``."""
    return " ".join(filter(None, (steps.get(step, step) if step else "", _ARCH[arch] if arch else "")))


def _use_by(use: Use) -> str:
    if use.use_by is None:
        return "none stated" if use.use_by_read is UseByReading.NONE_STATED else "not read"
    return f"{use.use_by:%Y-%m} end" if use.use_by_read is UseByReading.MONTH else use.use_by.isoformat()


def _facts(
    desk: Desk, card: VisitCard, uses: Sequence[Use], steps: dict[str, str], further: Sequence[Use]
) -> Iterator[tuple[str, str]]:
    trays = [
        f"{_ARCH[arch]} {item} {_OUTCOME[outcome]}"
        for arch, item, outcome in query.tray_trials(desk.session, card.visit_id)
    ]
    if trays:
        yield "Trays", "; ".join(trays)
    retakes = _retakes(uses, steps)
    yield "Retakes", "; ".join(retakes) if retakes else "none"
    also: dict[tuple[str, BaseUnit], int] = {}
    for use in further:
        also[use.item_name, use.base] = also.get((use.item_name, use.base), 0) + use.qty
    if also:
        yield "Also used", "; ".join(f"{name} {show(qty, base)}" for (name, base), qty in also.items())
    yield from _sent(laboratory.within(desk, card.visit_id))


def _retakes(uses: Iterable[Use], steps: dict[str, str]) -> list[str]:
    most: dict[tuple[str | None, Arch | None], int] = {}
    for use in uses:
        most[use.step, use.arch] = max(most.get((use.step, use.arch), 1), use.attempt or 1)
    return [f"{_place(steps, step, arch)} {times - 1}" for (step, arch), times in most.items() if times > 1]


def _sent(parcel: Parcel) -> Iterator[tuple[str, str]]:
    """What is on record of the parcel; what the case kind usually sends where none is packed."""
    if parcel.disinfectant_name:
        yield "Disinfected", f"{parcel.disinfectant_name}, {parcel.contact_minutes} minutes"
    elif parcel.contents:
        yield "Disinfected", "not on record"
    if parcel.contents:
        usually = "" if parcel.parcel_id else " (as usual for this kind of visit; not packed yet)"
        yield "To the laboratory", f"{', '.join(parcel.contents)}{usually}"
    if parcel.taken_at:
        yield "Taken", _moment(parcel.taken_at)
    if parcel.contents:
        yield "Pour by", _moment(parcel.pour_by) if parcel.pour_by else "no time is stated for what was used"
    if parcel.sent_at:
        yield "Sent", f"{_moment(parcel.sent_at)} by {parcel.carrier}, {parcel.sent_by}"
    if parcel.answered_at:
        said = "rejected" if parcel.state is ParcelState.REJECTED else "received"
        yield "Laboratory", f"{said} {_moment(parcel.answered_at)}{f': {parcel.note}' if parcel.note else ''}"


def _moment(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M}"


def _cautions(parts: Sequence[VisitPart]) -> Iterator[str]:
    lines = [line for part in parts for line in part.lines]
    if any(line.mind for line in lines):
        yield BLOCKED
    if any(line.read == "assumed" for line in lines):
        yield ASSUMED
    yield from (LEAFLET, NO_NAMES)

"""What each step takes here: the default, what was learned since, and what a person decided about it.

A form is mostly booked as it stands, and that says nothing: the amount is the program's own. Where somebody entered
another amount, it is an observation of that step; where people enter only what surprises them, what is learned leans
towards surprises. Counts are not asked yet: a count that finds no difference leaves no trace in the book, and only
those that found one would make every step look wrong. What whole counts will teach stands in
`inventory.domain.count_intervals`.

Nothing changes by itself. A learned figure is used once somebody accepts it; a pinned one stays whatever is learned,
until it is pinned anew or reset; a reset goes back to the default and forgets what was entered before. Each is one more
row beside the earlier ones, and stands in the change log with who and why.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain import learning as law
from inventory.domain.learning import Entered, Prior
from inventory.domain.quantity import show
from inventory.domain.vocabulary import Arch, BaseUnit, EstimateSource, ItemKind, Viscosity
from inventory.domain.why import Derivation, Op, Term, derive
from inventory.domain.words import clean
from inventory.errors import AlreadyDone, BadInput, NotAllowed, NotFound
from inventory.service.practice import Desk, Practice
from inventory.store.queries import learning as query
from inventory.store.queries import planning, visits
from inventory.store.queries.learning import EnteredRow, EstimateRow
from inventory.store.queries.visits import NeedRow
from inventory.store.tables import CaseKind, Estimate, Item

MOST = 100  # newest amounts entered that are asked of each step: they tell its mean to a tenth of its spread
LOOK_BACK_WEEKS = int(4 * law.HALF_LIFE_WEEKS)  # older ones would count for less than a sixteenth
_LEARNED_KINDS = (ItemKind.IMPRESSION, ItemKind.BITE)
_DECIDED = (EstimateSource.DEFAULT, EstimateSource.PINNED)  # by people; what is learned starts from it


@dataclass(frozen=True, slots=True)
class Figure:
    """Net use of one attempt and its spread between cases, in base units."""

    qty: int
    sd: int


@dataclass(frozen=True, slots=True)
class FarOff:
    """An amount left out because it lies too far from what all others say, in base units, tip and purge left out."""

    visit_id: int
    case_ref: str
    on: date
    qty: int
    expected: int


@dataclass(frozen=True, slots=True)
class Together:
    """Needs known only in sum: their numbers, and what one attempt of each takes together, in base units."""

    needs: tuple[int, ...]
    qty: int
    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Learned:
    """What one need of a step takes.

    Attributes:
        need_id: its number, as the commands take it.
        case_kind, case_kind_name, step, step_name, arch, kind, viscosity: what it is.
        base: unit of all quantities.
        default: what the practice started from, or was reset to.
        current: what forms and forecasts use now; ``source`` says where it comes from.
        learned: the default or pinned figure, sharpened by what was observed; equal to it without observations.
        low, high: the learned mean lies between them with a chance of 90 %.
        observations: amounts entered behind it.
        weight: how many observed cases the learned figure counts for.
        together: it is known only in sum with others; None where it is known by itself, or nothing was observed.
        left_out: amounts too far off.
        why: the arithmetic.
    """

    need_id: int
    case_kind: str
    case_kind_name: str
    step: str
    step_name: str
    arch: Arch | None
    kind: ItemKind
    viscosity: Viscosity | None
    base: BaseUnit
    default: Figure
    current: Figure
    source: EstimateSource
    learned: Figure
    low: int
    high: int
    observations: int
    weight: int
    together: Together | None
    left_out: tuple[FarOff, ...]
    why: tuple[Derivation, ...]

    @property
    def pinned(self) -> Figure | None:
        """What a person pinned, where that stands."""
        return self.current if self.source is EstimateSource.PINNED else None

    @property
    def identified(self) -> bool:
        """Whether what was observed tells this need apart from others."""
        return self.observations > 0 and self.together is None

    @property
    def to_accept(self) -> bool:
        """Whether the learned figure is another than the current one, and nobody has pinned that."""
        return self.observations > 0 and self.pinned is None and self.learned != self.current


def learned(practice: Practice) -> tuple[Learned, ...]:
    """What each step of each case kind takes, in the order of the steps; trays, tips and other pieces left out."""
    with practice.reading() as desk:
        return _learned(desk)


def accept(practice: Practice, need_id: int, *, by: str) -> Learned:
    """Use what was learned of a need from now on.

    Raises:
        NotFound: no such need, or nobody with these initials.
        NotAllowed: a person has pinned it, or nothing was observed.
        AlreadyDone: it is in use already.
    """
    with practice.writing() as desk:
        person_id = desk.person(by)
        found = _one(desk, need_id)
        if found.pinned is not None:
            raise NotAllowed(f"{_named(found)}: a person has pinned it.", "Reset it first, or pin another figure.")
        if not found.observations:
            raise NotAllowed(f"{_named(found)}: nothing was learned yet.", "Enter what steps really took.")
        if not found.to_accept:
            raise AlreadyDone(f"{_named(found)}: what was learned is in use already.", "There is nothing to accept.")
        return _keep(desk, found, EstimateSource.LEARNED, found.learned, found.weight, person_id=person_id)


def pin(practice: Practice, need_id: int, mean_qty: int, sd_qty: int | None = None, *, by: str, reason: str) -> Learned:
    """Say what a need takes; it stays so whatever is learned.

    Args:
        practice: the practice at work.
        need_id: which need.
        mean_qty: net use of one attempt, in base units.
        sd_qty: its spread between cases; None: in proportion to the mean as before.
        by: initials.
        reason: why.

    Raises:
        NotFound: no such need, or nobody with these initials.
        BadInput: no reason, or figures that no step has.
    """
    with practice.writing() as desk:
        person_id = desk.person(by)
        found = _one(desk, need_id)
        reason = clean(reason, "reason", 500)
        spread = _in_proportion(found, mean_qty) if sd_qty is None else sd_qty
        if mean_qty <= 0 or not 0 <= spread <= 3 * mean_qty:
            raise BadInput(f"{_named(found)}: no step takes that.", "Give a mean above 0, and a spread that fits it.")
        return _keep(
            desk, found, EstimateSource.PINNED, Figure(mean_qty, spread), 1, person_id=person_id, reason=reason
        )


def reset(practice: Practice, need_id: int, *, by: str, reason: str) -> Learned:
    """Go back to the default of a need; what was entered before is forgotten.

    Raises:
        NotFound: no such need, or nobody with these initials.
        BadInput: no reason.
    """
    with practice.writing() as desk:
        person_id = desk.person(by)
        found = _one(desk, need_id)
        reason = clean(reason, "reason", 500)
        weight = _newest(query.estimates(desk.session)[need_id], EstimateSource.DEFAULT).weight
        return _keep(desk, found, EstimateSource.DEFAULT, found.default, weight, person_id=person_id, reason=reason)


def _in_proportion(found: Learned, mean_qty: int) -> int:
    return round(found.current.sd * mean_qty / found.current.qty) if found.current.qty else found.default.sd


def _keep(
    desk: Desk, found: Learned, source: EstimateSource, figure: Figure, weight: int, *, person_id: int, reason: str = ""
) -> Learned:
    """Add an estimate to those of the need, with its change in the log; returns how it stands then."""
    now = query.estimates(desk.session)[found.need_id][-1]
    learned_now = source is EstimateSource.LEARNED
    desk.add(
        Estimate(
            need_id=found.need_id, source=source, mean_qty=figure.qty, sd_qty=figure.sd, retake_ppm=now.retake_ppm,
            weight=weight, observations=found.observations if learned_now else 0, as_of=desk.now,
            why=[each.as_data() for each in found.why] if learned_now else [_said(source, figure, found.base)],
        )
    )  # fmt: skip
    old, new = ((each.qty, each.sd) for each in (found.current, figure))
    changes: dict[str, tuple[object, object]] = {
        "mean_qty": (old[0], new[0]), "sd_qty": (old[1], new[1]), "source": (found.source.value, source.value),
    }  # fmt: skip
    desk.log_change(person_id, "estimate", found.need_id, changes, reason)
    desk.session.flush()
    return _one(desk, found.need_id)


def _said(source: EstimateSource, figure: Figure, base: BaseUnit) -> object:
    return derive("expected per attempt", [Term(source.value, figure.qty, base.value)], "taken", base.value).as_data()


def _one(desk: Desk, need_id: int) -> Learned:
    for found in _learned(desk):
        if found.need_id == need_id:
            return found
    raise NotFound(f"There is no step's use number {need_id} that can be learned.", "'estimates' lists them.")


def _named(found: Learned) -> str:
    arch = {Arch.MAXILLARY: "upper", Arch.MANDIBULAR: "lower"}[found.arch] if found.arch else ""
    return ", ".join(filter(None, (found.case_kind_name, found.step_name, arch)))


def _newest(rows: Sequence[EstimateRow], *sources: EstimateSource) -> EstimateRow:
    return next(row for row in reversed(rows) if row.source in sources)


@dataclass(frozen=True, slots=True)
class _Subject:
    """One need with all that is known of it before anything is learned."""

    need: NeedRow
    kind: CaseKind
    base: BaseUnit
    rows: Sequence[EstimateRow]

    @property
    def prior(self) -> Prior:
        row = _newest(self.rows, *_DECIDED)
        return Prior(row.mean_qty, row.sd_qty, max(row.weight, 1))

    @property
    def default(self) -> EstimateRow:
        return _newest(self.rows, EstimateSource.DEFAULT)

    def remembers(self, row: EnteredRow) -> bool:
        """Whether an amount was entered for a visit after the last reset, if there was one."""
        resets = sum(each.source is EstimateSource.DEFAULT for each in self.rows) - 1
        return not resets or row.happened_at > self.default.as_of


def _learned(desk: Desk) -> tuple[Learned, ...]:
    subjects = _subjects(desk)
    since = desk.today - timedelta(weeks=LOOK_BACK_WEEKS)
    rows: dict[int, list[EnteredRow]] = defaultdict(list)
    for row in query.entered(desk.session, since):
        subject = subjects.get(row.need_id)
        if subject is not None and len(rows[row.need_id]) < MOST and subject.remembers(row):
            rows[row.need_id].append(row)
    found = law.learn({number: each.prior for number, each in subjects.items()}, (), _entered(desk, rows))
    far = {out.names[0]: out for out in found.left_out}
    return tuple(
        _told(subject, found.needs[number], [_far(row, far[_key(row)]) for row in rows[number] if _key(row) in far])
        for number, subject in subjects.items()
    )


def _subjects(desk: Desk) -> dict[int, _Subject]:
    """The needs that can be learned: materials, of case kinds in use."""
    session = desk.session
    kinds = {kind.id: kind for kind in visits.case_kinds(session) if kind.active}
    items = planning.items(session)
    rows = query.estimates(session)
    return {
        need.need_id: _Subject(need, kinds[kind], _base(need, items), rows[need.need_id])
        for kind, needs in visits.needs(session).items()
        if kind in kinds
        for need in needs
        if need.kind in _LEARNED_KINDS and need.need_id in rows
    }


def _base(need: NeedRow, items: Mapping[int, Item]) -> BaseUnit:
    """The unit of a need: that of its article; without one, powder is weighed and everything else measured in mL."""
    for number in need.articles:
        if number in items:
            return items[number].base
    powder = need.kind is ItemKind.IMPRESSION and need.viscosity is None
    return BaseUnit.CG if powder else BaseUnit.CML


def _key(row: EnteredRow) -> tuple[int, int, int]:
    return row.document_id, row.need_id, row.attempt


def _entered(desk: Desk, rows: Mapping[int, Sequence[EnteredRow]]) -> list[Entered[int]]:
    """What was entered as observations, net of tip volume and purge."""
    every = [row for group in rows.values() for row in group]
    purged = query.purged(desk.session, {row.document_id for row in every})
    items = planning.items(desk.session, {row.item_id for row in every})
    found = []
    for row in every:
        kept = purged.get((row.document_id, row.item_id, row.step, row.arch, row.attempt), 0)
        unit = reading_unit(row.actual_qty, items[row.item_id].unit_qty)
        age = (desk.today - row.happened_on) / timedelta(weeks=1)
        found.append(Entered(row.need_id, row.actual_qty - kept, unit, _key(row), age))
    return found


def reading_unit(qty: int, unit_qty: int) -> int:
    """The coarsest unit in which an amount may have been read: a tenth of a cartridge, 1, 0.1 or 0.01 mL or g.

    The book does not keep how an amount was typed, so the least exact reading that fits it is believed.
    """
    return next(unit for unit in (unit_qty // 10, 100, 10, 1) if unit and qty % unit == 0)


def _far(row: EnteredRow, out: law.LeftOut) -> FarOff:
    return FarOff(row.visit_id, row.case_ref, row.happened_on, out.said, out.expected)


def _told(subject: _Subject, found: law.Learned[int], left_out: Sequence[FarOff]) -> Learned:
    need, kind = subject.need, subject.kind
    together = found.together
    return Learned(
        need_id=need.need_id, case_kind=kind.code, case_kind_name=kind.name, step=need.step,
        step_name=need.step_name, arch=need.arch, kind=need.kind, viscosity=need.viscosity, base=subject.base,
        default=Figure(subject.default.mean_qty, subject.default.sd_qty),
        current=Figure(need.mean_qty, need.sd_qty), source=need.source,
        learned=Figure(round(found.mean), round(found.sd)), low=round(found.low), high=round(found.high),
        observations=found.observations, weight=max(1, round(found.weight)),
        together=Together(together.needs, *map(round, (together.mean, together.low, together.high)))
        if together else None,
        left_out=tuple(left_out), why=(_why(subject, found, left_out),),
    )  # fmt: skip


def _why(subject: _Subject, found: law.Learned[int], left_out: Sequence[FarOff]) -> Derivation:
    """The default or pinned figure, what was observed and how far that moves it; beside it what is worth knowing."""
    unit, start = subject.base.value, _newest(subject.rows, *_DECIDED)
    terms = [
        Term(start.source.value, start.mean_qty, unit),
        Term("which counts for", max(start.weight, 1), "cases", Op.TOLD),
    ]
    if found.observations:
        moved = round(found.mean) - start.mean_qty
        terms += [
            Term("moved by the amounts entered", abs(moved), unit, Op.MINUS if moved < 0 else Op.PLUS),
            Term("amounts entered", found.entered, "", Op.TOLD),
            Term("with 90 of 100 at least", round(found.low), unit, Op.TOLD),
            Term("with 90 of 100 at most", round(found.high), unit, Op.TOLD),
            Term("spread from case to case", round(found.sd), unit, Op.TOLD),
            Term("an amount counts for half after", round(law.HALF_LIFE_WEEKS), "weeks", Op.TOLD),
        ]
    terms += [
        Term(
            f"left out: case {each.case_ref}, {each.on}; {show(each.expected, subject.base)} likely",
            each.qty,
            unit,
            Op.TOLD,
        )
        for each in left_out
    ]
    return derive("one attempt, tip and purge left out", terms, "learned", unit)

"""What each step takes here: the default, what was learned since, and what a person decided about it.

A form is mostly booked as it stands, and that says nothing: the amount is the program's own. Two things say something:
rounds of counting, by what disappeared between them (`inventory.service.observing`), and amounts that somebody entered
in place of the expected ones. Where people enter only what surprises them, these lean towards surprises; counts don't.

Nothing changes by itself. A learned figure is used once somebody accepts it; a pinned one stays whatever is learned,
until it is pinned anew or reset; a reset goes back to the default and forgets what was entered before. Each is one more
row beside the earlier ones, and stands in the change log with who and why. What was before the day that the setting
``practice_changed_on`` names is not asked at all.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.domain import learning as law
from inventory.domain.learning import Prior
from inventory.domain.quantity import show
from inventory.domain.vocabulary import Arch, BaseUnit, EstimateSource, ItemKind, Viscosity
from inventory.domain.why import DAYS, Derivation, Op, Term, derive
from inventory.domain.words import clean
from inventory.errors import AlreadyDone, BadInput, NotAllowed, NotFound
from inventory.service import observing
from inventory.service.observing import CountKey, Key, Observed, Wanted
from inventory.service.practice import Desk, Practice
from inventory.store.queries import learning as query
from inventory.store.queries import planning, visits
from inventory.store.queries.learning import EnteredRow, EstimateRow
from inventory.store.queries.visits import NeedRow
from inventory.store.tables import CaseKind, Estimate, Item

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
class FarCount:
    """Two counts left out because what disappeared between them lies too far from what all others say.

    ``gone`` is what they say, ``expected`` what the others do, in base units, tip and purge included.
    """

    item: str
    since: date
    until: date
    gone: int
    expected: int


@dataclass(frozen=True, slots=True)
class Together:
    """Needs known only in sum: their numbers, and what one attempt of each takes together, in base units.

    ``rests``: what is left in cartridges that are written off or thrown away is in the sum too, once.
    """

    needs: tuple[int, ...]
    rests: bool
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
        counts, attempts: stretches between two counts behind it, and the attempts in them.
        entered: amounts entered behind it.
        weight: how many observed cases the learned figure counts for.
        together: it is known only in sum with others; None where it is known by itself, or nothing was observed.
        left_out: amounts too far off; ``far_counts``: counts too far off, of an article that serves it.
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
    counts: int
    attempts: int
    entered: int
    weight: int
    together: Together | None
    left_out: tuple[FarOff, ...]
    far_counts: tuple[FarCount, ...]
    why: tuple[Derivation, ...]

    @property
    def observations(self) -> int:
        """All that stands behind what is learned: stretches between counts, and amounts entered."""
        return self.counts + self.entered

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


def accept(practice: Practice, need_id: int, *, by: str, reason: str = "") -> Learned:
    """Use what was learned of a need from now on.

    Raises:
        NotFound: no such need, or nobody with these initials.
        NotAllowed: a person has pinned it, or nothing was observed.
        AlreadyDone: it is in use already.
    """
    with practice.writing() as desk:
        person_id = desk.person(by)
        found = _one(desk, need_id)
        reason = clean(reason, "reason", 500, needed=False)
        if found.pinned is not None:
            raise NotAllowed(f"{_named(found)}: a person has pinned it.", "Reset it first, or pin another figure.")
        if not found.observations:
            raise NotAllowed(f"{_named(found)}: nothing was learned yet.", "Count in rounds, or enter what steps took.")
        if not found.to_accept:
            raise AlreadyDone(f"{_named(found)}: what was learned is in use already.", "There is nothing to accept.")
        return _keep(
            desk, found, EstimateSource.LEARNED, found.learned, found.weight, person_id=person_id, reason=reason
        )


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

    @property
    def wanted(self) -> Wanted:
        """The need as observations are asked about it; each default after the first is a reset."""
        defaults = [each.as_of for each in self.rows if each.source is EstimateSource.DEFAULT]
        return Wanted(self.prior, self.need.articles, tuple(defaults[1:]))


def _learned(desk: Desk) -> tuple[Learned, ...]:
    subjects = _subjects(desk)
    wanted = {number: each.wanted for number, each in subjects.items()}
    seen = observing.observed(desk, wanted)
    found = law.learn(seen.priors, seen.intervals, seen.entered)
    far, days = _Far.of(desk, seen, found.left_out), (desk.today - observing.since(desk)).days
    return tuple(
        _told(subject, found.needs[number, wanted[number].epoch], seen.rows.get(number, ()), far, days)
        for number, subject in subjects.items()
        if subject.kind.active
    )


@dataclass(frozen=True, slots=True)
class _Far:
    """The observations left out: amounts by their names, counts by the needs that the article served between them."""

    amounts: Mapping[object, law.LeftOut]
    counts: Mapping[int, tuple[FarCount, ...]]

    @classmethod
    def of(cls, desk: Desk, seen: Observed, left_out: Sequence[law.LeftOut]) -> "_Far":
        amounts = {out.names[0]: out for out in left_out if len(out.names) == 1}
        stretches = {(each.start.key, each.end.key): each for each in seen.intervals}
        counts: dict[int, tuple[FarCount, ...]] = {}
        pairs = [(out, stretches[out.names[0], out.names[1]]) for out in left_out if len(out.names) > 1]
        names = query.names(desk.session, {_count(each.start.key).item_id for _, each in pairs})
        for out, each in pairs:
            start, end = _count(each.start.key), _count(each.end.key)
            since, until = (moment.astimezone(desk.zone).date() for moment in (start.at, end.at))
            told = FarCount(names[start.item_id], since, until, out.said, out.expected)
            for number in {need for need, _ in each.attempts if need > 0}:
                counts[number] = (*counts.get(number, ()), told)
        return cls(amounts, counts)

    def amounts_of(self, rows: Sequence[EnteredRow]) -> tuple[FarOff, ...]:
        """Those among some amounts entered."""
        out = [(row, self.amounts[name]) for row in rows if (name := observing.name_of(row)) in self.amounts]
        return tuple(FarOff(row.visit_id, row.case_ref, row.happened_on, each.said, each.expected) for row, each in out)


def _count(key: object) -> CountKey:
    assert isinstance(key, CountKey)  # noqa: S101 - all counts are named so
    return key


def _subjects(desk: Desk) -> dict[int, _Subject]:
    """The needs that can be learned: materials; those of case kinds given up too, since counts know of them."""
    session = desk.session
    kinds = {kind.id: kind for kind in visits.case_kinds(session)}
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


def _told(subject: _Subject, found: law.Learned[Key], rows: Sequence[EnteredRow], far: _Far, days: int) -> Learned:
    need, kind = subject.need, subject.kind
    together = found.together
    amounts, counts = far.amounts_of(rows), far.counts.get(need.need_id, ())
    return Learned(
        need_id=need.need_id, case_kind=kind.code, case_kind_name=kind.name, step=need.step,
        step_name=need.step_name, arch=need.arch, kind=need.kind, viscosity=need.viscosity, base=subject.base,
        default=Figure(subject.default.mean_qty, subject.default.sd_qty),
        current=Figure(need.mean_qty, need.sd_qty), source=need.source,
        learned=Figure(round(found.mean), round(found.sd)), low=round(found.low), high=round(found.high),
        counts=found.intervals, attempts=found.attempts, entered=found.entered, weight=max(1, round(found.weight)),
        together=_together(together) if together else None, left_out=amounts, far_counts=counts,
        why=(_why(subject, found, amounts, counts, days),),
    )  # fmt: skip


def _together(found: law.Together[Key]) -> Together:
    needs = tuple(dict.fromkeys(number for number, _ in found.needs if number > 0))
    rests = any(number < 0 for number, _ in found.needs)
    return Together(needs, rests, *map(round, (found.mean, found.low, found.high)))


def _why(
    subject: _Subject, found: law.Learned[Key], amounts: Sequence[FarOff], counts: Sequence[FarCount], days: int
) -> Derivation:
    """The default or pinned figure, how far what was observed in so many days moves it; beside it what to know."""
    unit, start = subject.base.value, _newest(subject.rows, *_DECIDED)
    terms = [
        Term(start.source.value, start.mean_qty, unit),
        Term("which counts for", max(start.weight, 1), "cases", Op.TOLD),
    ]
    if found.observations:
        moved = round(found.mean) - start.mean_qty
        terms += [
            Term("moved by what was observed", abs(moved), unit, Op.MINUS if moved < 0 else Op.PLUS),
            Term("stretches between two counts", found.intervals, "", Op.TOLD),
            Term("attempts in them", found.attempts, "", Op.TOLD),
            Term("amounts entered", found.entered, "", Op.TOLD),
            Term("with 90 of 100 at least", round(found.low), unit, Op.TOLD),
            Term("with 90 of 100 at most", round(found.high), unit, Op.TOLD),
            Term("spread from case to case", round(found.sd), unit, Op.TOLD),
            Term("an observation counts for half after", round(law.HALF_LIFE_WEEKS), "weeks", Op.TOLD),
            Term("asked were the last", days, DAYS, Op.TOLD),
        ]
    base = subject.base
    terms += [
        Term(f"left out: case {each.case_ref}, {each.on}; {show(each.expected, base)} likely", each.qty, unit, Op.TOLD)
        for each in amounts
    ]
    terms += [
        Term(
            f"left out: {each.item} counted {each.since} and {each.until}; {show(each.expected, base)} likely",
            each.gone, unit, Op.TOLD,
        )
        for each in counts
    ]  # fmt: skip
    return derive("one attempt, tip and purge left out", terms, "learned", unit)

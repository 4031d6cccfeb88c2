"""What a visit is expected to use, and whether the shelf can give it.

A case kind is a list of steps; a step asks for materials, not for articles: "light body, upper arch, wash". Which
article serves a need is the practice's own list, the preferred one first. What a step uses has three parts that are
kept apart, because a person can only weigh the first:

    gross = net (what stands in the mouth) + tip volume (what stays in the mixing tip) + purge (what each new tip costs)

A retake is the step once more: net, tip and purge again, and a new tray or not. The form after a visit, the readiness
of booked visits and "cases possible" all ask `serve_visits`, so they can't disagree.

The steps by technique are common practice, without a source, and a practice edits them.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from math import sqrt
from types import MappingProxyType

from inventory.domain.allocation import Allocation, Load, Pick, Shortfall, Stack, allocate
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, SettingSpeed, Technique, Viscosity
from inventory.errors import BadInput

MILLION = 1_000_000
NO_SIZES: Mapping[Arch, Collection[int]] = MappingProxyType({})


class Step(StrEnum):
    """Codes of the usual steps; a practice may add its own."""

    TRAY = "tray"
    LOAD = "load"
    PRELIMINARY = "preliminary"
    BORDER = "border"
    WASH = "wash"
    JAW_RELATION = "jaw_relation"


@dataclass(frozen=True, slots=True)
class Material:
    """What a step asks for; only elastomers have a viscosity."""

    kind: ItemKind
    viscosity: Viscosity | None = None
    setting_speed: SettingSpeed | None = None


TRAY = Material(ItemKind.TRAY)
POWDER = Material(ItemKind.IMPRESSION)
HEAVY_BODY = Material(ItemKind.IMPRESSION, Viscosity.HEAVY)
LIGHT_BODY = Material(ItemKind.IMPRESSION, Viscosity.LIGHT)
BITE = Material(ItemKind.BITE)

_PER_ARCH: Mapping[Technique, tuple[tuple[Step, Material], ...]] = MappingProxyType(
    {
        # the border is moulded with the load
        Technique.STOCK_TRAY: ((Step.TRAY, TRAY), (Step.LOAD, HEAVY_BODY), (Step.WASH, LIGHT_BODY)),
        Technique.CUSTOM_TRAY: ((Step.BORDER, HEAVY_BODY), (Step.WASH, LIGHT_BODY)),
        Technique.RELINE: ((Step.WASH, LIGHT_BODY),),
        Technique.PRELIMINARY: ((Step.TRAY, TRAY), (Step.PRELIMINARY, POWDER)),
        Technique.JAW_RELATION: (),
    }
)


@dataclass(frozen=True, slots=True)
class Outline:
    """One need of a technique before it has articles and figures; arch None: once per visit."""

    step: Step
    arch: Arch | None
    material: Material


def outline(technique: Technique) -> tuple[Outline, ...]:
    """The steps of a technique with what each asks for, arch by arch (common practice, no source)."""
    if technique is Technique.JAW_RELATION:
        return (Outline(Step.JAW_RELATION, None, BITE),)
    return tuple(Outline(step, arch, material) for step, material in _PER_ARCH[technique] for arch in Arch)


@dataclass(frozen=True, slots=True)
class Tip:
    """The mixing tip of a need.

    Attributes:
        articles: tips that fit the cartridge, preferred first.
        volume_qty: material that stays in one tip, in base units of the material.
        purge_qty: material pressed out when a tip is fitted, in the same units.
    """

    articles: tuple[int, ...]
    volume_qty: int
    purge_qty: int


@dataclass(frozen=True, slots=True)
class StepNeed:
    """One thing a step asks for, with its estimate.

    Attributes:
        step: code of the step.
        arch: None where the step is done once per visit.
        base: unit of the quantities.
        articles: item ids, the practice's article first, then its substitutes.
        mean_qty: net use of one attempt, in base units; 1 for a tray.
        sd_qty: spread of that use between cases.
        retake_ppm: chance that an attempt has to be taken again, in millionths.
        tip: mixing tip, None where none is used.
        may_split: the material may be put together from two cartridges.
        optional: not expected on every visit.
    """

    need_id: int
    step: str
    arch: Arch | None
    material: Material
    base: BaseUnit
    articles: tuple[int, ...]
    mean_qty: int
    sd_qty: int = 0
    retake_ppm: int = 0
    tip: Tip | None = None
    may_split: bool = False
    optional: bool = False

    @property
    def is_tray(self) -> bool:
        return self.material.kind is ItemKind.TRAY

    @property
    def extra_qty(self) -> int:
        """Tip volume and purge together."""
        return self.tip.volume_qty + self.tip.purge_qty if self.tip else 0

    @property
    def gross_qty(self) -> int:
        """What one attempt takes out of the cartridge."""
        return self.mean_qty + self.extra_qty


@dataclass(frozen=True, slots=True)
class LineKey:
    """Names a line of the form, or (``tip``) the tips of that line."""

    need_id: int
    attempt: int
    tip: bool = False


@dataclass(frozen=True, slots=True)
class ExpectedLine:
    """What one attempt of one step is expected to use.

    Attributes:
        articles: the need's articles; of a tray those of the known size, none while the size isn't known.
        attempt: 1, or 2, 3 ... for retakes.
        net_qty: what stands in the mouth, in base units.
    """

    need: StepNeed
    articles: tuple[int, ...]
    attempt: int
    net_qty: int

    @property
    def key(self) -> LineKey:
        return LineKey(self.need.need_id, self.attempt)

    @property
    def tip_qty(self) -> int:
        """Material that stays in the tip."""
        return self.need.tip.volume_qty if self.need.tip else 0

    @property
    def purge_qty(self) -> int:
        return self.need.tip.purge_qty if self.need.tip else 0

    @property
    def gross_qty(self) -> int:
        return self.net_qty + self.tip_qty + self.purge_qty

    @property
    def tips(self) -> int:
        """Mixing tips, in pieces."""
        return 1 if self.need.tip else 0

    @property
    def size_unknown(self) -> bool:
        """A tray whose size nobody has stated yet."""
        return self.need.is_tray and not self.articles


def expected_use(
    needs: Iterable[StepNeed],
    arches: Collection[Arch],
    sizes: Mapping[Arch, Collection[int]] = NO_SIZES,
    *,
    with_optional: bool = False,
) -> tuple[ExpectedLine, ...]:
    """The lines of a visit's form, first attempts only, in the order of the needs.

    Args:
        needs: of the visit's case kind.
        arches: arches treated; needs without an arch are always there.
        sizes: for each arch whose tray size is known, the item ids of trays of that size.
        with_optional: list needs not expected on every visit too.
    """
    return tuple(
        ExpectedLine(need, _articles(need, sizes), 1, need.mean_qty)
        for need in needs
        if (need.arch is None or need.arch in arches) and (with_optional or not need.optional)
    )


def _articles(need: StepNeed, sizes: Mapping[Arch, Collection[int]]) -> tuple[int, ...]:
    if not need.is_tray:
        return need.articles
    fitting = sizes.get(need.arch, ()) if need.arch else ()
    return tuple(article for article in need.articles if article in fitting)


def retake(
    lines: Sequence[ExpectedLine], step: str, arch: Arch | None, *, new_tray: bool = False
) -> tuple[ExpectedLine, ...]:
    """The form with one more attempt of one step and arch.

    Args:
        lines: the form so far.
        step: the step taken again, with its material, tip and purge.
        arch: its arch, None for a step done once per visit.
        new_tray: the arch's tray is taken again too, whichever step it belongs to; without it only a step that takes
            nothing but a tray takes one again.

    Raises:
        BadInput: the form has no such step.
    """
    of_step = [line for line in lines if (line.need.step, line.need.arch) == (step, arch)]
    if not of_step:
        where = f" of the {arch} arch" if arch else ""
        raise BadInput(f"retake: this visit has no step {step!r}{where}.", "Choose a step of the form.")
    trays = [line for line in lines if line.need.is_tray and line.need.arch == arch]
    materials = [line for line in of_step if not line.need.is_tray]
    again = [*(trays if new_tray or not materials else ()), *materials]
    tried = Counter(line.need.need_id for line in lines)
    further = [
        replace(line, attempt=tried[line.need.need_id] + 1, net_qty=line.need.mean_qty)
        for line in again
        if line.attempt == 1
    ]
    after = 1 + max(position for position, line in enumerate(lines) if line in again)
    return (*lines[:after], *further, *lines[after:])


def attempts_in(unit_qty: int, gross_qty: int) -> tuple[int, int]:
    """How many whole attempts a unit gives, and what it strands, in base units.

    Raises:
        ValueError: an attempt that uses nothing.
    """
    if gross_qty <= 0:
        raise ValueError("an attempt uses something")
    return divmod(unit_qty, gross_qty)


def smallest_loads(needs: Iterable[StepNeed]) -> dict[int, int]:
    """The smallest load any step asks of each article, gross: an opened rest below it serves no step."""
    smallest: dict[int, int] = {}
    for need in needs:
        for article in need.articles:
            smallest[article] = min(need.gross_qty, smallest.get(article, need.gross_qty))
    return smallest


@dataclass(frozen=True, slots=True)
class Amount:
    """Mean and standard deviation, in base units."""

    mean: float
    sd: float


def use_per_case(need: StepNeed) -> Amount:
    """Gross use of one case with its retakes.

    Attempts until one succeeds are geometric: N has mean 1/(1-p) and variance p/(1-p)^2, and the use is a random sum
    with mean E N g and variance E N s^2 + Var N g^2 (g gross mean, s spread of one attempt).
    """
    p = need.retake_ppm / MILLION
    attempts, variance = 1 / (1 - p), p / (1 - p) ** 2
    return Amount(attempts * need.gross_qty, sqrt(attempts * need.sd_qty**2 + variance * need.gross_qty**2))


def serve_visits(
    visits: Iterable[tuple[date, Sequence[ExpectedLine]]],
    stacks: Collection[Stack],
    *,
    places: Sequence[int | None] = (),
    ahead: bool = False,
) -> tuple[Allocation[LineKey], ...]:
    """Which lots would serve visits that share one stock, first visit first.

    A load that needs a second cartridge needs a second tip; its tips are asked for accordingly.

    Args:
        visits: the day of each visit, and its lines.
        stacks: what is on offer.
        places: where each visit takes place; empty where the stacks say what stands at the one place.
        ahead: look ahead over visits of several days, see `allocate`.

    Returns:
        One allocation per visit, in their order. Numbers of fresh units count through all visits.
    """
    booked = [(number, day, lines) for number, (day, lines) in enumerate(visits)]
    today = min((day for _, day, _ in booked), default=date.min)  # every load carries its own day
    at = dict(enumerate(places))
    loads = (_load(number, day, line, at.get(number)) for number, day, lines in booked for line in lines)
    main = allocate(loads, stacks, today, ahead=ahead)
    cartridges = Counter(pick.key for pick in main.picks)
    taken: Counter[int] = Counter()
    for pick in main.picks:
        if pick.fresh is None:  # a tip may also stand on the form by itself
            taken[pick.holding_id] += pick.qty
    tips = allocate(
        (
            Load(
                (number, replace(line.key, tip=True)),
                line.need.tip.articles,
                max(line.tips, cartridges[number, line.key]),
                pieces=True,
                on=day,
                place=at.get(number),
            )
            for number, day, lines in booked
            for line in lines
            if line.need.tip
        ),
        (replace(stack, qty=stack.qty - taken[stack.holding_id]) for stack in stacks),
        today,
        ahead=ahead,
    )
    return tuple(_of_visit(number, main, tips) for number, _, _ in booked)


def propose(lines: Sequence[ExpectedLine], stacks: Collection[Stack], today: date) -> Allocation[LineKey]:
    """Which lots would serve one visit today: its materials and trays, then its tips."""
    return serve_visits([(today, lines)], stacks)[0]


@dataclass(frozen=True, slots=True)
class CasesPossible:
    """How many such visits the stock carries, and what the next one would lack (nothing: the count was capped)."""

    count: int
    lacks: tuple[Shortfall[LineKey], ...]


def cases_possible(
    lines: Sequence[ExpectedLine], stacks: Collection[Stack], today: date, most: int = 50
) -> CasesPossible:
    """How many visits with these lines can be done one after the other from stock, up to ``most``.

    Trays of unknown size are left out: their chance is the business of the size mix.
    """
    asked = [line for line in lines if not line.size_unknown]
    for done, served in enumerate(serve_visits([(today, asked)] * most, stacks)):
        if not served.complete:
            return CasesPossible(done, served.shortfalls)
    return CasesPossible(most, ())


_VisitKey = tuple[int, LineKey]


def _load(number: int, day: date, line: ExpectedLine, place: int | None) -> Load[_VisitKey]:
    need = line.need
    pieces = need.base is BaseUnit.PIECE
    return Load(
        (number, line.key),
        line.articles,
        line.gross_qty,
        need.extra_qty,
        may_split=need.may_split,
        pieces=pieces,
        on=day,
        place=place,
    )


def _of_visit(number: int, *parts: Allocation[_VisitKey]) -> Allocation[LineKey]:
    """The share of one visit, its keys without the visit's number."""
    return Allocation(
        tuple(
            Pick(pick.key[1], pick.stack, pick.qty, pick.fresh, pick.opens, pick.substitute)
            for part in parts
            for pick in part.picks
            if pick.key[0] == number
        ),
        tuple(
            Shortfall(short.key[1], short.item_id, short.qty)
            for part in parts
            for short in part.shortfalls
            if short.key[0] == number
        ),
    )

"""What is ahead for one item: how much will be used, and what becomes of each lot.

Use is expected from booked visits and from further ones by kind, with the belief said where there is no history yet.
The shelf is walked over many drawn courses of that use: each lot's chance to be used up in time, what is expected to
expire of it, and the days on which the stock runs out in one, five and nine of ten courses. For a look instead of
figures there is the course of the stock week by week, with the reorder point and what is on order.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain import reordering
from inventory.domain.courses import outlook
from inventory.domain.demand import PRIOR_WEEKS, Forecast, Stream
from inventory.domain.levels import Ending, Level, Stocked, endings, levels
from inventory.domain.position import LOOK_DAYS, Position
from inventory.domain.shelf import Fate, Outlook
from inventory.domain.vocabulary import BaseUnit
from inventory.domain.why import Derivation, Op, Term, derive
from inventory.domain.words import STANDING
from inventory.errors import NotFound
from inventory.service import forecasting
from inventory.service.forecasting import Picture
from inventory.service.practice import Practice
from inventory.store.queries import planning
from inventory.store.queries import visits as query
from inventory.store.queries.stock import Stand

PATHS = 1000
COURSE_DAYS = 26 * 7  # so far the course of the stock is drawn
QUANTILES = (500_000, 900_000, 990_000)
OPENINGS = "count"  # the stream of an item that is used by count alone


@dataclass(frozen=True, slots=True)
class Source:
    """One kind of visit that uses the item; rates in thousandths of a visit a week.

    Attributes:
        expected: use by further visits of the kind within the days looked at, in base units.
        belief: where the rate comes from, in words.
    """

    name: str
    weekly_thousandths: int
    expected: int
    belief: str

    @property
    def words(self) -> str:
        return f"{self.name}: {self.weekly_thousandths / 1000:.2g} a week, {self.belief}"


@dataclass(frozen=True, slots=True)
class Enough:
    """The amount (base units) that suffices with a chance, in a million."""

    chance_ppm: int
    qty: int


@dataclass(frozen=True, slots=True)
class LotAhead:
    """One lot at a place, one opened unit, or a delivery on order; quantities in base units.

    Attributes:
        lost: expected to expire, worth ``lost_cents``.
        used_up_ppm: chance, in a million, that nothing of it expires.
        used_up: the day on which mean use has taken all of it; None where it ends before, or lasts beyond the look.
    """

    label: str
    place: str
    last_day: date | None
    qty: int
    lost: int
    lost_cents: int
    used_up_ppm: int
    used_up: date | None


@dataclass(frozen=True, slots=True)
class Arrival:
    """What is on order: the day it is expected, and how much in base units."""

    on: date
    qty: int


@dataclass(frozen=True, slots=True)
class ItemAhead:
    """The forecast of one item.

    Attributes:
        days: so many days of use are looked at.
        booked: expected use by booked visits, in base units.
        sources: further visits by kind.
        expected: both together; ``enough`` are the amounts that suffice with 50, 90 and 99 of 100.
        usable, arriving, expired, held: what is there, on order, past its date, on hold.
        runs_out: the day in 10, 50 and 90 of 100 courses; None beyond what was looked at.
        lots: in issue order.
        course: usable stock from week to week, in 10, 50 and 90 of 100 courses.
        arrivals: what is on order, by day.
        reorder_point: at or under this it is ordered, in base units.
        unit_qty: content of a sealed unit, in base units.
        why: the expected use, term by term.
    """

    today: date
    item: str
    name: str
    base: BaseUnit
    days: int
    until: date
    booked: int
    sources: tuple[Source, ...]
    expected: int
    enough: tuple[Enough, ...]
    usable: int
    arriving: int
    expired: int
    held: int
    runs_out: tuple[date | None, date | None, date | None]
    lots: tuple[LotAhead, ...]
    course: tuple[Level, ...]
    arrivals: tuple[Arrival, ...]
    reorder_point: int
    unit_qty: int
    why: Derivation

    @property
    def lost(self) -> int:
        return sum(lot.lost for lot in self.lots)

    @property
    def lost_cents(self) -> int:
        return sum(lot.lost_cents for lot in self.lots)


def forecast(practice: Practice, item: str, *, seed: int = 0, paths: int = PATHS) -> ItemAhead:
    """What will be used of an item, and what becomes of each of its lots.

    Args:
        practice: the practice at work.
        item: its code.
        seed: of the drawn courses; the same seed gives the same answer.
        paths: number of courses.

    Raises:
        NotFound: no such item.
    """
    import numpy as np  # noqa: PLC0415 - heavy, and only needed here

    with practice.reading() as desk:
        picture = forecasting.picture(desk)
        bought = planning.preferred_supplies(desk.session, desk.today)
        positions = forecasting.positions(desk, picture, bought)
        number = next((n for n, p in positions.items() if p.code == item.strip().upper()), None)
        if number is None:
            raise NotFound(f"There is no item {item!r}.", "Look it up with 'items'.")
        kinds = {str(kind.id): kind.name for kind in query.case_kinds(desk.session)}
        expected = desk.settings["expected_weekly"]
        rules = forecasting.rules(desk)
    position = positions[number]
    seen = outlook(
        position.parcels, position.demand, picture.today, position.opened_life,
        generator=np.random.default_rng(seed), paths=paths,
    )  # fmt: skip
    course = levels(
        position.parcels, position.demand, picture.today, position.opened_life,
        end=COURSE_DAYS, generator=np.random.default_rng(seed), paths=paths,
    )  # fmt: skip
    believed = _Believed(kinds, bool(expected), reordering.propose(position, picture.today, rules).reorder_point)
    return _ahead(position, picture, believed, seen, course)


@dataclass(frozen=True, slots=True)
class _Believed:
    """What the practice says: names of its kinds of visit, whether it expects visits itself, and when it orders."""

    kinds: Mapping[str, str]
    own: bool
    reorder_point: int


def _ahead(
    position: Position, picture: Picture, believed: _Believed, seen: Outlook, course: tuple[Level, ...]
) -> ItemAhead:
    today, days = picture.today, LOOK_DAYS
    ahead = Forecast(position.demand, today)
    sources = tuple(_sources(position, ahead, believed.kinds, days, believed=believed.own))
    booked = max(0, round(ahead.expected(days)) - sum(source.expected for source in sources))
    step = 1 if position.base is BaseUnit.PIECE else None
    spread = ahead.distributions([days], step)[0] if sources or booked else None
    stands = {str(stand.holding_id): stand for stand in picture.stands}
    ends = endings([Stocked(position.parcels, position.demand, position.opened_life)], today)[0]
    return ItemAhead(
        today, position.code, position.name, position.base, days, today + timedelta(days=days),
        booked, sources, booked + sum(source.expected for source in sources),
        tuple(Enough(ppm, spread.quantile(ppm) if spread else 0) for ppm in QUANTILES),
        seen.usable, seen.arriving, seen.expired, seen.held, seen.runs_out,
        tuple(_lot(fate, stands.get(fate.key), ends[fate.key]) for fate in seen.fates),
        course, tuple(_arrivals(position)), believed.reorder_point, position.unit_qty,
        _why(position, booked, sources, days),
    )  # fmt: skip


def _sources(
    position: Position, ahead: Forecast, kinds: Mapping[str, str], days: int, *, believed: bool
) -> Iterator[Source]:
    for stream in position.demand.streams:
        each = sum(step.expected for step in stream.steps)
        visits, _ = ahead.visits(stream, days)
        name = "units opened" if stream.kind == OPENINGS else kinds.get(stream.kind, stream.kind)
        belief = _belief(stream, position.demand.history_weeks, believed=believed)
        yield Source(name, round(1000 * stream.rate.weekly), round(visits * each), belief)


def _belief(stream: Stream, weeks: float, *, believed: bool) -> str:
    """Where a rate comes from."""
    if stream.rate.weeks <= PRIOR_WEEKS or weeks < 1:
        return "no history yet: " + ("the practice's own expectation" if believed else "one a week is believed")
    return f"learned from {round(weeks)} weeks, the last half year most"


def _arrivals(position: Position) -> Iterator[Arrival]:
    coming = ((parcel.arrives, parcel.qty) for parcel in position.parcels if parcel.arrives is not None)
    yield from (Arrival(on, qty) for on, qty in sorted(coming))


def _lot(fate: Fate, stand: Stand | None, end: Ending) -> LotAhead:
    if stand is None:  # on order
        return LotAhead(fate.key, "", None, fate.qty, fate.lost, fate.lost_cents, fate.used_up, end.used_up)
    opened = f", opened {stand.opened_on.isoformat()}" if stand.opened_on else ""
    number = stand.lot_number if stand.lot_number == STANDING else f"lot {stand.lot_number}"
    return LotAhead(
        f"{number}{opened}", stand.place_name, stand.last_day, fate.qty, fate.lost, fate.lost_cents,
        fate.used_up, end.used_up,
    )  # fmt: skip


def _why(position: Position, booked: int, sources: tuple[Source, ...], days: int) -> Derivation:
    unit = position.base.value
    terms = [Term("looked at", days, "days", Op.TOLD), Term("booked visits", booked, unit)]
    terms += [Term(f"further: {source.name}", source.expected, unit) for source in sources]
    return derive(f"{position.name}: expected use", terms, "expected use", unit)

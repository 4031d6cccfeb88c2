"""What if a supplier is late, more visits come, or another pack is bought: what changes for items and for visits.

The book is read once; the change is made to what was read, and the same functions answer before and after.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from inventory.domain import trays
from inventory.domain import what_if as domain
from inventory.domain.demand import StepUse
from inventory.domain.quantity import show_money
from inventory.domain.readiness import Answer
from inventory.domain.vocabulary import Arch, VisitState
from inventory.domain.what_if import Change, Positions
from inventory.errors import BadInput, NotFound
from inventory.service import catalogue, forecasting, laying_out, readiness, size_mix
from inventory.service.catalogue import SupplyCard
from inventory.service.forecasting import Picture
from inventory.service.practice import Desk, Practice
from inventory.service.readiness import Readiness
from inventory.service.size_mix import SizeMix
from inventory.store.queries import planning
from inventory.store.queries import visits as query
from inventory.store.queries.visits import VisitRow
from inventory.store.tables import CaseKind

LEAST_AHEAD = 28  # days in which visits are looked at, at least
WITHIN = 30
MOST_DAYS, MOST_VISITS, MOST_UNITS = 366, 500, 100_000


@dataclass(frozen=True, slots=True)
class Late:
    """A supplier delivers so many days later than usual."""

    supplier: str
    days: int


@dataclass(frozen=True, slots=True)
class More:
    """So many more visits of a kind (its code) within the next days, beyond those booked and expected."""

    case_kind: str
    visits: int
    within_days: int = WITHIN


@dataclass(frozen=True, slots=True)
class Pack:
    """An item (its code) bought in packs of so many units; without a price the known one, else the same a unit."""

    item: str
    units: int
    pack_cents: int | None = None


Scenario = Late | More | Pack


@dataclass(frozen=True, slots=True)
class VisitChange:
    """A booked visit whose answer changes; ``said`` tells how it stands afterwards."""

    visit_id: int
    case_ref: str
    on: date
    before: Answer
    after: Answer
    said: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WhatIf:
    """The comparison.

    Attributes:
        asked: what was changed, in words.
        changes: items that stand differently, the one that fails first on top.
        fails_first: the item that is first without stock although it would be ordered today; None where none is.
        nearest: the item that runs out soonest after an order placed today is there.
        short_before, short_after: booked visits until ``until`` that are short of something.
        visits: booked visits whose answer changes, by day.
        more, more_short: visits added, and how many of those until ``until`` are short.
    """

    today: date
    until: date
    asked: tuple[str, ...]
    changes: tuple[Change, ...]
    fails_first: Change | None
    nearest: Change | None
    short_before: int
    short_after: int
    visits: tuple[VisitChange, ...]
    more: int
    more_short: int


@dataclass(frozen=True, slots=True)
class Choices:
    """What it can be asked about: suppliers, case kinds (code, name), items bought (code, name, units in a pack)."""

    today: date
    suppliers: tuple[str, ...]
    kinds: tuple[tuple[str, str], ...]
    items: tuple[tuple[str, str, int], ...]


def choices(practice: Practice) -> Choices:
    """What a what-if can be asked about."""
    with practice.reading() as desk:
        items = planning.items(desk.session)
        bought = {number: one for number, one in planning.preferred_supplies(desk.session, desk.today).items()
                  if number in items}  # fmt: skip
        return Choices(
            desk.today,
            tuple(sorted({one.supplier for one in bought.values()})),
            tuple((kind.code, kind.name) for kind in query.case_kinds(desk.session) if kind.active),
            tuple(sorted((items[n].code, items[n].name, one.units_per_pack) for n, one in bought.items())),
        )


def what_if(practice: Practice, scenarios: Sequence[Scenario]) -> WhatIf:
    """Compare what is proposed, what runs out and which visits are ready, as things are and changed.

    Args:
        practice: the practice at work; nothing is written.
        scenarios: what is changed, one after the other.

    Raises:
        NotFound: no such supplier, case kind, or item with a supplier.
        BadInput: nothing to change, or a number that makes no sense.
    """
    if not scenarios:
        raise BadInput("Nothing is asked.", "Name a late supplier, more visits of a kind, or another pack.")
    packs = catalogue.supplies(practice)
    with practice.reading() as desk:
        world = _World.read(desk, packs)
        changed = world
        for scenario in scenarios:
            changed = changed.after(scenario)
        ahead = max(LEAST_AHEAD, desk.settings["horizon_days"])
        until = max([desk.today + timedelta(days=ahead), *(row.on for row in changed.more)])
        before, after = world.readiness(desk, until), changed.readiness(desk, until)
        terms, rules = forecasting.supplier_terms(desk), forecasting.rules(desk)
        changes = domain.compare(world.positions, changed.positions, terms, desk.today, rules)
    booked = {one.visit_id: one for one in before}
    return WhatIf(
        today=world.picture.today,
        until=until,
        asked=changed.asked,
        changes=tuple(change for change in changes if change.matters),
        fails_first=domain.fails_first(changes),
        nearest=domain.nearest(changes),
        short_before=sum(not one.ready for one in before),
        short_after=sum(not one.ready for one in after if one.visit_id in booked),
        visits=tuple(
            VisitChange(one.visit_id, one.case_ref, one.on, booked[one.visit_id].answer, one.answer, one.said)
            for one in after
            if one.visit_id in booked and one.said != booked[one.visit_id].said
        ),
        more=len(changed.more),
        more_short=sum(not one.ready for one in after if one.visit_id not in booked),
    )


@dataclass(frozen=True, slots=True)
class _World:
    """What was read of the book, as it is or changed; ``asked`` says in words what was changed."""

    picture: Picture
    mix: SizeMix
    numbers: Mapping[str, int]
    positions: Positions
    kinds: Mapping[str, CaseKind]
    packs: Sequence[SupplyCard]
    asked: tuple[str, ...] = ()
    more: tuple[VisitRow, ...] = ()

    @classmethod
    def read(cls, desk: Desk, packs: Sequence[SupplyCard]) -> "_World":
        picture = forecasting.picture(desk)
        bought = planning.preferred_supplies(desk.session, picture.today)
        found = forecasting.positions(desk, picture, bought)
        return cls(
            picture,
            size_mix.read(desk, picture),
            {position.code: number for number, position in found.items()},
            tuple(found.values()),
            {kind.code: kind for kind in query.case_kinds(desk.session) if kind.active},
            packs,
        )

    def readiness(self, desk: Desk, until: date) -> tuple[Readiness, ...]:
        """How booked visits stand, those added among them."""
        planned = sorted((*self.picture.planned, *self.more), key=lambda row: (row.on, row.id < 0, row.id))
        supplies = {self.numbers[p.code]: p.supply for p in self.positions if p.supply}
        return readiness.readiness_of(desk, replace(self.picture, planned=tuple(planned)), until, self.mix, supplies)

    def after(self, scenario: Scenario) -> "_World":
        """The world with one thing changed."""
        if isinstance(scenario, Late):
            return self._late(scenario)
        return self._busier(scenario) if isinstance(scenario, More) else self._repacked(scenario)

    def _late(self, late: Late) -> "_World":
        _check("days late", late.days, MOST_DAYS)
        names = {position.supply.supplier for position in self.positions if position.supply}
        supplier = _the_one("supplier", late.supplier, names)
        theirs = {self.numbers[p.code] for p in self.positions if p.supply and p.supply.supplier == supplier}
        coming = tuple(
            replace(one, arrives=one.arrives + timedelta(days=late.days)) if one.item_id in theirs else one
            for one in self.picture.coming
        )
        return replace(
            self,
            picture=replace(self.picture, coming=coming),
            positions=domain.late(self.positions, supplier, late.days),
            asked=(*self.asked, f"{supplier} {late.days} days late"),
        )

    def _busier(self, more: More) -> "_World":
        _check("visits", more.visits, MOST_VISITS)
        _check("days", more.within_days, MOST_DAYS)
        kind = self.kinds[_the_one("case kind", more.case_kind, self.kinds)]
        days = domain.spread(self.picture.today, more.visits, more.within_days)
        number = len(self.more)
        rows = (
            VisitRow(
                -number - at, "", day, kind.id or 0, kind.code, kind.name, kind.technique, True, True,
                None, None, None, None, None, None, VisitState.PLANNED, "", 1,
            )
            for at, day in enumerate(days, start=1)
        )  # fmt: skip
        said = f"{more.visits} more: {kind.name}, within {more.within_days} days"
        return replace(
            self,
            positions=domain.more_visits(self.positions, kind.code, days, self._steps(kind.id or 0)),
            asked=(*self.asked, said),
            more=(*self.more, *rows),
        )

    def _repacked(self, pack: Pack) -> "_World":
        _check("units in a pack", pack.units, MOST_UNITS)
        codes = {position.code: position for position in self.positions if position.supply}
        position = codes[_the_one("item with a supplier", pack.item, codes)]
        cents = pack.pack_cents if pack.pack_cents is not None else self._price(position.code, pack.units)
        if cents < 0:
            raise BadInput("A pack can't cost less than nothing.", "Name its price in cents.")
        said = f"{position.name} in packs of {pack.units} for {show_money(cents)}"
        positions = domain.other_pack(self.positions, position.code, pack.units, cents)
        return replace(self, positions=positions, asked=(*self.asked, said))

    def _price(self, code: str, units: int) -> int:
        """The known price of such a pack, else the same a unit as in the present one."""
        known = [one.pack_cents for one in self.packs if (one.item, one.units_per_pack) == (code, units)]
        if known:
            return min(known)
        supply = next(p.supply for p in self.positions if p.code == code)
        return round(supply.pack_cents * units / supply.units_per_pack) if supply else 0

    def _steps(self, kind_id: int) -> dict[str, tuple[StepUse, ...]]:
        """What one visit of a kind takes, by item: as forecast where the kind is, else with both arches."""
        found: dict[str, tuple[StepUse, ...]] = {
            position.code: stream.steps
            for position in self.positions
            for stream in position.demand.streams
            if stream.kind == str(kind_id)
        }
        if found:
            return found
        for item_id, use in self._expected(kind_id):
            code = self.picture.items[item_id].code
            found[code] = (*found.get(code, ()), use)
        return found

    def _expected(self, kind_id: int) -> Iterator[tuple[int, StepUse]]:
        for need in laying_out.step_needs(self.picture, self.picture.needs.get(kind_id, ())):
            retake = need.retake_ppm / size_mix.MILLION
            if need.is_tray:
                yield from self._sizes(kind_id, need.arch)
            elif need.articles:
                yield need.articles[0], StepUse(need.mean_qty, need.sd_qty, need.extra_qty, retake)
                if need.tip:
                    yield need.tip.articles[0], StepUse(1, retake=retake)

    def _sizes(self, kind_id: int, arch: Arch | None) -> Iterator[tuple[int, StepUse]]:
        """Single-use trays by their share; a reusable one comes back and is no reason to order."""
        lines = [need.tray_line for need in self.picture.needs.get(kind_id, ()) if need.arch is arch]
        keys = [(line, arch) for line in lines if line and arch]
        run = next((self.mix.runs[key] for key in keys if key in self.mix.runs), None)
        if run is None or run.reusable:
            return
        for numbers, take in zip(run.item_ids, trays.expected_take(self.mix.outlook(run), 1), strict=True):
            yield from ((number, StepUse(1, chance=take)) for number in numbers[:1])


def _check(what: str, number: int, most: int) -> None:
    if not 1 <= number <= most:
        raise BadInput(f"{what}: {number} is not from 1 to {most}.", "Correct it.")


def _the_one(what: str, typed: str, known: Mapping[str, object] | set[str]) -> str:
    """What was typed, as it is written in the book, in upper or lower case alike."""
    found = {name.casefold(): name for name in known}
    name = found.get(typed.strip().casefold())
    if name is None:
        raise NotFound(f"There is no {what} {typed!r}.", f"Known are: {', '.join(sorted(found.values()))[:400]}.")
    return name

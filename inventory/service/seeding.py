"""The demo practice's story: two years of invented history, lived day by day through the services.

A clock handed in is turned from the first day to the seeding day; deliveries come, visits are planned, booked out,
retaken and called off, bottles are opened, lots are held. Every date is an offset from the seeding day, so the story
ends today with one of each thing the weekly check can tell. The same day gives the same story.
"""

import tomllib
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from importlib.resources import files
from itertools import count
from random import Random
from typing import Any

from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, PlaceRole
from inventory.errors import NotAllowed
from inventory.service import booking, filling_in, holding, moving, receiving, setting_up, visits
from inventory.service.clock import Clock
from inventory.service.filling import Filling
from inventory.service.lots import NONE_STATED, NOT_READ, UseBy
from inventory.service.moving import Part, Slip
from inventory.service.practice import Practice
from inventory.service.visits import VisitPlan
from inventory.store.engine import Store
from inventory.store.queries import people, planning, stock
from inventory.store.queries.planning import Bought
from inventory.store.queries.stock import Stand
from inventory.store.tables import Item

Tell = Callable[[int, int], None]
SEED = 20_260


@dataclass(frozen=True, slots=True)
class Seeded:
    """What the story left in the book."""

    today: date
    visits: int
    deliveries: int


def seed_demo(store: Store, today: date, tell: Tell | None = None) -> Seeded:
    """Live the demo practice's two years up to ``today`` in an empty store.

    Args:
        store: an empty store.
        today: the day on which the story ends.
        tell: called with the days done and the days in all.

    Raises:
        NotAllowed: the store is not empty.
    """
    story = _Story(store, today)
    if setting_up.is_set_up(story.practice):
        raise NotAllowed("This store holds a practice already.", "Name another file for the demo practice.")
    return story.live(tell)


def _plot() -> dict[str, Any]:
    """The story's figures and its single events, from the seed data."""
    return tomllib.loads((files("seed_data") / "demo" / "story.toml").read_text(encoding="utf-8"))


@dataclass
class _Hands:
    """The clock's hands; the story turns them."""

    day: date

    def __call__(self) -> datetime:
        return datetime.combine(self.day, time(10), tzinfo=UTC)


@dataclass
class _Story:
    store: Store
    today: date
    plot: dict[str, Any] = field(default_factory=_plot)
    coming: dict[date, list[receiving.Delivery]] = field(default_factory=lambda: defaultdict(list))
    cases: Iterator[int] = field(default_factory=lambda: count(1))
    keys: Iterator[int] = field(default_factory=lambda: count(1))
    lots: Iterator[int] = field(default_factory=lambda: count(100))
    done: int = 0
    received: int = 0

    def __post_init__(self) -> None:
        self.random = Random(SEED)  # noqa: S311 - a story, not a secret
        self.first = self.today - timedelta(days=self.plot["days"])
        self.hands = _Hands(self.first)
        self.practice = Practice(self.store, Clock(self.hands))
        self.by: str = self.plot["by"]

    def live(self, tell: Tell | None) -> Seeded:
        setting_up.demo_catalogue(self.practice, self.by)
        self._look_around()
        for number in range(self.plot["days"]):
            self.hands.day = self.first + timedelta(days=number)
            self._day(number)
            if tell is not None:
                tell(number + 1, self.plot["days"])
        self.hands.day = self.today
        self._end()
        return Seeded(self.today, self.done, self.received)

    # what the practice is made of

    def _look_around(self) -> None:
        with self.practice.reading() as desk:
            self.items: dict[str, Item] = {item.code: item for item in planning.items(desk.session).values()}
            self.by_id: dict[int, Item] = {item.id or 0: item for item in self.items.values()}
            self.bought: dict[int, Bought] = planning.preferred_supplies(desk.session, desk.today)
            places = people.places(desk.session)
        self.store_room = next(place.name for place in places if place.role is PlaceRole.STORE)
        self.chairs = [place.name for place in places if place.role is PlaceRole.CHAIR]
        self.away = [place.name for place in places if place.role in (PlaceRole.REPROCESSING, PlaceRole.LABORATORY)]
        self.place_ids = {place.name: place.id or 0 for place in places}
        self.in_packs_of_others = {number for bought in self.bought.values() for number, _ in bought.further}

    def _stands(self) -> list[Stand]:
        with self.practice.reading() as desk:
            return stock.stands(desk.session)

    # a day

    def _day(self, number: int) -> None:
        left = (self.today - self.hands.day).days
        for delivery in self.coming.pop(self.hands.day, []):
            self._receive(delivery)
        for event in self.plot["event"]:
            if event["days_before"] == left:
                self._happen(event)
        weekday = number % 7  # counted from the first day, so that every seeding day has the same story
        if weekday == 0:
            self._monday(left)
        if weekday < 5:
            for _ in range(self._visits_today(left)):
                self._visit()

    def _visits_today(self, left: int) -> int:
        if left == 0:
            return 0
        return sum(self.random.random() < self.plot["visits_a_day"] / 2 for _ in range(2))

    def _monday(self, left: int) -> None:
        """Bring trays back, look after bottles, order what has run down."""
        stands = self._stands()
        for stand in stands:
            if stand.place_name in self.away:
                moving.transfer(self.practice, [Part(stand.holding_id)], self.store_room, self._slip())
        self._bottles(stands)
        if left > self.plot["last_order_days_before"]:
            self._order(stands)

    def _bottles(self, stands: list[Stand]) -> None:
        """Items used by count alone: a bottle is emptied after some weeks, and the next one opened."""
        for code, weeks in self.plot["bottles"].items():
            item = self.items[code]
            opened = [s for s in stands if s.item_id == item.id and s.opened_on and s.place_role.usable]
            sealed = sorted(
                (s for s in stands if s.item_id == item.id and not s.opened_on and s.place_name == self.store_room),
                key=lambda s: s.use_by or date.max,
            )
            for stand in opened:
                if stand.opened_on and (self.hands.day - stand.opened_on).days >= 7 * weeks:
                    moving.use_up(self.practice, stand.holding_id, self._slip())
                    opened = []
            usable = [s for s in sealed if s.use_by is None or s.use_by >= self.hands.day]
            if usable and not opened:
                moving.open_unit(self.practice, usable[0].holding_id, self._slip(), to_place=self.chairs[0])

    def _order(self, stands: list[Stand]) -> None:
        """The demo practice's habit: order a pack of what has run down to its level; it comes after the lead time."""
        there: dict[int, int] = defaultdict(int)
        for stand in stands:
            in_date = stand.last_day is None or stand.last_day > self.hands.day
            there[stand.item_id] += stand.on_hand if stand.place_role.usable and in_date else 0
        expected = {arrival.item for deliveries in self.coming.values() for d in deliveries for arrival in d.lines}
        wanted: dict[str, list[receiving.Arrival]] = defaultdict(list)
        for code, item in self.items.items():
            bought = self.bought.get(item.id or 0)
            if bought is None or code in expected or code in self.plot["never_ordered"]:
                continue
            level = self._level(item, bought)
            if there[item.id or 0] < level * item.unit_qty:
                wanted[bought.supplier].append(self._arrival(item, packs=1))
        for supplier, arrivals in wanted.items():
            lead = next(b.lead_days for b in self.bought.values() if b.supplier == supplier)
            day = self.hands.day + timedelta(days=lead + self.random.randint(0, 2))
            self.coming[day].append(self._delivery(supplier, arrivals))

    def _level(self, item: Item, bought: Bought) -> int:
        """Sealed units under which this practice orders."""
        levels: dict[str, int] = self.plot["levels"]
        if item.id in self.in_packs_of_others:
            return levels.get(item.code, 0)
        return levels.get(item.code, max(2, bought.units_per_pack // 2))

    # deliveries

    def _arrival(self, item: Item, packs: int) -> receiving.Arrival:
        return receiving.Arrival(
            item=item.code, packs=packs, lot=self._lot_number(item), use_by=self._use_by(item),
            contents=tuple(
                receiving.PackArticle(item=self.by_id[number].code)
                for number, _ in self.bought[item.id or 0].further
            ),
        )  # fmt: skip

    def _lot_number(self, item: Item) -> str:
        return f"{item.code[:2]}{next(self.lots)}" if item.has_lots else ""

    def _use_by(self, item: Item) -> UseBy | None:
        """Most materials have 14 to 26 months left when they come, some labels give the month alone."""
        if not item.has_lots:
            return None
        if item.kind in (ItemKind.TRAY, ItemKind.TIP):
            return NONE_STATED
        day = self.hands.day + timedelta(days=self.random.randint(420, 790))
        return UseBy.month(day.year, day.month) if self.random.random() < 0.2 else UseBy.on(day)

    def _delivery(self, supplier: str, arrivals: list[receiving.Arrival]) -> receiving.Delivery:
        return receiving.Delivery(
            supplier=supplier, lines=tuple(arrivals), slip_no=f"S-{next(self.keys):05d}", place=self.store_room
        )

    def _receive(self, delivery: receiving.Delivery) -> None:
        receiving.receive(self.practice, delivery, by=self.by, request_key=self._key(), confirmed=True)
        self.received += 1

    # visits

    def _visit(self) -> None:
        """One visit of this day, planned and booked out, or called off."""
        plan = self._plan()
        card = visits.plan(self.practice, plan, by=self.by)
        filling = filling_in.begin(self.practice, card.visit_id)
        if self.random.random() < self.plot["called_off"] or filling_in.open_questions(filling):
            visits.cancel(self.practice, card.visit_id, version=card.version, reason="called off", by=self.by)
            return
        self._book(self._as_it_went(filling))
        self.done += 1

    def _plan(self) -> VisitPlan:
        kind = self._chosen(self.plot["kinds"])
        number, year = next(self.cases), self.hands.day.year % 100
        upper, lower = self._chosen_arches()
        trays = kind in self.plot["tray_kinds"]
        return VisitPlan(
            case_ref=f"D{year:02d}-{number:04d}", on=self.hands.day, case_kind=kind, upper=upper, lower=lower,
            upper_size=self._chosen(self.plot["sizes"]) if trays and upper else None,
            lower_size=self._chosen(self.plot["sizes"]) if trays and lower else None,
            place=self.random.choice(self.chairs),
        )  # fmt: skip

    def _chosen_arches(self) -> tuple[bool, bool]:
        turn = self.random.random()
        return (True, True) if turn < 0.75 else (True, False) if turn < 0.88 else (False, True)

    def _chosen(self, weights: dict[str, float]) -> str:
        return self.random.choices(list(weights), list(weights.values()))[0]

    def _as_it_went(self, filling: Filling) -> Filling:
        """Amounts a little off, now and then a retake or a tray tried in vain; most lots read."""
        if self.random.random() < self.plot["retakes"]:
            filling = filling_in.retake(self.practice, filling, *self._again(filling))
        for line in filling.lines:
            if line.base is BaseUnit.CML and line.qty:
                least = line.form.purge_qty
                drawn = round((line.qty - least) * min(1.6, max(0.6, self.random.gauss(1.0, 0.18)))) + least
                filling = filling_in.set_qty(filling, line.key, min(drawn, line.unit_qty))
        if self.random.random() < self.plot["lots_read"]:
            filling = filling_in.confirm_all(filling)
        return filling

    def _again(self, filling: Filling) -> tuple[str, Arch | None]:
        steps = [line.form for line in filling.lines if line.form.kind is ItemKind.IMPRESSION]
        form = self.random.choice(steps) if steps else filling.lines[0].form
        return form.step, form.arch

    def _book(self, filling: Filling) -> None:
        booking.book_out(
            self.practice, filling_in.book_out(filling), by=self.random.choice(self.plot["assistants"]),
            request_key=self._key(), confirmed=True, reason="noted while booking out",
        )  # fmt: skip

    # what happens once, so that the check has each kind of thing to tell

    def _happen(self, event: dict[str, Any]) -> None:
        {"receive": self._extra, "open": self._open, "rest": self._rest, "hold": self._hold}[event["what"]](event)

    def _extra(self, event: dict[str, Any]) -> None:
        """A delivery of one lot whose date is an offset from the seeding day."""
        item = self.items[event["item"]]
        arrival = receiving.Arrival(
            item=item.code, units=event["units"], lot=event["lot"], use_by=self._stated(event.get("use_by_in"))
        )
        self._receive(self._delivery(self.bought[item.id or 0].supplier, [arrival]))

    def _stated(self, days: int | str | None) -> UseBy:
        if days is None:
            return NOT_READ
        return NONE_STATED if isinstance(days, str) else UseBy.on(self.today + timedelta(days=days))

    def _lot(self, number: str) -> Stand:
        """Where most of a lot stands sealed."""
        found = [s for s in self._stands() if s.lot_number == number and s.opened_on is None]
        return max(found, key=lambda stand: stand.on_hand)

    def _open(self, event: dict[str, Any]) -> None:
        moving.open_unit(self.practice, self._lot(event["lot"]).holding_id, self._slip(), to_place=self.chairs[-1])

    def _rest(self, event: dict[str, Any]) -> None:
        """A cartridge opened, and found nearly empty when somebody looked."""
        opened = moving.open_unit(
            self.practice, self._lot(event["lot"]).holding_id, self._slip(), to_place=self.chairs[-1]
        ).opened_id
        if opened is not None:
            moving.correct_count(self.practice, opened, event["left"], self._slip(reason="counted by eye"))

    def _hold(self, event: dict[str, Any]) -> None:
        lot_id = self._lot(event["lot"]).lot_id
        holding.hold(self.practice, lot_id=lot_id, reason=event["reason"], by=self.by, recall=event.get("recall", ""))

    def _end(self) -> None:
        """The calendar as it stands on the seeding day: today's visits, those to come, one forgotten."""
        for planned in self.plot["planned"]:
            number, year = next(self.cases), self.today.year % 100
            visits.plan(
                self.practice,
                VisitPlan(
                    case_ref=f"D{year:02d}-{number:04d}", on=self.today + timedelta(days=planned["in_days"]),
                    case_kind=planned["kind"], upper=planned.get("upper", True), lower=planned.get("lower", True),
                    upper_size=planned.get("upper_size"), lower_size=planned.get("lower_size"),
                    place=self.chairs[number % len(self.chairs)],
                ),
                by=self.by,
            )  # fmt: skip

    def _key(self) -> str:
        return f"demo-{next(self.keys)}"

    def _slip(self, reason: str = "") -> Slip:
        return Slip(request_key=self._key(), by=self.by, reason=reason)

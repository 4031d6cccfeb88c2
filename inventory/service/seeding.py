"""The demo practice's story: two years of invented history, lived day by day through the services.

A clock handed in is turned from the first day to the seeding day; deliveries come, visits are planned, booked out,
retaken and called off, bottles are opened, lots are held. Every date is an offset from the seeding day, so the story
ends today with one of each thing the weekly check can tell. The same day gives the same story.
"""

import tomllib
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from importlib.resources import files
from importlib.resources.abc import Traversable
from itertools import count
from random import Random
from typing import Any

from inventory.domain import catalogue
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, LaboratoryAnswer, PlaceRole, Role, TrialOutcome
from inventory.errors import NotAllowed
from inventory.service import (
    booking,
    holding,
    importing,
    laboratory,
    laying_out,
    moving,
    ordering,
    places,
    receiving,
    setting_up,
    visits,
)
from inventory.service.booking import BookOut, UsedLine, UsedTray
from inventory.service.clock import Clock
from inventory.service.laboratory import Packing
from inventory.service.laying_out import Form, FormLine
from inventory.service.lots import NONE_STATED, NOT_READ, UseBy
from inventory.service.moving import Part, Slip
from inventory.service.practice import Practice
from inventory.service.seeding_shelves import count_materials, throw_away
from inventory.service.setting_up import PersonDraft, SetUp
from inventory.service.visits import VisitPlan
from inventory.store.engine import Store
from inventory.store.queries import planning, stock
from inventory.store.queries.planning import Bought
from inventory.store.queries.stock import Stand

Tell = Callable[[int, int], None]
SEED = 20_260


@dataclass(frozen=True, slots=True)
class Seeded:
    """What the story left in the book."""

    today: date
    visits: int
    deliveries: int


def seed_demo(store: Store, today: date, tell: Tell | None = None, days: int | None = None) -> Seeded:
    """Live the demo practice's two years up to ``today`` in an empty store.

    Args:
        store: an empty store.
        today: the day on which the story ends.
        tell: called with the days done and the days in all.
        days: live only so many of them, the last ones; what happened before is done on the first of them.

    Raises:
        NotAllowed: the store is not empty.
    """
    story = _Story(store, today) if days is None else _Story(store, today, {**_plot(), "days": days})
    if setting_up.is_set_up(story.practice):
        raise NotAllowed("This store holds a practice already.", "Name another file for the demo practice.")
    return story.live(tell)


def demo_catalogue(practice: Practice) -> None:
    """Set the invented demo practice up in an empty store, with its catalogue and nothing on the shelf.

    Raises:
        AlreadyDone: the store holds a practice.
    """
    known = _toml("practice.toml")
    lines = (known["final_line"], known["preliminary_line"])
    setting_up.set_up(
        practice,
        SetUp(
            people=tuple(PersonDraft(initials, Role(role)) for initials, role in known["people"].items()),
            places=setting_up.default_places(known["operatories"]),
            tray_lines=tuple(catalogue.TrayLine(line, tuple(known["sizes"]), tuple(known["sizes"])) for line in lines),
            final_line=known["final_line"],
            preliminary_line=known["preliminary_line"],
            settings={"time_zone": known["time_zone"], "currency": known["currency"]},
        ),
        by=known["by"],
    )
    for kind in ("suppliers", "items", "fits", "supplies"):
        importing.import_file(practice, kind, _seed(f"{kind}.csv").read_bytes(), by=known["by"])


def _seed(name: str) -> Traversable:
    return files("seed_data") / "demo" / name


def _toml(name: str) -> dict[str, Any]:
    return tomllib.loads(_seed(name).read_text(encoding="utf-8"))


def _plot() -> dict[str, Any]:
    """The story's figures and its single events, from the seed data."""
    return _toml("story.toml")


@dataclass
class _Hands:
    """The clock's hands; the story turns them."""

    day: date

    def __call__(self) -> datetime:
        return datetime.combine(self.day, time(10), tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class _Article:
    """What the story needs to know of an item."""

    id: int
    code: str
    kind: ItemKind
    unit_qty: int
    has_lots: bool
    reusable: bool


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
        demo_catalogue(self.practice)
        self._look_around()
        for number in range(self.plot["days"]):
            self.hands.day = self.first + timedelta(days=number)
            self._day(number)
            if tell is not None:
                tell(number + 1, self.plot["days"])
        self.hands.day = self.today
        self._end()
        self._parcels()
        self._own_levels()
        return Seeded(self.today, self.done, self.received)

    # what the practice is made of

    def _look_around(self) -> None:
        with self.practice.reading() as desk:
            rows = planning.items(desk.session).values()
            articles = [_Article(r.id or 0, r.code, r.kind, r.unit_qty, r.has_lots, r.reusable) for r in rows]
            self.bought: dict[int, Bought] = planning.preferred_supplies(desk.session, desk.today)
        self.items = {article.code: article for article in articles}
        self.by_id = {article.id: article for article in articles}
        places = setting_up.practice_state(self.practice).places
        self.store_room = next(place.name for place in places if place.role is PlaceRole.STORE)
        self.chairs = [place.name for place in places if place.role is PlaceRole.CHAIR]
        self.away = [place.name for place in places if place.role in (PlaceRole.REPROCESSING, PlaceRole.LABORATORY)]
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
            if event["days_before"] == left or (number == 0 and event["days_before"] > left):
                self._happen(event)
        weekday = number % 7  # counted from the first day, so that every seeding day has the same story
        if weekday == 0:
            self._monday(left)
        if weekday < 5:
            for _ in range(self._visits_today(left)):
                self._visit()
        if left in self.plot["counted"]:
            count_materials(self.practice, by=self.by, request_key=self._key())

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
            self._clear(stands)
            self._order(stands)

    def _clear(self, stands: list[Stand]) -> None:
        """Throw away what is past its day, and rests that serve no step."""
        for stand in stands:
            late = stand.last_day is not None and stand.last_day < self.hands.day
            rest = self.plot["rests"].get(self.by_id[stand.item_id].code, 0)
            if not stand.place_role.usable or stand.lot_number in self.plot["left_standing"]:
                continue
            if late:
                moving.discard(self.practice, [Part(stand.holding_id)], self._slip(reason="past its last day of use"))
            elif stand.opened_on is not None and stand.on_hand < rest:
                moving.write_off_rest(self.practice, stand.holding_id, self._slip())

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
            bought = self.bought.get(item.id)
            if bought is None or code in expected or code in self.plot["never_ordered"]:
                continue
            level = self._level(item, bought)
            if there[item.id] < level * item.unit_qty:
                wanted[bought.supplier].append(self._arrival(item, packs=1))
        for supplier, arrivals in wanted.items():
            lead = next(b.lead_days for b in self.bought.values() if b.supplier == supplier)
            day = self.hands.day + timedelta(days=lead + self.random.randint(0, 2))
            delivery = self._delivery(supplier, arrivals)
            if (self.today - self.hands.day).days <= self.plot["orders_written_for"]:
                number = self._purchase(supplier, {arrival.item: arrival.packs for arrival in arrivals})
                delivery = replace(delivery, order=number)
            self.coming[day].append(delivery)

    def _purchase(self, supplier: str, packs: dict[str, int]) -> str:
        """Write an order and mark it as sent; returns its number."""
        wanted = [ordering.Wanted(code, count) for code, count in packs.items()]
        number = ordering.draft(self.practice, supplier, wanted, by=self.by).number
        return ordering.send(self.practice, number, by=self.by).number

    def _level(self, item: _Article, bought: Bought) -> int:
        """Sealed units under which this practice orders."""
        levels: dict[str, int] = self.plot["levels"]
        if item.id in self.in_packs_of_others:
            return levels.get(item.code, 0)
        return levels.get(item.code, max(2, bought.units_per_pack // 2))

    # deliveries

    def _arrival(self, item: _Article, packs: int) -> receiving.Arrival:
        return receiving.Arrival(
            item=item.code, packs=packs, lot=self._lot_number(item), use_by=self._use_by(item),
            contents=tuple(
                receiving.PackArticle(item=self.by_id[number].code)
                for number, _ in self.bought[item.id].further
            ),
        )  # fmt: skip

    def _lot_number(self, item: _Article) -> str:
        return f"{item.code[:2]}{next(self.lots)}" if item.has_lots else ""

    def _use_by(self, item: _Article) -> UseBy | None:
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
        card = visits.plan(self.practice, self._plan(), by=self.by, confirmed=True)
        form = laying_out.form(self.practice, card.visit_id)
        if self.random.random() < self.plot["called_off"] or not form.complete:
            visits.cancel(self.practice, card.visit_id, version=card.version, reason="called off", by=self.by)
            return
        if self.random.random() < self.plot["retakes"]:
            again = laying_out.form(self.practice, card.visit_id, retakes=[self._again(form)])
            form = again if again.complete else form
        self._book(form)
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

    def _again(self, form: Form) -> tuple[str, Arch | None]:
        """The step and arch that is taken again."""
        steps = [line for line in form.lines if line.kind is ItemKind.IMPRESSION]
        line = self.random.choice(steps or list(form.lines))
        return line.step, line.arch

    def _book(self, form: Form) -> None:
        """Book the visit out: amounts a little off, now and then a tray tried in vain, most lots read."""
        read = self.random.random() < self.plot["lots_read"]
        materials = tuple(self._used(line, read) for line in form.lines if line.kind is not ItemKind.TRAY)
        fitted = tuple(self._tray(line, TrialOutcome.FITTED) for line in form.lines if line.kind is ItemKind.TRAY)
        booking.book_out(
            self.practice,
            BookOut(form.visit.visit_id, form.visit.version, form.place, materials, (*fitted, *self._tried(form))),
            by=self.random.choice(self.plot["assistants"]),
            request_key=self._key(),
            confirmed=True,
            reason="the cartridge held a little more",
        )

    def _used(self, line: FormLine, read: bool) -> UsedLine:
        drawn = line.qty
        if line.base is BaseUnit.CML:
            most = 1.5 if line.opens else 1.0  # no more than is sure to be there
            drawn = round((line.qty - line.purge_qty) * min(most, max(0.6, self.random.gauss(0.97, 0.17))))
            drawn = min(drawn + line.purge_qty, line.unit_qty)
        return UsedLine(
            item_id=line.item_id or 0, qty=drawn, purge_qty=line.purge_qty, holding_id=line.holding_id,
            fresh=line.fresh or 1, need_id=line.need_id, step=line.step, arch=line.arch, attempt=line.attempt,
            expected_qty=line.qty, lot_confirmed=read,
        )  # fmt: skip

    def _tray(self, line: FormLine, outcome: TrialOutcome) -> UsedTray:
        return UsedTray(
            line.arch or Arch.MAXILLARY, line.item_id or 0, outcome, line.holding_id, line.attempt, lot_confirmed=True,
            need_id=line.need_id, step=line.step,
        )  # fmt: skip

    def _tried(self, form: Form) -> Iterator[UsedTray]:
        """A tray of the same size tried first and not used: it was not good."""
        for line in form.lines:
            if line.kind is ItemKind.TRAY and self.random.random() < self.plot["tried_in"]:
                reusable = self.by_id[line.item_id or 0].reusable
                yield self._tray(line, TrialOutcome.TRIED_REPROCESS if reusable else TrialOutcome.TRIED_THROWN)

    # what happens once, so that the check has each kind of thing to tell

    def _happen(self, event: dict[str, Any]) -> None:
        deeds = {
            "receive": self._extra,
            "open": self._open,
            "rest": self._rest,
            "hold": self._hold,
            "order": self._forgotten,
            "throw away": self._incomplete,
        }
        deeds[event["what"]](event)

    def _forgotten(self, event: dict[str, Any]) -> None:
        """An order that never comes."""
        item = self.items[event["item"]]
        self._purchase(self.bought[item.id].supplier, {item.code: event["packs"]})

    def _incomplete(self, event: dict[str, Any]) -> None:
        """Units that are no good, so that few are left."""
        item_id = self.items[event["item"]].id
        stands = [stand for stand in self._stands() if stand.item_id == item_id and stand.place_role.usable]
        throw_away(self.practice, stands, event["left"], self._slip(reason=event["reason"]))

    def _extra(self, event: dict[str, Any]) -> None:
        """A delivery of one lot whose date is an offset from the seeding day."""
        item = self.items[event["item"]]
        arrival = receiving.Arrival(
            item=item.code, units=event["units"], lot=event["lot"], use_by=self._stated(event.get("use_by_in"))
        )
        self._receive(self._delivery(self.bought[item.id].supplier, [arrival]))

    def _stated(self, days: int | str | None) -> UseBy:
        if days is None:
            return NOT_READ
        return NONE_STATED if isinstance(days, str) else UseBy.on(self.today + timedelta(days=days))

    def _sealed(self, event: dict[str, Any]) -> Stand:
        """The sealed stack an event is about: of its lot, else the item's that goes first."""
        item_id = self.items[event["item"]].id
        found = [s for s in self._stands() if s.item_id == item_id and s.opened_on is None and s.place_role.usable]
        named = [stand for stand in found if stand.lot_number == event.get("lot")]
        return min(named or found, key=lambda stand: stand.use_by or date.max)

    def _open(self, event: dict[str, Any]) -> None:
        moving.open_unit(self.practice, self._sealed(event).holding_id, self._slip(), to_place=self.chairs[-1])

    def _rest(self, event: dict[str, Any]) -> None:
        """A cartridge opened, and found nearly empty when somebody looked."""
        opened = moving.open_unit(
            self.practice, self._sealed(event).holding_id, self._slip(), to_place=self.chairs[-1]
        ).opened_id
        if opened is not None:
            moving.correct_count(self.practice, opened, event["left"], self._slip(reason="counted by eye"))

    def _hold(self, event: dict[str, Any]) -> None:
        lot_id = self._sealed(event).lot_id
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
                by=self.by, confirmed=True,
            )  # fmt: skip

    def _parcels(self) -> None:
        """What went to the laboratory lately; one parcel was packed and forgotten, the last ones are not answered."""
        waiting = laboratory.parcels(self.practice).parcels
        forgotten = max((parcel.visit_id for parcel in waiting if parcel.late), default=None)
        for parcel in waiting:
            packing = Packing(parcel.visit_id, parcel.contents, self.plot["disinfectant"])
            laboratory.pack(self.practice, packing, by=self.by)
            if parcel.taken_at is None or parcel.visit_id == forgotten:
                continue
            sent_at = parcel.taken_at + timedelta(minutes=30)
            laboratory.send(self.practice, parcel.visit_id, self.plot["carrier"], by=self.by, at=sent_at)
            if (self.today - parcel.on).days > self.plot["answered_after_days"]:
                laboratory.answer(self.practice, parcel.visit_id, LaboratoryAnswer.RECEIVED, by=self.by)

    def _own_levels(self) -> None:
        """What the first operatory is topped up to from the store room."""
        for code, units in self.plot["own_levels"].items():
            places.set_level(self.practice, self.chairs[0], code, units, by=self.by)

    def _key(self) -> str:
        return f"demo-{next(self.keys)}"

    def _slip(self, reason: str = "") -> Slip:
        return Slip(request_key=self._key(), by=self.by, reason=reason)

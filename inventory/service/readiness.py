"""Whether each booked visit of the next weeks can be done, and what to do where it can't.

Everything a visit is known to need is walked forward in the order of the visits (`inventory.domain.readiness`); a tray
whose size nobody knows yet is a matter of chance, and a visit is short of it where that chance lies below the target.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import groupby

from inventory.domain import readiness as walking
from inventory.domain.allocation import Shortfall, Stack
from inventory.domain.estimates import ExpectedLine, LineKey
from inventory.domain.quantity import show
from inventory.domain.readiness import Answer
from inventory.domain.supply import Coming, Supply
from inventory.domain.tray_chance import chance_of_tray
from inventory.domain.trays import SizeOutlook, Stock
from inventory.domain.vocabulary import Arch, BaseUnit, PlaceRole
from inventory.domain.why import Derivation, Op, Term, derive
from inventory.service import forecasting, laying_out, size_mix
from inventory.service.forecasting import Picture
from inventory.service.practice import Desk, Practice
from inventory.service.size_mix import Run, SizeMix
from inventory.store.queries.visits import VisitRow

COMES_BACK = "back"  # instead of an order's name: reusable trays on their way back
AWAY = (PlaceRole.REPROCESSING, PlaceRole.LABORATORY)
ARCHES = {Arch.MAXILLARY: "upper", Arch.MANDIBULAR: "lower"}
OF_100 = "of 100"


@dataclass(frozen=True, slots=True)
class Lack:
    """What a visit is short of, and by when to order it.

    Attributes:
        item_id: the article; None where none is known.
        supplier: its preferred supplier; empty where none is set.
        order_by: the last ordering day from which it is there on the visit's day; None without a supplier.
        too_late: that day is past.
    """

    item_id: int | None
    name: str
    qty: int
    base: BaseUnit
    supplier: str
    order_by: date | None
    too_late: bool

    @property
    def words(self) -> str:
        if self.order_by is None:
            todo = ", no supplier is set" if self.item_id is not None else ""
        elif self.too_late:
            todo = f", too late to order (by {self.order_by.isoformat()})"
        else:
            todo = f", order by {self.order_by.isoformat()}"
        return f"short of {self.name} ({show(self.qty, self.base)}){todo}"


@dataclass(frozen=True, slots=True)
class SizeChance:
    """The chance that a fitting tray is there for an arch whose size nobody knows yet, in 100."""

    arch: Arch
    percent: int

    @property
    def words(self) -> str:
        return f"{ARCHES[self.arch]} tray size unknown: {self.percent} of 100"


@dataclass(frozen=True, slots=True)
class Readiness:
    """How a booked visit stands, after those before it took theirs.

    Attributes:
        waits_for: the deliveries that make it ready, where the answer is IF.
        waits: the same in words, one for each delivery.
        lacks: what it is short of, where the answer is SHORT; ``missing`` in words.
        chances: of trays whose size is unknown.
        why: the arithmetic of what it is short of, and of the chances.
    """

    visit_id: int
    case_ref: str
    on: date
    case_kind_name: str
    place: str | None
    answer: Answer
    waits_for: tuple[Coming, ...]
    waits: tuple[str, ...]
    lacks: tuple[Lack, ...]
    chances: tuple[SizeChance, ...]
    why: tuple[Derivation, ...]

    @property
    def ready(self) -> bool:
        """Not short of anything, though it may wait for a delivery."""
        return self.answer is not Answer.SHORT

    @property
    def missing(self) -> tuple[str, ...]:
        return tuple(lack.words for lack in self.lacks)

    @property
    def said(self) -> tuple[str, ...]:
        return (*self.missing, *self.notes) or (self.answer.value,)

    @property
    def notes(self) -> tuple[str, ...]:
        """What else there is to say: what it waits for, and trays of unknown size."""
        return (*(f"ready if {wait}" for wait in self.waits), *(chance.words for chance in self.chances))


def readiness(practice: Practice, days: int | None = None) -> tuple[Readiness, ...]:
    """How each booked visit of the next days (default: the practice's horizon) stands."""
    with practice.reading() as desk:
        until = desk.today + timedelta(days=days if days is not None else desk.settings["horizon_days"])
        return readiness_of(desk, forecasting.picture(desk), until)


def readiness_of(
    desk: Desk,
    picture: Picture,
    until: date,
    mix: SizeMix | None = None,
    supplies: Mapping[int, Supply] | None = None,
) -> tuple[Readiness, ...]:
    """The same from a picture already read, and perhaps from the size mix and how items are bought."""
    rows = [row for row in picture.planned if row.on <= until]
    if not rows:
        return ()
    mix = mix or size_mix.read(desk, picture)
    supplies = forecasting.supplies(desk, picture.items) if supplies is None else supplies
    return Walk.of(picture, mix, supplies, rows).answers()


@dataclass(frozen=True, slots=True)
class Walk:
    """Everything that the answers are made from."""

    picture: Picture
    mix: SizeMix
    supplies: Mapping[int, Supply]
    rows: Sequence[VisitRow]
    lines: Sequence[Sequence[ExpectedLine]]
    stacks: Sequence[Stack]
    coming: Sequence[Coming]

    @classmethod
    def of(cls, picture: Picture, mix: SizeMix, supplies: Mapping[int, Supply], rows: Sequence[VisitRow]) -> "Walk":
        """Put together what there is, what comes, and what each visit is known to need."""
        lines = [[line for line in laying_out.expected(picture, row) if not _open_size(row, line)] for row in rows]
        stacks = [_lent(picture, mix, laying_out.stack_of(s)) for s in picture.stands if s.place_role.usable]
        back = picture.today + timedelta(days=mix.away_days)
        coming = [
            Coming(s.item_id, s.on_hand, back, COMES_BACK)
            for s in picture.stands
            if s.place_role in AWAY and picture.items[s.item_id].reusable and s.blocked is None
        ]
        return cls(picture, mix, supplies, rows, lines, stacks, [*picture.coming, *coming])

    def answers(self) -> tuple[Readiness, ...]:
        units = {number: item.unit_qty for number, item in self.picture.items.items()}
        visits = [(row.on, lines) for row, lines in zip(self.rows, self.lines, strict=True)]
        found = walking.readiness(visits, self.stacks, self.coming, units)
        return tuple(self._answer(at, one.waits_for, one.short) for at, one in enumerate(found))

    def _answer(self, at: int, waits_for: tuple[Coming, ...], short: Sequence[Shortfall[LineKey]]) -> Readiness:
        row = self.rows[at]
        lacks, why = self._certain(row, self.lines[at], short)
        sizes = [self._size(at, arch, run) for arch, run in self._unknown(row)]
        lacks += [size.lack for size in sizes if size.lack]
        waits_for = tuple(dict.fromkeys((*waits_for, *(one for size in sizes for one in size.waits_for))))
        answer = Answer.SHORT if lacks else Answer.IF if waits_for else Answer.READY
        return Readiness(
            row.id, row.case_ref, row.on, row.case_kind_name, row.place_name, answer,
            waits_for if answer is Answer.IF else (), tuple(self._waits(waits_for)) if answer is Answer.IF else (),
            tuple(lacks), tuple(size.chance for size in sizes), (*why, *(size.why for size in sizes)),
        )  # fmt: skip

    def _certain(
        self, row: VisitRow, lines: Sequence[ExpectedLine], short: Sequence[Shortfall[LineKey]]
    ) -> tuple[list[Lack], list[Derivation]]:
        """What is lacking of what is known to be needed, each thing once, with its arithmetic."""
        missing = {one.key: one for one in short}
        needed: dict[tuple[int | None, str, BaseUnit], int] = {}
        lacking: dict[tuple[int | None, str, BaseUnit], int] = {}
        for line in lines:
            asked = [(line.key, line.gross_qty, line.need.base)]
            if line.tips:
                asked.append((replace(line.key, tip=True), line.tips, BaseUnit.PIECE))
            for key, qty, base in asked:
                thing = (*self._thing(row, line, key), base)
                needed[thing] = needed.get(thing, 0) + qty
                if key in missing:
                    lacking[thing] = lacking.get(thing, 0) + missing[key].qty
        lacks = [self._lack(row, *thing, qty) for thing, qty in lacking.items()]
        return lacks, [_why_short(row, thing[1], thing[2], needed[thing], qty) for thing, qty in lacking.items()]

    def _thing(self, row: VisitRow, line: ExpectedLine, key: LineKey) -> tuple[int | None, str]:
        """What a line asks for: the practice's first article, or what no article is there for."""
        need = line.need
        articles = need.tip.articles if key.tip and need.tip else line.articles
        if articles and articles[0] in self.picture.items:
            return articles[0], self.picture.items[articles[0]].name
        arch = f" {need.arch.value}" if need.arch else ""
        size = row.size(need.arch) if need.arch else None
        return None, f"tray{arch} {size}: not in the catalogue" if need.is_tray else f"{need.step}{arch}: no article"

    def _lack(self, row: VisitRow, item_id: int | None, name: str, base: BaseUnit, qty: int) -> Lack:
        supply = self.supplies.get(item_id) if item_id is not None else None
        if supply is None:
            return Lack(item_id, name, qty, base, "", None, too_late=False)
        by = walking.last_order_day(supply, row.on)
        return Lack(item_id, name, qty, base, supply.supplier, by, too_late=by < self.picture.today)

    def _waits(self, waits_for: Sequence[Coming]) -> Iterator[str]:
        for (order, arrives), group in groupby(waits_for, key=lambda one: (one.order, one.arrives)):
            names = ", ".join(dict.fromkeys(self.picture.items[one.item_id].name for one in group))
            day = "today, overdue" if arrives < self.picture.today else arrives.isoformat()
            yield f"{names} back by {day}" if order == COMES_BACK else f"order {order} arrives by {day}: {names}"

    def _unknown(self, row: VisitRow) -> Iterator[tuple[Arch, Run]]:
        """Arches whose tray size nobody knows, with the run of sizes it will come from."""
        for arch in row.arches:
            run = self.mix.run_of(self.picture, row, arch)
            if run is not None and not row.size(arch):
                yield arch, run

    def _size(self, at: int, arch: Arch, run: Run) -> "_Size":
        """The chance of a fitting tray after the visits before took theirs, now and with each delivery by that day."""
        row = self.rows[at]
        before = [
            other
            for other in self.rows[:at]
            if arch in other.arches
            and self.mix.run_of(self.picture, other, arch) == run
            and self.mix.meets(run, other.on, row.on)
        ]
        known = [size for other in before if (size := other.size(arch))]
        outlook, unknown = self.mix.outlook(run, known), len(before) - len(known)
        arriving = [one for one in self.coming if any(one.item_id in n for n in run.item_ids) and one.arrives <= row.on]
        arriving.sort(key=lambda one: (one.arrives, one.order, one.item_id))
        chance, used = 0.0, 0
        for used in range(len(arriving) + 1):
            stock = self._trays(run, row.on, arriving[:used])
            chance = chance_of_tray(outlook, stock, unknown)
            if chance >= self.mix.target:
                break
        lack = self._lacking(row, run, outlook, stock, unknown) if chance < self.mix.target else None
        return _Size(
            SizeChance(arch, _percent(chance)), () if lack else tuple(arriving[:used]), lack,
            _why_size(row, arch, chance, self.mix.target),
        )  # fmt: skip

    def _trays(self, run: Run, on: date, arrived: Sequence[Coming]) -> Stock:
        return tuple(
            sum(stack.qty for stack in self.stacks if stack.item_id in numbers and stack.usable(on))
            + sum(one.qty for one in arrived if one.item_id in numbers)
            for numbers in run.item_ids
        )

    def _lacking(self, row: VisitRow, run: Run, outlook: SizeOutlook, stock: Stock, unknown: int) -> Lack:
        """The size of which one tray more helps this visit most."""

        def with_one_more(size: int) -> float:
            more = tuple(have + (at == size) for at, have in enumerate(stock))
            return chance_of_tray(outlook, more, unknown)

        best = max(range(len(run.sizes)), key=with_one_more)
        item_id = next(iter(run.item_ids[best]), None)
        name = f"a fitting {ARCHES[run.arch]} tray, size unknown; {run.sizes[best]} helps most"
        return self._lack(row, item_id, name, BaseUnit.PIECE, 1)


@dataclass(frozen=True, slots=True)
class _Size:
    """How an arch of unknown size stands."""

    chance: SizeChance
    waits_for: tuple[Coming, ...]
    lack: Lack | None
    why: Derivation


def _open_size(row: VisitRow, line: ExpectedLine) -> bool:
    """A tray whose size nobody knows: the size mix speaks for it."""
    return line.size_unknown and not (line.need.arch and row.size(line.need.arch))


def _lent(picture: Picture, mix: SizeMix, stack: Stack) -> Stack:
    return replace(stack, back_after=mix.away_days) if picture.items[stack.item_id].reusable else stack


def _percent(chance: float) -> int:
    return int(100 * chance + 1e-9)


def _why_short(row: VisitRow, name: str, base: BaseUnit, needed: int, short: int) -> Derivation:
    terms = [
        Term("needed, tip and purge included", needed, base.value),
        Term("can be served after the visits before it", needed - short, base.value, Op.MINUS),
    ]
    return derive(f"{name}, visit of {row.on.isoformat()}", terms, "missing", base.value)


def _why_size(row: VisitRow, arch: Arch, chance: float, target: float) -> Derivation:
    terms = [
        Term("chance that a fitting tray is there, after the visits before it", _percent(chance), OF_100),
        Term("asked for", round(100 * target), OF_100, Op.MINUS),
    ]
    return derive(f"{ARCHES[arch]} tray, size unknown, visit of {row.on.isoformat()}", terms, "beyond that", OF_100)

"""Book out a visit: post what it really used, in one transaction, once.

One request writes up to four documents that share its key: stock found (the book had less than was used), openings, the
use itself, and reusable trays on their way. What was really used is always recordable: stock that should not have been
used, or that the book does not have, needs a confirmation, and the former a reason; both stay visible for good.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, field
from datetime import date, time, timedelta

from inventory.domain.ledger import Draft, Entry, Opened, Posting, Sealed, request_hash
from inventory.domain.quantity import show
from inventory.domain.use_by import in_date, reading_fits
from inventory.domain.vocabulary import (
    Arch,
    BaseUnit,
    DocumentKind,
    ItemKind,
    LateReason,
    MovementKind,
    PlaceRole,
    TrialOutcome,
    UseByReading,
    VisitState,
)
from inventory.domain.words import STANDING, clean
from inventory.errors import AlreadyDone, BadInput, NeedsConfirmation, NotAllowed, NotFound
from inventory.service import booked_late, visits
from inventory.service.happened import check_received, check_stood
from inventory.service.lots import LotWords, UseBy, save_lots
from inventory.service.practice import Desk, Practice
from inventory.store import ledger
from inventory.store.queries import history, planning, stock
from inventory.store.queries import visits as query
from inventory.store.queries.receiving import LotRow
from inventory.store.queries.stock import Stand
from inventory.store.queries.visits import VisitRow
from inventory.store.tables import Item, Lot, Place, Visit

COUNT, OPENING, USE, TRANSFER = range(4)  # parts of a booking's request
LONG_AFTER = timedelta(days=14)  # own judgement: who books out later than this has probably mistyped the day
PLANNED_FIELDS = ("upper_size", "lower_size", "place_id")  # of a visit, which booking it out overwrites


@dataclass(frozen=True, slots=True)
class FoundLot:
    """A lot that was used although nobody had entered it."""

    number: str
    use_by: date | None = None
    use_by_read: UseByReading = UseByReading.NOT_READ


@dataclass(frozen=True, slots=True)
class UsedLine:
    """What one step took from one lot.

    Attributes:
        item_id: the article.
        qty: base units drawn, tip volume and purge included; 0 leaves the line out.
        purge_qty: the part of ``qty`` that stayed in the tip or was purged.
        holding_id: the opened unit, the sealed stack of which a unit is opened, or the stack of pieces.
        fresh: tells units freshly opened from the same stack apart.
        found: instead of ``holding_id``: a lot that is not in the book.
        need_id, step, arch, attempt: what it was for.
        expected_qty: what the form had expected, in base units.
        lot_confirmed: somebody read or scanned the lot; else it stays assumed.
    """

    item_id: int
    qty: int
    purge_qty: int = 0
    holding_id: int | None = None
    fresh: int = 1
    found: FoundLot | None = None
    need_id: int | None = None
    step: str | None = None
    arch: Arch | None = None
    attempt: int = 1
    expected_qty: int = 0
    lot_confirmed: bool = False


@dataclass(frozen=True, slots=True)
class UsedTray:
    """What became of one tray; a reusable one goes on to the laboratory (fitted) or to reprocessing (tried)."""

    arch: Arch
    item_id: int
    outcome: TrialOutcome
    holding_id: int | None = None
    attempt: int = 1
    lot_confirmed: bool = False
    need_id: int | None = None
    step: str | None = None
    found: FoundLot | None = None


@dataclass(frozen=True, slots=True)
class BookOut:
    """The assistant's form, filled in."""

    visit_id: int
    version: int
    place: str
    lines: tuple[UsedLine, ...]
    trays: tuple[UsedTray, ...] = ()
    happened_on: date | None = None  # today where not given
    at: time | None = None  # of that day, where it matters: the shelf was counted on it


@dataclass(frozen=True, slots=True)
class UsedLot:
    """One line of the summary for the record; ``qty`` in base units."""

    item: str
    lot_number: str
    use_by: date | None
    use_by_read: UseByReading
    qty: int
    base: BaseUnit
    arch: Arch | None
    step: str | None
    attempt: int
    lot_confirmed: bool
    late_reason: LateReason | None


@dataclass(frozen=True, slots=True)
class Booked:
    """A booking as it stands; ``again`` where the same form had been posted before."""

    visit: visits.VisitCard
    documents: tuple[int, ...]
    lots: tuple[UsedLot, ...]
    warnings: tuple[str, ...]
    again: bool


def book_out(
    practice: Practice, request: BookOut, *, by: str, request_key: str, confirmed: bool = False, reason: str = ""
) -> Booked:
    """Post what a visit used and mark it done.

    Args:
        practice: the practice at work.
        request: the form.
        by: initials.
        request_key: drawn when the form was opened; the same key posts once.
        confirmed: a person has said yes to stock found, to lots that should not have been used, and to a day that is
            before the planned one or long after it.
        reason: why such a lot was used.

    Raises:
        BadInput: a line is not valid, or its lot was not there yet on that day; the message names it.
        NeedsConfirmation: the book has less than was used, a lot is expired, held or recalled, or the day is before the
            visit's planned one or more than 14 days after it.
        AlreadyDone: a colleague booked, changed or cancelled the visit.
        StockChanged: somebody else just used the stock.
    """
    reason = clean(reason, "reason", 500, needed=False)
    hashed = request_hash("book out", asdict(request))
    with practice.writing() as desk:
        person_id = desk.person(by)
        before = ledger.already_posted(desk.session, request_key, hashed)
        if before is not None:
            return _booked(desk, request.visit_id, before, (), again=True)
        row = _bookable(desk, request)
        happened_on = _happened_on(desk, request)
        sheet = _Sheet(desk, person_id, _place(desk, request.place), happened_on, *_known(desk, request))
        sheet.odd += _odd_day(row, happened_on)
        moment = booked_late.moment(desk, happened_on, request.at)
        for number, line in enumerate(request.lines, start=1):
            sheet.use(line, f"line {number}")
        for tray in request.trays:
            sheet.tray(tray)
        if request.at is None:
            sheet.odd += sheet.counted_that_day()
        sheet.ask(confirmed=confirmed, reason=reason)
        documents = sheet.documents(row.id, reason)
        posted = booked_late.post(
            desk, Posting(request_key, hashed, person_id, desk.now, moment, happened_on, documents)
        )
        if not query.mark_done(desk.session, row.id, row.version):
            raise _not_bookable(desk, row.id)
        as_planned = _record(sheet, row, request, posted)
        desk.log_change(person_id, "visit", row.id, {"state": ("planned", "done"), **as_planned}, reason)
        return _booked(desk, row.id, posted, tuple(sheet.warnings()), again=False)


def _bookable(desk: Desk, request: BookOut) -> VisitRow:
    row = query.visit(desk.session, request.visit_id)
    if row is None:
        raise NotFound(f"There is no visit {request.visit_id}.", "Look it up in the list of visits.")
    if row.state is not VisitState.PLANNED or row.version != request.version:
        raise _not_bookable(desk, row.id)
    return row


def _not_bookable(desk: Desk, visit_id: int) -> AlreadyDone:
    row = query.visit(desk.session, visit_id)
    if row is None or row.state is VisitState.PLANNED:
        return AlreadyDone("A colleague changed this visit meanwhile.", "Open it again.")
    who = query.booked(desk.session, visit_id)
    by = f" by {who[0]} at {who[1].astimezone(desk.zone):%Y-%m-%d %H:%M}" if who else ""
    return AlreadyDone(
        f"The visit of case {row.case_ref} is {row.state} already{by}.",
        "Look at it; undo that booking first if it was wrong.",
    )


def _happened_on(desk: Desk, request: BookOut) -> date:
    on = request.happened_on or desk.today
    if on > desk.today:
        raise BadInput(f"date: {on} is still to come.", "Book a visit out on the day it took place, or later.")
    return on


def _odd_day(row: VisitRow, on: date) -> Iterator[str]:
    """What is unusual about the day of a booking: before the planned one, or long after it."""
    if on < row.on:
        yield f"The visit of case {row.case_ref} is planned for {row.on}, not for {on}: was it moved forward?"
    elif on - row.on > LONG_AFTER:
        yield f"The visit of case {row.case_ref} was planned for {row.on}, {(on - row.on).days} days before {on}."


def _place(desk: Desk, name: str) -> Place:
    place = desk.place(name)
    if not place.role.usable:
        raise NotAllowed(f"place: no visit takes place in {place.name}.", "Choose an operatory.")
    return place


def _known(desk: Desk, request: BookOut) -> tuple[dict[int, Item], dict[int, Stand]]:
    """The items and holdings that the form names, read at once."""
    named: tuple[UsedLine | UsedTray, ...] = (*request.lines, *request.trays)
    holdings = [line.holding_id for line in named if line.holding_id is not None]
    return (
        planning.items(desk.session, [line.item_id for line in named]),
        stock.stands_of(desk.session, holdings),
    )


@dataclass(slots=True)
class _Sheet:
    """Turns the form's lines into entries, with a running view of what each holding has left."""

    desk: Desk
    person_id: int
    place: Place
    on: date
    items: dict[int, Item]
    stands: dict[int, Stand]
    left: dict[int | Sealed | Opened, int] = field(default_factory=dict)
    entries: dict[int, list[Entry]] = field(default_factory=lambda: defaultdict(list))
    short: dict[tuple[int, str], int] = field(default_factory=dict)
    lots: dict[int | Sealed | Opened, str] = field(default_factory=dict)  # each holding's lot and place, in words
    late: list[str] = field(default_factory=list)
    odd: list[str] = field(default_factory=list)
    families: dict[str, str] = field(default_factory=dict)
    units: dict[tuple[Sealed, int], Opened] = field(default_factory=dict)
    held: dict[FoundLot, LateReason] = field(default_factory=dict)  # found lots that may not be used

    def use(self, line: UsedLine, where: str) -> None:
        item = self._item(line.item_id)
        if line.qty < 0 or not 0 <= line.purge_qty <= max(line.qty, line.purge_qty):
            raise BadInput(f"{where} ({item.name}): the amount is negative.", "Type 0 or more.")
        if line.qty == 0:
            return
        target, stand = self._source(line, item, where)
        late = self._late(item, stand, line.found)
        purge = min(line.purge_qty, line.qty)
        for kind, qty in ((MovementKind.USE, line.qty - purge), (MovementKind.PURGE, purge)):
            if qty:
                self._take(
                    Entry(target, kind, -qty, line.arch, line.step, line.attempt, line.lot_confirmed, late), item
                )
        if item.family and item.kind is ItemKind.IMPRESSION:
            self.families.setdefault(item.family, item.name)

    def tray(self, tray: UsedTray) -> None:
        item = self._item(tray.item_id)
        if item.kind is not ItemKind.TRAY or item.arch is not tray.arch:
            raise BadInput(f"tray: {item.name} is no {tray.arch} tray.", "Choose a tray of that arch.")
        thrown = tray.outcome is TrialOutcome.TRIED_THROWN
        if tray.outcome is TrialOutcome.LAID_OUT_UNUSED:
            return
        if thrown and item.reusable:
            raise BadInput(f"tray: {item.name} is reusable.", "A tray that was tried goes to reprocessing.")
        if tray.outcome is TrialOutcome.TRIED_REPROCESS and not item.reusable:
            raise BadInput(f"tray: {item.name} is for single use.", "A tray that was tried is thrown away.")
        target, lot_id, late = self._tray_source(tray, item)
        kind = MovementKind.WASTE if thrown else MovementKind.TRANSFER if item.reusable else MovementKind.USE
        step = tray.step or "tray"
        self._take(Entry(target, kind, -1, tray.arch, step, tray.attempt, tray.lot_confirmed, late), item)
        if item.reusable:
            away = Sealed(lot_id, self._away(tray.outcome))
            self.entries[TRANSFER].append(Entry(away, kind, 1, tray.arch, step))

    def _tray_source(self, tray: UsedTray, item: Item) -> tuple[int | Sealed, int, LateReason | None]:
        """Where a tray came from: the holding, or the lot that the book does not have; with its lot."""
        where = f"{tray.arch} tray"
        if tray.found is not None:
            lot = self._found_lot(item, tray.found, where)
            return Sealed(lot.lot_id, self._place_id()), lot.lot_id, self._late(item, None, tray.found)
        stand = self._stand(tray.holding_id, item, where)
        return stand.holding_id, stand.lot_id, self._late(item, stand, None)

    def ask(self, *, confirmed: bool, reason: str) -> None:
        """Stop where the request is unusual and nobody has said yes, or nothing was used at all."""
        if not any(self.entries[part] for part in (USE, TRANSFER)):
            raise BadInput("Nothing was used.", "Enter what the visit used, or cancel the visit.")
        if (self.odd or self.late or self.short) and not confirmed:
            raise NeedsConfirmation(
                "\n".join([*self.odd, *self.late, *self.found()]),
                "Confirm only what really happened; the record will show it.",
                reason_needed=bool(self.late),
            )
        if self.late and not reason:
            raise BadInput("reason: say why this lot was used.", "A few words for the record.")

    def counted_that_day(self) -> Iterator[str]:
        """Shelves that were counted on the day of the visit, which may have taken place before or after it."""
        used = [holding for holding in self.stands if holding in self.lots]
        for holding, counted, after in booked_late.same_day(self.desk, used, self.on):
            yield f"{self.lots[holding]}: counted on {counted}. Without a time, the visit counts as {after} that."

    def documents(self, visit_id: int, reason: str) -> tuple[Draft, ...]:
        kinds = (DocumentKind.COUNT, DocumentKind.OPENING, DocumentKind.USE, DocumentKind.TRANSFER)  # by part
        reasons = {COUNT: reason or "stock found while booking out", USE: reason or None}
        return tuple(
            Draft(kind, tuple(self.entries[part]), part, reason=reasons.get(part), visit_id=visit_id)
            for part, kind in enumerate(kinds)
            if self.entries[part]
        )

    def warnings(self) -> Iterable[str]:
        if len(self.families) > 1:
            named = ", ".join(f"{name} ({family})" for family, name in self.families.items())
            yield f"Materials of different families in one case: {named}."

    def _item(self, item_id: int) -> Item:
        if item_id not in self.items:
            raise NotFound(f"There is no item {item_id}.", "Choose one from the list.")
        return self.items[item_id]

    def _stand(self, holding_id: int | None, item: Item, where: str) -> Stand:
        stand = self.stands.get(holding_id) if holding_id is not None else None
        if stand is None or stand.item_id != item.id:
            raise BadInput(f"{where} ({item.name}): no lot is chosen.", "Choose the lot that was used.")
        if not stand.place_role.usable:
            raise NotAllowed(
                f"{where} ({item.name}): lot {stand.lot_number} stands in {stand.place_name}.",
                "Bring it back to an operatory or the store room first.",
            )
        check_stood(self.on, stand, f"lot {stand.lot_number} of {item.name}")
        self.lots[stand.holding_id] = _lot_at(stand.lot_number, stand.place_name)
        return stand

    def _source(self, line: UsedLine, item: Item, where: str) -> tuple[int | Sealed | Opened, Stand | None]:
        """The holding a line draws from; a sealed unit of material is opened at the visit's place for it."""
        stand = None if line.found else self._stand(line.holding_id, item, where)
        if stand is not None and (stand.opened_on is not None or item.base is BaseUnit.PIECE):
            return stand.holding_id, stand
        if stand is not None:
            stack, unit_qty = Sealed(stand.lot_id, stand.place_id), stand.unit_qty
            self.lots[stack] = self.lots[stand.holding_id]
        else:
            lot = self._found_lot(item, line.found or FoundLot(""), where)
            stack, unit_qty = Sealed(lot.lot_id, self._place_id()), lot.unit_qty
        if item.base is BaseUnit.PIECE:
            return stack, stand
        if line.qty > unit_qty:
            raise BadInput(
                f"{where} ({item.name}): {show(line.qty, item.base)} is more than one {item.unit_name} holds.",
                "Divide it between two lots or two lines.",
            )
        if (stack, line.fresh) not in self.units:
            self.left.setdefault(stack, stand.on_hand if stand else 0)
            if self.left[stack] < unit_qty:
                self._count(stack, unit_qty, item)
            self.units[stack, line.fresh] = self._open(stack, unit_qty)
        return self.units[stack, line.fresh], stand

    def _open(self, stack: Sealed, unit_qty: int) -> Opened:
        unit = Opened(stack.lot_id, self._place_id(), self.on, len(self.units) + 1)
        self.lots[unit] = self.lots[stack]
        self.left[stack] -= unit_qty
        self.left[unit] = unit_qty
        self.entries[OPENING] += [
            Entry(stack, MovementKind.OPENING, -unit_qty),
            Entry(unit, MovementKind.OPENING, unit_qty),
        ]
        return unit

    def _take(self, entry: Entry, item: Item) -> None:
        if entry.target not in self.left:
            self.left[entry.target] = self.stands[entry.target].on_hand if isinstance(entry.target, int) else 0
        short = -entry.qty - self.left[entry.target]
        if short > 0:
            self._count(entry.target, short, item)
        self.left[entry.target] += entry.qty
        self.entries[TRANSFER if entry.kind is MovementKind.TRANSFER else USE].append(entry)

    def _count(self, target: int | Sealed | Opened, qty: int, item: Item) -> None:
        self.entries[COUNT].append(Entry(target, MovementKind.COUNT, qty))
        self.left[target] += qty
        key = (item.id or 0, self.lots[target])
        self.short[key] = self.short.get(key, 0) + qty

    def found(self) -> Iterator[str]:
        """What the book has less than was used, once for each lot at a place."""
        for (item_id, lot), qty in self.short.items():
            item = self.items[item_id]
            yield (
                f"{item.name}, {lot}: the book has {show(qty, item.base)} less than was used; it will be recorded as "
                "stock found."
            )

    def _late(self, item: Item, stand: Stand | None, found: FoundLot | None) -> LateReason | None:
        last_day = stand.last_day if stand else found.use_by if found else None
        blocked = stand.blocked if stand else self.held.get(found) if found else None
        late = blocked or (None if in_date(last_day, self.on) else LateReason.EXPIRED)
        if late is not None:
            number = stand.lot_number if stand else found.number if found else ""
            words = f"past its last day of use ({last_day})" if late is LateReason.EXPIRED else f"{late}"
            self.late.append(f"{item.name}, lot {number}: {words}. Such material is not used.")
        return late

    def _found_lot(self, item: Item, found: FoundLot, where: str) -> LotRow:
        """The lot that was used although the book had none of it; a recall notice may name it."""
        number = clean(found.number, f"{where} ({item.name}): lot number", 60)
        if not reading_fits(found.use_by_read, found.use_by):
            raise BadInput(f"{where} ({item.name}): use-by date and how it was read don't fit.", "Type the date.")
        use_by = UseBy(found.use_by_read, found.use_by)
        words = LotWords(item.id or 0, number, use_by, item.unit_qty, not item.has_lots)
        (lot,) = save_lots(self.desk, self.person_id, [words], self.on)
        first = self.desk.session.get_one(Lot, lot.lot_id).first_received_on
        check_received(self.on, first, f"lot {number} of {item.name}")
        if holds := history.open_holds(self.desk.session, [lot.lot_id]):
            recalled = any(hold.notice_id is not None for hold in holds)
            self.held[found] = LateReason.RECALLED if recalled else LateReason.HELD
        self.lots[Sealed(lot.lot_id, self._place_id())] = _lot_at(number, self.place.name)
        return lot

    def _away(self, outcome: TrialOutcome) -> int:
        """Where a used reusable tray goes: with the impression to the laboratory, or to reprocessing."""
        role = PlaceRole.LABORATORY if outcome is TrialOutcome.FITTED else PlaceRole.REPROCESSING
        return self.desk.place_of_role(role)

    def _place_id(self) -> int:
        return self.place.id or 0


def _lot_at(number: str, place: str) -> str:
    return f"{number if number == STANDING else f'lot {number}'}, {place}"


def _record(sheet: _Sheet, row: VisitRow, request: BookOut, posted: ledger.Posted) -> dict[str, tuple[object, object]]:
    """Keep what was expected beside what was used, the trays' fate, and the sizes that fitted.

    Returns:
        What the visit had been planned with and what became of it, by field: an undoing plans it so again.
    """
    document_id = posted.documents.get(USE) or posted.documents.get(TRANSFER)
    session = sheet.desk.session
    query.keep_uses(
        session,
        [
            {
                "visit_id": row.id, "need_id": line.need_id, "item_id": line.item_id, "arch": line.arch,
                "step": line.step, "attempt": line.attempt, "expected_qty": line.expected_qty,
                "actual_qty": line.qty, "document_id": document_id,
            }
            for line in request.lines
        ],
        [
            {
                "visit_id": row.id, "arch": tray.arch, "item_id": tray.item_id, "outcome": tray.outcome,
                "document_id": document_id,
            }
            for tray in request.trays
        ],
    )  # fmt: skip
    visit = session.get_one(Visit, row.id, populate_existing=True)
    visit.place_id = sheet.place.id
    for tray in request.trays:
        if tray.outcome is TrialOutcome.FITTED:
            size = sheet.items[tray.item_id].tray_size
            setattr(visit, "upper_size" if tray.arch is Arch.MAXILLARY else "lower_size", size)
    session.flush()
    return {field: (getattr(row, field), getattr(visit, field)) for field in PLANNED_FIELDS}


def _booked(desk: Desk, visit_id: int, posted: ledger.Posted, warnings: tuple[str, ...], *, again: bool) -> Booked:
    lots = tuple(UsedLot(*row) for row in query.used_lots(desk.session, posted.documents.values()))
    card = visits.card(desk, visit_id)
    return Booked(card, tuple(posted.documents[part] for part in sorted(posted.documents)), lots, warnings, again)

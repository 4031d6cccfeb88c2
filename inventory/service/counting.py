"""Rounds of counting: begin one, read shelf after shelf, add what was found, and give it up.

A round lives in the store, reading by reading, so one that was interrupted goes on where it was. Readings are never
changed: a better one replaces an earlier one, and one that should not have been taken is withdrawn. Nothing of a round
changes the book before it is approved (`inventory.service.count_review`).
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from inventory.domain.counting import Reading, counted_qty, parse_reading, reading_unit_qty
from inventory.domain.vocabulary import CountMethod
from inventory.domain.words import STANDING, clean
from inventory.errors import AlreadyDone, BadInput, NotFound
from inventory.service.count_sheet import (
    DROPPED,
    OPEN,
    RoundCard,
    Sheet,
    SheetLine,
    card,
    cards,
    expected_of,
    line_of,
    no_line,
    sheet_of,
)
from inventory.service.count_shelves import FOUND, Reach, Scope, Shelf, facts_of, shelves_of, stored_scope
from inventory.service.happened import check_received
from inventory.service.lots import LotWords, UseBy, check_dates, save_lots
from inventory.service.practice import Desk, Practice
from inventory.store.queries import catalogue, people
from inventory.store.queries import counting as query
from inventory.store.queries.receiving import one_at_a_time
from inventory.store.tables import CountLine, CountRound, Item, Lot, Place

STARTING = "count rounds"  # two rounds must not begin on the same shelves at once


@dataclass(frozen=True, slots=True)
class Found:
    """Stock that stands where the book has none of it.

    Attributes:
        item: the item's code.
        place: where it stands.
        lot: the number on its package; empty for what has no lots.
        use_by: as it was read.
        opened_on: of an opened unit, the day it was opened as far as known; None: it is sealed.
    """

    item: str
    place: str
    lot: str
    use_by: UseBy
    opened_on: date | None = None


@dataclass(frozen=True, slots=True)
class Choices:
    """What a round can be about, or what can be found in one: places in walking order, families, items by name."""

    places: tuple[str, ...]
    families: tuple[str, ...]
    items: tuple[tuple[str, str], ...]  # code and name


def choices(practice: Practice, round_id: int | None = None) -> Choices:
    """What to choose from: everything, or what belongs to a round.

    Raises:
        NotFound: no such round.
    """
    with practice.reading() as desk:
        reach = Reach(desk, {} if round_id is None else _round(desk, round_id).scope)
        places = [place for place in people.places(desk.session) if place.active and place.id in reach.places]
        items = [item for item in catalogue.items(desk.session) if item.id in reach.items and item.active]
        return Choices(
            tuple(place.name for place in places),
            tuple(sorted({item.family for item in items if item.family}, key=str.casefold)),
            tuple(sorted(((item.code, item.name) for item in items), key=lambda one: one[1].casefold())),
        )


def start(practice: Practice, scope: Scope, *, blind: bool = True, by: str) -> RoundCard:
    """Begin a round.

    Raises:
        NotFound: no such place or item.
        BadInput: no item has such a family, or unknown initials.
        AlreadyDone: an open round counts some of the same shelves.
    """
    with practice.writing() as desk:
        person_id = desk.person(by)
        one_at_a_time(desk.session, STARTING)
        stored = stored_scope(desk, scope)
        _refuse_second(desk, Reach(desk, stored))
        row = CountRound(scope=stored, blind=blind, started_at=desk.now, person_id=person_id)
        desk.add(row)
        return card(desk, row)


def _refuse_second(desk: Desk, reach: Reach) -> None:
    for other in query.rounds(desk.session):
        if other.state == OPEN and reach.meets(Reach(desk, other.scope)):
            raise AlreadyDone(
                f"Round {other.id} counts some of the same stock and is still open.",
                f"Go on with round {other.id}, or approve or drop it first.",
            )


def rounds(practice: Practice) -> tuple[RoundCard, ...]:
    """All rounds, newest first."""
    with practice.reading() as desk:
        return cards(desk, query.rounds(desk.session))


def sheet(practice: Practice, round_id: int) -> Sheet:
    """The shelves of a round with what was read so far; what the book expects only where the round is not blind.

    Raises:
        NotFound: no such round.
    """
    with practice.reading() as desk:
        return sheet_of(desk, _round(desk, round_id))


def record(
    practice: Practice,
    round_id: int,
    key: str,
    reading: str | Reading,
    *,
    by: str,
    method: CountMethod | None = None,
    at: datetime | None = None,
) -> SheetLine:
    """Keep what was read of a shelf; a later reading replaces an earlier one.

    Args:
        practice: the practice at work.
        round_id: which round.
        key: which shelf.
        reading: as it was typed, e.g. ``3``, ``4t`` or ``62.5 g``.
        by: who read it.
        method: how a bare number is meant.
        at: the moment at which it was read; None: now.

    Raises:
        NotFound: no such round, or no such shelf in it.
        AlreadyDone: the round is not open any more.
        BadInput: the reading can't be read or can't be, a moment to come or before the round, unknown initials.
    """
    with practice.writing() as desk:
        person_id, row = desk.person(by), _open_round(desk, round_id)
        shelf = _shelf(desk, row, key)
        read = parse_reading(reading, shelf.facts, method) if isinstance(reading, str) else reading
        head = _Hand(desk, row, person_id, _moment(desk, row, at)).keep(shelf, read)
        return _line_of(desk, row, replace(shelf, head=head))


def confirm_none(practice: Practice, round_id: int, keys: Collection[str], *, by: str) -> Sheet:
    """Say of shelves that were not read that nothing stands there.

    Raises:
        NotFound, AlreadyDone, BadInput: as for `record`.
    """
    with practice.writing() as desk:
        person_id, row = desk.person(by), _open_round(desk, round_id)
        hand = _Hand(desk, row, person_id, desk.now)
        shelves = {shelf.key: shelf for shelf in shelves_of(desk, row)}
        for key in keys:
            shelf = shelves.get(key) or no_line(key)
            hand.keep(shelf, Reading(shelf.facts.method, 0))
        return sheet_of(desk, row)


def withdraw(practice: Practice, round_id: int, key: str, *, by: str) -> Sheet:
    """Take a reading back; the shelf is uncounted again, and what was found is not there any more.

    Raises:
        NotFound: no such round or shelf, or nothing was read of it.
        AlreadyDone: the round is not open any more.
        BadInput: unknown initials.
    """
    with practice.writing() as desk:
        person_id, row = desk.person(by), _open_round(desk, round_id)
        shelf = _shelf(desk, row, key)
        if shelf.reading is None:
            raise NotFound(f"Nothing was read of line {key}.", "Nothing has to be taken back.")
        _Hand(desk, row, person_id, desk.now).withdraw(shelf, shelf.reading)
        return sheet_of(desk, row)


def found(
    practice: Practice, round_id: int, what: Found, reading: str, *, by: str, at: datetime | None = None
) -> SheetLine:
    """Add stock that stands where the book has none of it: a known lot at another place, or a lot that is new.

    A lot that is new is in the book from now on, with nothing of it before the round is approved.

    Raises:
        NotFound: no such round, item or place.
        AlreadyDone: the round is not open any more, or the shelf is on its sheet.
        BadInput: it does not belong to the round, its lot or dates can't be, or the reading can't be read.
    """
    with practice.writing() as desk:
        person_id, row = desk.person(by), _open_round(desk, round_id)
        item, place = _found_where(desk, row, what)
        lot = _lot(desk, person_id, item, what)
        check_received(what.opened_on or desk.today, lot.first_received_on, f"lot {lot.number}")
        facts = facts_of(item, lot, what.opened_on)
        key, shelf = "", None
        if what.opened_on is None:
            shelf = _on_sheet(desk, row, lot, place)
            number = query.sealed_stacks(desk.session, [lot.id or 0]).get((lot.id or 0, place.id or 0))
            key = "" if number is None else str(number)
        if shelf is not None:
            raise AlreadyDone(f"That lot is on the sheet, line {shelf.key}.", "Enter what was counted there.")
        new = Shelf(key, None, None, lot, item, place, what.opened_on, facts)
        hand = _Hand(desk, row, person_id, _moment(desk, row, at))
        head = hand.keep(new, parse_reading(reading, facts), int(key) if key else None)
        return _line_of(desk, row, replace(new, key=key or f"{FOUND}{head.id}", head=head))


def drop(practice: Practice, round_id: int, *, reason: str, by: str) -> RoundCard:
    """Give a round up; what was read stays on record and changes nothing.

    Raises:
        NotFound: no such round.
        AlreadyDone: it is not open any more.
        BadInput: no reason, or unknown initials.
    """
    reason = clean(reason, "reason", 500)
    with practice.writing() as desk:
        person_id, row = desk.person(by), _open_round(desk, round_id)
        row.state = DROPPED
        desk.log_change(person_id, "count_round", round_id, {"state": (OPEN, DROPPED)}, reason)
        desk.session.flush()
        return card(desk, row)


# within a unit of work


def _round(desk: Desk, round_id: int, *, lock: bool = False) -> CountRound:
    row = query.round_(desk.session, round_id, lock=lock)
    if row is None:
        raise NotFound(f"There is no round {round_id}.", "Look it up in the list of rounds.")
    return row


def _open_round(desk: Desk, round_id: int) -> CountRound:
    """A round to be changed; whoever else wants to change it waits."""
    row = _round(desk, round_id, lock=True)
    if row.state != OPEN:
        raise AlreadyDone(f"Round {round_id} is {row.state} already.", "Start another one to count again.")
    return row


def _shelf(desk: Desk, row: CountRound, key: str) -> Shelf:
    return next((shelf for shelf in shelves_of(desk, row) if shelf.key == key.strip()), None) or no_line(key)


def _moment(desk: Desk, row: CountRound, at: datetime | None) -> datetime:
    if at is None:
        return desk.now
    if at > desk.now or at < row.started_at - timedelta(minutes=1):  # a time is typed to the minute
        began = row.started_at.astimezone(desk.zone)
        raise BadInput(
            f"time: {at.astimezone(desk.zone):%Y-%m-%d %H:%M} is not between the start of the round and now.",
            f"The round began on {began:%Y-%m-%d at %H:%M}; give the time of counting.",
        )
    return at


@dataclass(frozen=True, slots=True)
class _Hand:
    """Who writes readings down, in which round, and of which moment."""

    desk: Desk
    row: CountRound
    person_id: int
    at: datetime

    def keep(self, shelf: Shelf, read: Reading, holding_id: int | None = None) -> CountLine:
        """Keep a reading."""
        return self._write(shelf, read, counted_qty(read, shelf.facts), holding_id)

    def withdraw(self, shelf: Shelf, before: CountLine) -> CountLine:
        return self._write(shelf, Reading(CountMethod.WITHDRAWN, before.reading), None, None)

    def _write(self, shelf: Shelf, read: Reading, qty: int | None, holding_id: int | None) -> CountLine:
        head = shelf.head
        line = CountLine(
            count_round_id=self.row.id or 0, lot_id=shelf.lot.id or 0, place_id=shelf.place.id or 0,
            opened_on=shelf.opened_on, holding_id=holding_id or (head.holding_id if head else shelf.holding_id),
            method=read.method, reading=read.number, reading_unit_qty=reading_unit_qty(read.method, shelf.facts),
            counted_qty=qty, counted_at=self.at, person_id=self.person_id, replaces_id=head.id if head else None,
        )  # fmt: skip
        self.desk.add(line)
        return line


def _line_of(desk: Desk, row: CountRound, shelf: Shelf) -> SheetLine:
    """A shelf as the sheet shows it, with the reading that was just taken."""
    expected = {} if row.blind else expected_of(desk, [shelf])
    return line_of(desk, shelf, expected.get(shelf.key))


def _found_where(desk: Desk, row: CountRound, what: Found) -> tuple[Item, Place]:
    """The item and place of what was found, which belong to the round."""
    item = catalogue.item_by_code(desk.session, what.item.strip().upper())
    if item is None:
        raise NotFound(f"There is no item {what.item!r}.", "Look it up in the list of items, or add it first.")
    place = desk.place(what.place)
    if not Reach(desk, row.scope).takes(item.id or 0, place.id or 0):
        raise BadInput(
            f"{item.name} at {place.name} is not counted in round {row.id}.", "Put its count right by itself."
        )
    if what.opened_on is not None and what.opened_on > desk.today:
        raise BadInput(f"opened: {what.opened_on} is still to come.", "Give the day it was opened.")
    return item, place


def _lot(desk: Desk, person_id: int, item: Item, what: Found) -> Lot:
    """The lot on its package: known, or new from today on."""
    ours = not item.has_lots and not what.lot.strip()
    number = STANDING if ours else clean(what.lot, "lot", 60)
    if fault := check_dates(what.use_by, None, desk.today):
        raise BadInput(f"use-by: {fault}.", "Look at the label again.")
    words = LotWords(item.id or 0, number, what.use_by, item.unit_qty, ours=ours)
    (kept,) = save_lots(desk, person_id, [words], what.opened_on or desk.today)
    return desk.session.get_one(Lot, kept.lot_id)


def _on_sheet(desk: Desk, row: CountRound, lot: Lot, place: Place) -> Shelf | None:
    """The line of a lot's sealed stack, where the sheet has it."""
    return next(
        (
            shelf
            for shelf in shelves_of(desk, row)
            if (shelf.lot.id, shelf.place.id, shelf.opened_on) == (lot.id, place.id, None)
        ),
        None,
    )

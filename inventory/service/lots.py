"""Lots as they arrive: a number from the label or one of our own, a date that was read or the word that there is none.

A lot is one maker's batch of one item. The same number with another date is another lot, since one of the two dates
would otherwise be lost; with the same date (or both without) it is the same lot. Items without lots at all share one
standing lot each.

Every lot that comes into the book, comes again or gets another number passes through here, and here it is held against
the recall notices in the book.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from inventory.domain.dates import DateOrder, TypedDate, parse_date
from inventory.domain.use_by import last_day_of_month, reading_fits
from inventory.domain.vocabulary import UseByReading
from inventory.domain.words import clean
from inventory.errors import BadInput, NotAllowed, NotFound
from inventory.service import recalling
from inventory.service.practice import Desk, Practice
from inventory.store.queries import receiving as queries
from inventory.store.queries.receiving import LotRow
from inventory.store.tables import Lot

MAKING_LOTS = "lots"  # two workstations must not make the same lot twice
_NONE_STATED = frozenset({"none", "none stated", "no date"})
_NOT_READ = frozenset({"", "?", "not read", "unread"})
_YEAR = re.compile(r"\d{4}")


@dataclass(frozen=True, slots=True)
class UseBy:
    """How a use-by date was read from a label: a day, a month (its last day), none stated, or not read yet."""

    reading: UseByReading
    day: date | None = None

    @classmethod
    def on(cls, day: date) -> "UseBy":
        return cls(UseByReading.DAY, day)

    @classmethod
    def month(cls, year: int, month: int) -> "UseBy":
        return cls(UseByReading.MONTH, last_day_of_month(year, month))

    @classmethod
    def typed(cls, typed: TypedDate) -> "UseBy":
        return cls(UseByReading.MONTH if typed.month_only else UseByReading.DAY, typed.day)


NONE_STATED = UseBy(UseByReading.NONE_STATED)
NOT_READ = UseBy(UseByReading.NOT_READ)


def parse_use_by(text: str, today: date, order: DateOrder = DateOrder.DAY_FIRST, what: str = "use-by") -> UseBy:
    """Read a use-by date as a label gives it: ``2028-05-31``, ``2028-05``, ``none`` (the maker states none), ``?``.

    Args:
        text: what was typed; empty is a date not read yet.
        today: the practice's local date.
        order: how a date of bare numbers is meant.
        what: the field's name, for the error.

    Raises:
        BadInput: not a date, or without a year of four digits (``03/28`` is read differently by different people).
    """
    typed = " ".join(text.lower().split())
    if typed in _NONE_STATED:
        return NONE_STATED
    if typed in _NOT_READ:
        return NOT_READ
    if not _YEAR.search(typed):
        raise BadInput(
            f"{what}: {text.strip()!r} has no year of four digits.", "Type e.g. 2028-05-31, 2028-05, none or ?."
        )
    return UseBy.typed(parse_date(typed, today, order, what))


@dataclass(frozen=True, slots=True)
class LotWords:
    """What identifies a lot, and what is kept of it when it is new. An ``ours`` number is not the maker's."""

    item_id: int
    number: str
    use_by: UseBy
    unit_qty: int
    ours: bool = False
    made_on: date | None = None
    received_on: date | None = None

    @property
    def key(self) -> tuple[int, str]:
        return (self.item_id, self.number)


def known_lot(known: Sequence[LotRow], words: LotWords) -> LotRow | None:
    """The lot that is meant among those of the same item and number."""
    return next((row for row in known if row.use_by == words.use_by.day), None)


def save_lots(
    desk: Desk, person_id: int, wanted: Sequence[LotWords], first_received_on: date, *, delivered: bool = False
) -> list[LotRow]:
    """Find each lot, or make it, within a unit of work; what a recall notice names is put on hold.

    Args:
        desk: the unit of work.
        person_id: who receives, for the log.
        wanted: the lots, repeated ones too.
        first_received_on: the day kept with a new lot that names none itself.
        delivered: whether a delivery brings them, on that day.

    Returns:
        The lots in the order asked for, each with what recall notices say of it.
    """
    queries.one_at_a_time(desk.session, MAKING_LOTS)
    found = {key: list(rows) for key, rows in queries.lots_named(desk.session, [words.key for words in wanted]).items()}
    new = list(_missing(found, wanted))
    rows = [
        Lot(
            item_id=words.item_id, number=words.number, number_is_ours=words.ours, use_by=words.use_by.day,
            use_by_read=words.use_by.reading, made_on=words.made_on, unit_qty=words.unit_qty,
            first_received_on=words.received_on or first_received_on,
        )
        for words in new
    ]  # fmt: skip
    desk.session.add_all(rows)
    desk.session.flush()
    for row in rows:
        found.setdefault((row.item_id, row.number), []).append(_row(row))
    lots = [known_lot(found[words.key], words) for words in wanted]
    _note_none_stated(desk, person_id, zip(lots, wanted, strict=True))
    there = [lot for lot in lots if lot is not None]
    told = recalling.hold_named(
        desk, person_id, {lot.lot_id for lot in there}, came_on=first_received_on if delivered else None
    )
    return [replace(lot, recall=told.get(lot.lot_id, ())) for lot in there]


def _missing(found: dict[tuple[int, str], list[LotRow]], wanted: Iterable[LotWords]) -> Iterable[LotWords]:
    """The lots that are not known yet, each once."""
    new: dict[tuple[int, str, date | None], LotWords] = {}
    for words in wanted:
        if known_lot(found.get(words.key, ()), words) is None:
            new.setdefault((*words.key, words.use_by.day), words)
    return new.values()


def _note_none_stated(desk: Desk, person_id: int, pairs: Iterable[tuple[LotRow | None, LotWords]]) -> None:
    """A lot whose date nobody had read, and which is now seen to have none, needs no reading any more."""
    for lot, words in pairs:
        if lot is None or words.use_by != NONE_STATED or lot.use_by_read is not UseByReading.NOT_READ:
            continue
        row = desk.session.get_one(Lot, lot.lot_id)
        if row.use_by_read is UseByReading.NOT_READ:
            desk.log_change(
                person_id, "lot", lot.lot_id, {"use_by_read": (row.use_by_read, NONE_STATED.reading)}, "received again"
            )
            row.use_by_read = NONE_STATED.reading


def _row(lot: Lot) -> LotRow:
    return LotRow(lot.id or 0, lot.item_id, lot.number, lot.use_by, lot.use_by_read, lot.unit_qty, lot.number_is_ours)


def check_dates(use_by: UseBy, made_on: date | None, received_on: date) -> str | None:
    """What is wrong with a lot's dates, in words; None where nothing is."""
    if not reading_fits(use_by.reading, use_by.day):
        return "a use-by date is there exactly where one was read"
    if use_by.day is not None and not received_on.year - 50 <= use_by.day.year <= received_on.year + 50:
        return f"{use_by.day} can't be a use-by date"
    if made_on is not None and made_on > received_on:
        return f"made on {made_on}, after it was received"
    if made_on is not None and use_by.day is not None and made_on > use_by.day:
        return f"made on {made_on}, after its use-by date"
    return None


def amend_lot(
    practice: Practice,
    lot_id: int,
    *,
    reason: str,
    by: str,
    number: str | None = None,
    use_by: UseBy | None = None,
    made_on: date | None = None,
) -> LotRow:
    """Put right a lot's number, its use-by date or the day it was made; what was used since stays as it is.

    Args:
        practice: the practice at work.
        lot_id: which lot.
        reason: why, for the log.
        by: initials.
        number: the number on the label; None leaves it. A house number becomes the maker's.
        use_by: the date as it was read; None leaves it.
        made_on: the day it was made; None leaves it.

    Returns:
        The lot as it stands now, with what recall notices say of it.

    Raises:
        NotFound: no such lot.
        NotAllowed: another lot of the item has this number and date; two lots are never made one.
        BadInput: no reason, or a number or date that can't be.
    """
    reason = clean(reason, "reason", 500)
    with practice.writing() as desk:
        person_id = desk.person(by)
        lot = desk.session.get(Lot, lot_id, with_for_update=True)
        if lot is None:
            raise NotFound(f"There is no lot {lot_id}.", "Look it up in the list of lots.")
        read = use_by or UseBy(lot.use_by_read, lot.use_by)
        if fault := check_dates(read, made_on or lot.made_on, desk.today):
            raise BadInput(f"use-by: {fault}.", "Look at the label again.")
        new = {
            "number": lot.number if number is None else clean(number, "lot", 60),
            "number_is_ours": lot.number_is_ours and number is None,
            "use_by": read.day,
            "use_by_read": read.reading,
            "made_on": made_on or lot.made_on,
        }
        _refuse_second(desk, lot, LotWords(lot.item_id, str(new["number"]), read, lot.unit_qty))
        desk.log_change(
            person_id, "lot", lot_id, {name: (getattr(lot, name), value) for name, value in new.items()}, reason
        )
        for name, value in new.items():
            setattr(lot, name, value)
        desk.session.flush()
        told = recalling.hold_named(desk, person_id, [lot_id], changed=number is not None)
        return replace(_row(lot), recall=told.get(lot_id, ()))


def _refuse_second(desk: Desk, lot: Lot, words: LotWords) -> None:
    queries.one_at_a_time(desk.session, MAKING_LOTS)
    holder = known_lot(queries.lots_named(desk.session, [words.key]).get(words.key, ()), words)
    if holder is not None and holder.lot_id != lot.id:
        date_words = words.use_by.day or "without a date"
        raise NotAllowed(
            f"Lot {words.number} ({date_words}) is in the book already as another lot.",
            "Two lots are never made one; move or count the stock instead.",
        )

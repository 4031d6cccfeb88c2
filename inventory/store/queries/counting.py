"""Rounds of counting: their readings, what they say of a shelf at a moment, and what they found of whole items.

    counted_items(session, since) -> list[CountedItem]
        (item_id, round_id, counted_qty, reading_unit_qty, readings, at, complete)

A reading counts while no later one replaces it and none withdrew it. A round is in force once it is approved and while
its correction was not undone.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import ColumnElement, Select, Subquery, and_, case, exists, func, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from inventory.domain.vocabulary import CountMethod, DocumentKind, MovementKind
from inventory.store.tables import CountLine, CountRound, Document, Holding, Lot, Movement


@dataclass(frozen=True, slots=True)
class CountedItem:
    """What a round in force found of one item. Quantities in the item's base unit.

    Attributes:
        item_id: the item.
        round_id: the round.
        counted_qty: what was there at ``at`` of all that was read: the readings, and what the book moved between each
            of them and the last.
        reading_unit_qty: one step of the coarsest reading of an opened unit; 1 where there was none.
        readings: opened units read; sealed ones are counted exactly.
        at: the moment of the last reading of the item.
        complete: everything of the item that the book had when the round was approved, usable or not, was read.
    """

    item_id: int
    round_id: int
    counted_qty: int
    reading_unit_qty: int
    readings: int
    at: datetime
    complete: bool


def current(line: Any = CountLine) -> ColumnElement[bool]:
    """Whether a reading counts: not replaced, and not one that withdrew another."""
    newer = aliased(CountLine)
    return and_(~exists().where(col(newer.replaces_id) == line.id), line.method != CountMethod.WITHDRAWN)


def in_force(round_: Any = CountRound) -> ColumnElement[bool]:
    """Whether a round is approved and its correction stands."""
    correction, undoing = aliased(Document), aliased(Document)
    undone = exists().where(
        col(correction.count_round_id) == round_.id,
        col(correction.kind) == DocumentKind.COUNT,
        col(undoing.reverses_id) == correction.id,
    )
    return and_(round_.state == "approved", ~undone)


def counted_items(session: Session, since: datetime) -> list[CountedItem]:
    """What each round approved at or after a moment found, by item, oldest first."""
    read = _read(since)
    opened = read.c.opened_on.is_not(None)
    query = (
        select(
            read.c.item_id,
            read.c.round_id,
            func.sum(read.c.counted_qty),
            func.max(case((opened, read.c.reading_unit_qty), else_=1)),
            func.sum(case((opened, 1), else_=0)),
            func.max(read.c.counted_at),
        )
        .group_by(read.c.item_id, read.c.round_id)
        .order_by(func.max(read.c.counted_at), read.c.round_id, read.c.item_id)
    )
    between, unread = _moved_between(session, read), _unread(session, read)
    return [
        CountedItem(
            item, number, int(total) + between.get((item, number), 0), int(unit), int(readings), at,
            complete=(item, number) not in unread,
        )
        for item, number, total, unit, readings, at in session.execute(query)
    ]  # fmt: skip


def _read(since: datetime) -> Subquery:
    """The readings that count, of rounds in force since a moment."""
    return (
        select(
            col(CountLine.count_round_id).label("round_id"), col(CountRound.approved_at), col(Lot.item_id),
            col(CountLine.holding_id), col(CountLine.opened_on), col(CountLine.counted_qty),
            col(CountLine.reading_unit_qty), col(CountLine.counted_at),
        )
        .join(CountRound, col(CountRound.id) == col(CountLine.count_round_id))
        .join(Lot, col(Lot.id) == col(CountLine.lot_id))
        .where(current(), in_force(), col(CountRound.approved_at) >= since)
        .subquery("read")
    )  # fmt: skip


def _moved_between(session: Session, read: Subquery) -> dict[tuple[int, int], int]:
    """By item and round: what moved at a shelf after its reading and up to the item's last one, corrections apart."""
    last = (
        select(read.c.item_id, read.c.round_id, func.max(read.c.counted_at).label("at"))
        .group_by(read.c.item_id, read.c.round_id)
        .subquery("last")
    )
    query = (
        select(read.c.item_id, read.c.round_id, func.sum(col(Movement.qty)))
        .join(last, and_(last.c.item_id == read.c.item_id, last.c.round_id == read.c.round_id))
        .join(Movement, col(Movement.holding_id) == read.c.holding_id)
        .join(Document, col(Document.id) == col(Movement.document_id))
        .where(
            read.c.counted_at < last.c.at,
            col(Document.happened_at) > read.c.counted_at,
            col(Document.happened_at) <= last.c.at,
            col(Movement.kind) != MovementKind.COUNT,
        )
        .group_by(read.c.item_id, read.c.round_id)
    )
    return {(item, number): int(total) for item, number, total in session.execute(query)}


def _unread(session: Session, read: Subquery) -> set[tuple[int, int]]:
    """Items and rounds where something that the book had when the round was approved was not read."""
    asked = select(read.c.item_id, read.c.round_id, read.c.approved_at).distinct().subquery("asked")
    was_read = exists().where(read.c.round_id == asked.c.round_id, read.c.holding_id == col(Movement.holding_id))
    query = (
        select(asked.c.item_id, asked.c.round_id)
        .join(Movement, col(Movement.item_id) == asked.c.item_id)
        .join(Document, col(Document.id) == col(Movement.document_id))
        .where(col(Document.recorded_at) <= asked.c.approved_at, ~was_read)
        .group_by(asked.c.item_id, asked.c.round_id, col(Movement.holding_id))
        .having(func.sum(col(Movement.qty)) > 0)
    )
    return {(item, number) for item, number in session.execute(query)}


# What counts say of a moment: who books late asks this


def counted_after(session: Session, holding_ids: Collection[int], moment: datetime) -> set[int]:
    """Which of some holdings were counted after a moment, by a count in force; stock found for a visit is no count.

    What such a count found already holds whatever happened before it, booked or not. An opened unit that came onto the
    book after a round in which its lot was read at its place was counted with it: it stood there, or was gone by then.
    """
    corrected = {holding for holding, at in corrections(session, holding_ids, moment)}
    asked = select(col(Holding.id), col(Holding.lot_id), col(Holding.place_id), col(Holding.opened_on)).where(
        col(Holding.id).in_(holding_ids)
    )
    holdings = [tuple(row) for row in session.execute(asked)]
    readings = read_after(session, {lot for _, lot, _, _ in holdings}, moment)
    if not readings:
        return corrected
    direct = {one.holding_id for one in readings}
    came = first_booked(session, [number for number, _, _, opened in holdings if opened is not None])
    later = {
        number
        for number, lot, place, opened in holdings
        if opened is not None
        and any((one.lot_id, one.place_id) == (lot, place) and one.approved_at < came[number] for one in readings)
    }
    return corrected | later | {number for number, *_ in holdings if number in direct}


def corrections(session: Session, holding_ids: Collection[int], moment: datetime) -> list[tuple[int, datetime]]:
    """Single corrections of a count after a moment that stand, as (holding, moment)."""
    undoing = aliased(Document)
    query = (
        select(col(Movement.holding_id), col(Document.happened_at))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .outerjoin(undoing, col(undoing.reverses_id) == col(Document.id))
        .where(
            col(Movement.holding_id).in_(holding_ids),
            col(Document.kind) == DocumentKind.COUNT,
            col(Document.happened_at) > moment,
            col(Document.visit_id).is_(None),
            col(Document.count_round_id).is_(None),
            col(Document.part) == 0,  # further parts of a request keep a count in force, they are none themselves
            col(undoing.id).is_(None),
        )
    )
    return [(holding, at) for holding, at in session.execute(query)]


@dataclass(frozen=True, slots=True)
class ReadAt:
    """A reading that counts: of which shelf, when, and when its round was approved (None: it is open)."""

    lot_id: int
    place_id: int
    opened_on: date | None
    holding_id: int | None
    at: datetime
    approved_at: datetime


def read_after(session: Session, lot_ids: Collection[int], moment: datetime) -> list[ReadAt]:
    """Readings of some lots after a moment, of rounds in force."""
    query = _readings(lot_ids).where(col(CountLine.counted_at) > moment, in_force())
    return [ReadAt(*row) for row in session.execute(query)]


def read_between(session: Session, holding_ids: Collection[int], start: datetime, end: datetime) -> dict[int, datetime]:
    """When some holdings were last counted from one moment to another, in a round that is open or in force.

    What is booked for that time without saying when may have happened before or after the count.
    """
    lots = select(col(Holding.lot_id)).where(col(Holding.id).in_(holding_ids))
    query = (
        select(col(CountLine.holding_id), col(CountLine.counted_at))
        .join(CountRound, col(CountRound.id) == col(CountLine.count_round_id))
        .where(
            col(CountLine.lot_id).in_(lots),
            col(CountLine.holding_id).in_(holding_ids),
            col(CountLine.counted_at) >= start,
            col(CountLine.counted_at) <= end,
            current(),
            or_(in_force(), col(CountRound.state) == "open"),
        )
    )
    found: dict[int, datetime] = {}
    for holding, at in session.execute(query):
        found[holding] = max(at, found.get(holding, at))
    return found


def read_meanwhile(session: Session, document_ids: Collection[int], moment: datetime) -> bool:
    """Whether stock that documents have just moved was read after a moment, in a round in force.

    On SQLite nobody can have done so while a unit of work was writing.
    """
    if session.get_bind().dialect.name != "postgresql":
        return False
    moved = (
        select(col(Holding.lot_id))
        .join(Movement, col(Movement.holding_id) == col(Holding.id))
        .where(col(Movement.document_id).in_(document_ids))
    )
    query = (
        select(col(CountLine.id))
        .join(CountRound, col(CountRound.id) == col(CountLine.count_round_id))
        .where(col(CountLine.lot_id).in_(moved), col(CountLine.counted_at) > moment, current(), in_force())
        .limit(1)
    )
    return session.execute(query).first() is not None


def first_booked(session: Session, holding_ids: Collection[int]) -> dict[int, datetime]:
    """When each of some holdings came onto the book."""
    query = (
        select(col(Movement.holding_id), func.min(col(Document.recorded_at)))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .where(col(Movement.holding_id).in_(holding_ids))
        .group_by(col(Movement.holding_id))
    )
    return {row[0]: row[1] for row in session.execute(query)}


def moved_since(session: Session, moments: Mapping[int, datetime]) -> dict[int, int]:
    """What happened at each holding after its own moment, in base units."""
    moved = dict.fromkeys(moments, 0)
    if not moments:
        return moved
    query = (
        select(col(Movement.holding_id), col(Document.happened_at), col(Movement.qty))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .where(col(Movement.holding_id).in_(set(moments)), col(Document.happened_at) > min(moments.values()))
    )
    for holding, at, qty in session.execute(query):
        moved[holding] += qty if at > moments[holding] else 0
    return moved


# Rounds and their readings


def rounds(session: Session) -> list[CountRound]:
    """All rounds, newest first."""
    return list(session.execute(select(CountRound).order_by(col(CountRound.id).desc())).scalars())


def round_(session: Session, number: int, *, lock: bool = False) -> CountRound | None:
    """A round; locked, others wait with it until the unit of work ends."""
    return session.get(CountRound, number, with_for_update=lock or None, populate_existing=lock)


def readings(session: Session, round_ids: Collection[int]) -> list[CountLine]:
    """Every reading ever taken in some rounds, replaced and withdrawn ones too, in their order."""
    query = select(CountLine).where(col(CountLine.count_round_id).in_(round_ids)).order_by(col(CountLine.id))
    return list(session.execute(query).scalars())


def counted(session: Session, round_ids: Collection[int]) -> dict[int, int]:
    """How many readings count in some rounds; rounds without any are left out."""
    query = (
        select(col(CountLine.count_round_id), func.count())
        .where(col(CountLine.count_round_id).in_(round_ids), current())
        .group_by(col(CountLine.count_round_id))
    )
    return {row[0]: int(row[1]) for row in session.execute(query)}


def corrected_by(session: Session, round_ids: Collection[int]) -> dict[int, tuple[int, bool]]:
    """The document that each round posted, and whether it stands."""
    undoing = aliased(Document)
    query = (
        select(col(Document.count_round_id), col(Document.id), col(undoing.id))
        .outerjoin(undoing, col(undoing.reverses_id) == col(Document.id))
        .where(col(Document.count_round_id).in_(round_ids), col(Document.kind) == DocumentKind.COUNT)
    )
    return {number: (document, undone is None) for number, document, undone in session.execute(query)}


def corrected_in(session: Session, document_id: int) -> list[int]:
    """The holdings that a count found: those that it corrects, and those that were read in its round."""
    read = (
        select(col(CountLine.holding_id))
        .join(Document, col(Document.count_round_id) == col(CountLine.count_round_id))
        .where(col(Document.id) == document_id, col(CountLine.holding_id).is_not(None), current())
    )
    moved = select(col(Movement.holding_id)).where(col(Movement.document_id) == document_id)
    return [int(number or 0) for number in session.execute(read.union(moved)).scalars()]


def lots(session: Session, lot_ids: Collection[int]) -> dict[int, Lot]:
    """Some lots by number."""
    query = select(Lot).where(col(Lot.id).in_(lot_ids))
    return {lot.id: lot for lot in session.execute(query).scalars() if lot.id is not None}


def sealed_stacks(session: Session, lot_ids: Collection[int]) -> dict[tuple[int, int], int]:
    """The sealed stacks of some lots by lot and place, empty ones too."""
    query = select(col(Holding.lot_id), col(Holding.place_id), col(Holding.id)).where(
        col(Holding.lot_id).in_(lot_ids), col(Holding.opened_on).is_(None)
    )
    return {(lot, place): number for lot, place, number in session.execute(query)}


def _readings(lot_ids: Collection[int]) -> Select[*tuple[Any, ...]]:
    return (
        select(
            col(CountLine.lot_id), col(CountLine.place_id), col(CountLine.opened_on), col(CountLine.holding_id),
            col(CountLine.counted_at), col(CountRound.approved_at),
        )
        .join(CountRound, col(CountRound.id) == col(CountLine.count_round_id))
        .where(col(CountLine.lot_id).in_(lot_ids), current())
    )  # fmt: skip


# Does it hold together?


def read_twice(session: Session) -> list[tuple[int, int]]:
    """Rounds in which one holding has two readings that count, as (round, holding)."""
    query = (
        select(col(CountLine.count_round_id), col(CountLine.holding_id))
        .where(col(CountLine.holding_id).is_not(None), current())
        .group_by(col(CountLine.count_round_id), col(CountLine.holding_id))
        .having(func.count() > 1)
        .order_by(col(CountLine.count_round_id), col(CountLine.holding_id))
    )
    return [(number, int(holding or 0)) for number, holding in session.execute(query)]


def strayed(session: Session) -> list[tuple[int, int]]:
    """Readings of another lot or place than the holding they name, or open where it is sealed: (reading, round)."""
    # found open, its day was estimated; but what is sealed is never open
    other = col(CountLine.opened_on).is_(None) != col(Holding.opened_on).is_(None)
    query = (
        select(col(CountLine.id), col(CountLine.count_round_id))
        .join(Holding, col(Holding.id) == col(CountLine.holding_id))
        .where(
            or_(
                col(CountLine.lot_id) != col(Holding.lot_id),
                col(CountLine.place_id) != col(Holding.place_id),
                other,
            )
        )
        .order_by(col(CountLine.id))
    )
    return [(int(line or 0), number) for line, number in session.execute(query)]


def unapproved(session: Session) -> list[tuple[int, int]]:
    """Documents that correct the book for a round that is not approved, or was corrected for before."""
    first = aliased(Document)
    earlier = exists().where(
        col(first.count_round_id) == col(Document.count_round_id),
        col(first.kind) == DocumentKind.COUNT,
        col(first.id) < col(Document.id),
    )
    query = (
        select(col(Document.id), col(CountRound.id))
        .join(CountRound, col(CountRound.id) == col(Document.count_round_id))
        .where(
            col(Document.kind) == DocumentKind.COUNT,
            or_(col(CountRound.state) != "approved", col(CountRound.approved_at).is_(None), earlier),
        )
        .order_by(col(Document.id))
    )
    return [(int(document or 0), int(number or 0)) for document, number in session.execute(query)]

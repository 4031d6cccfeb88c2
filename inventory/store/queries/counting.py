"""Rounds of counting: their readings, what they say of a shelf at a moment, and what they found of whole items.

    counted_items(session, since) -> list[CountedItem]
        (item_id, round_id, counted_qty, reading_unit_qty, readings, at, complete)

A reading counts while no later one replaces it and none withdrew it. A round is in force once it is approved and while
its correction was not undone.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Subquery, and_, case, exists, func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from inventory.domain.vocabulary import CountMethod, DocumentKind, MovementKind
from inventory.store.tables import CountLine, CountRound, Document, Lot, Movement


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


# What a shelf's counts say of a moment


def read_after(
    session: Session, lot_ids: Collection[int], moment: datetime
) -> list[tuple[int, int, int | None, datetime]]:
    """Readings in force of some lots after a moment: lot, place, holding, when the round was approved."""
    query = (
        select(
            col(CountLine.lot_id), col(CountLine.place_id), col(CountLine.holding_id), col(CountRound.approved_at)
        )
        .join(CountRound, col(CountRound.id) == col(CountLine.count_round_id))
        .where(col(CountLine.lot_id).in_(lot_ids), col(CountLine.counted_at) > moment, current(), in_force())
    )  # fmt: skip
    return [tuple(row) for row in session.execute(query)]

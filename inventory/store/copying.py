"""A whole book from one store to another, row for row, and whether two books are the same.

Backups, restores, exports and the move to a server all rest on this: the tables in the order of their links, every row
with its number, each value through the same column types on both sides. Two books are the same where every table has
the same number of rows and the same fingerprint. The fingerprint adds up the hashes of the rows, so it asks nothing of
their order, which databases see differently.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import Any

from sqlalchemy import Table, func, insert, select
from sqlmodel import Session, SQLModel

from inventory.store import guards
from inventory.store.tables import Revision

__all__ = ["Content", "Row", "Table", "contents", "copy_book", "fill", "is_empty", "rows_of", "tables", "take_time"]

BATCH = 2_000  # rows read and written at once
_FINGERPRINTS = 2**256
_canonical = json.JSONEncoder(default=str, sort_keys=True, separators=(",", ":")).encode

Row = Mapping[Any, Any]


@dataclass(frozen=True, slots=True)
class Content:
    """What a table holds: so many rows, and the sum of their hashes."""

    rows: int
    fingerprint: int


def tables() -> tuple[Table, ...]:
    """All tables of a book in the order of their links; the counter of changes belongs to the file, not to the book."""
    return tuple(table for table in SQLModel.metadata.sorted_tables if table.name != Revision.__tablename__)


def take_time(session: Session) -> None:
    """Let a unit of work wait as long as it takes: while one store is written the other one's server sees it idle."""
    if session.get_bind().dialect.name == "postgresql":
        session.execute(select(func.set_config("idle_in_transaction_session_timeout", "0", True)))


def is_empty(session: Session) -> bool:
    """Whether nothing was ever written in this store."""
    return all(session.execute(select(table).limit(1)).first() is None for table in tables())


def rows_of(session: Session, table: Table) -> Iterator[Row]:
    """Every row of a table by its column names, in the order of its key, without reading all of them at once."""
    query = select(table).order_by(*table.primary_key.columns).execution_options(yield_per=BATCH)
    yield from session.execute(query).mappings()


def contents(session: Session) -> dict[str, Content]:
    """What each table holds, by its name."""
    return {table.name: _content_of(rows_of(session, table)) for table in tables()}


def _content_of(rows: Iterable[Row]) -> Content:
    """Number and fingerprint of some rows."""
    count = total = 0
    for row in rows:
        count += 1
        total += int.from_bytes(hashlib.sha256(_canonical(list(row.values())).encode()).digest())
    return Content(count, total % _FINGERPRINTS)


def copy_book(source: Session, target: Session) -> None:
    """Write every row of one store into another, empty one, within its unit of work."""
    fill(target, ((table, rows_of(source, table)) for table in tables()))


def fill(target: Session, content: Iterable[tuple[Table, Iterable[Row]]]) -> None:
    """Write rows into an empty store, with their numbers, and let it number on from there.

    Args:
        target: a writing unit of work.
        content: each table with its rows, in the order of `tables`.
    """
    for table, rows in content:
        in_order = iter(_parents_first(table, rows))
        while batch := list(islice(in_order, BATCH)):
            target.execute(insert(table), [dict(row) for row in batch])
        _number_on(target, table)


def _parents_first(table: Table, rows: Iterable[Row]) -> Iterator[Row]:
    """Rows that point at rows of their own table after those; in append-only tables they stand so already."""
    link = next((key.parent.name for key in table.foreign_keys if key.column.table is table), None)
    if link is None or table.name in guards.APPEND_ONLY:
        yield from rows
        return
    written: set[int | None] = {None}
    waiting = list(rows)
    while waiting:
        ready = [row for row in waiting if row[link] in written]
        if not ready:  # a circle: the store will say so
            ready = waiting
        yield from ready
        written |= {row["id"] for row in ready}
        waiting = [row for row in waiting if row["id"] not in written]


def _number_on(target: Session, table: Table) -> None:
    """PostgreSQL numbers rows by a sequence that rows with numbers of their own do not move."""
    if target.get_bind().dialect.name != "postgresql" or "id" not in table.c:
        return
    last = target.execute(select(func.max(table.c.id))).scalar_one()
    if last is not None:
        target.execute(select(func.setval(func.pg_get_serial_sequence(table.name, "id"), last)))

"""Rows of the book as text and back, exactly: for files that any other program can read.

A cell of a CSV file knows no types, so the column does: dates and instants by ISO 8601, yes and no as ``true`` and
``false``, words of a closed set by value, structured values as JSON. An empty cell is nothing; empty text where nothing
would be possible too is a lone apostrophe (`inventory.domain.cells`). JSON has numbers, truth and nothing of its own.
"""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, Boolean, Column, Date, Enum, Integer, Table

from inventory.domain.cells import marked, unmarked
from inventory.errors import BadInput
from inventory.store.columns import UtcInstant
from inventory.store.copying import Row

NATIVE = (Boolean, Integer, JSON)  # what JSON says by itself


def as_cells(table: Table, rows: Iterable[Row]) -> Iterator[list[str]]:
    """Rows as cells of text, in the order of the table's columns."""
    for row in rows:
        yield [_cell(column, row[column.name]) for column in table.columns]


def from_cells(table: Table, header: list[str], records: Iterable[list[str]]) -> Iterator[Row]:
    """Rows from cells of text.

    Raises:
        BadInput: another header than the table's columns, or a cell that can't be read.
    """
    columns = _columns(table, header)
    for number, record in enumerate(records, start=2):
        if len(record) != len(columns):
            raise BadInput(f"{table.name}, row {number}: {len(record)} cells, not {len(columns)}.", "Export it again.")
        yield {
            column.name: _read(table, number, column, cell, _value_of_cell)
            for column, cell in zip(columns, record, strict=True)
        }


def as_values(table: Table, rows: Iterable[Row]) -> Iterator[list[Any]]:
    """Rows as values that JSON has, in the order of the table's columns."""
    for row in rows:
        yield [_value(column, row[column.name]) for column in table.columns]


def from_values(table: Table, header: list[str], records: Iterable[list[Any]]) -> Iterator[Row]:
    """Rows from values of JSON.

    Raises:
        BadInput: other columns than the table's, or a value that can't be read.
    """
    columns = _columns(table, header)
    for number, record in enumerate(records, start=1):
        if not isinstance(record, list) or len(record) != len(columns):
            raise BadInput(f"{table.name}, row {number}: not {len(columns)} values.", "Export it again.")
        yield {
            column.name: _read(table, number, column, value, _value_of_json)
            for column, value in zip(columns, record, strict=True)
        }


def _columns(table: Table, header: list[str]) -> list[Column[Any]]:
    known: Mapping[str, Column[Any]] = {column.name: column for column in table.columns}
    if sorted(header) != sorted(known):
        raise BadInput(
            f"{table.name}: its columns are not those of this program's version.",
            "Take a backup of that version instead: it is brought up to date when it is restored.",
        )
    return [known[name] for name in header]


def _read(table: Table, number: int, column: Column[Any], value: Any, read: Callable[[Column[Any], Any], Any]) -> Any:
    try:
        return read(column, value)
    except (ValueError, TypeError, KeyError):
        shown = repr(value)[:60]
        raise BadInput(
            f"{table.name}, row {number}, column {column.name}: {shown} can't be read.", "Export it again."
        ) from None


def _cell(column: Column[Any], value: Any) -> str:
    if value is None and column.nullable:
        return ""
    if isinstance(column.type, Boolean | JSON):
        text = json.dumps(value, ensure_ascii=False)
        return marked(text) if isinstance(column.type, JSON) else text
    if isinstance(column.type, Integer):
        return str(int(value))
    said = str(_value(column, value))
    if isinstance(column.type, Enum | UtcInstant | Date):
        return said
    return marked(said) if said or not column.nullable else "'"


def _value(column: Column[Any], value: Any) -> Any:
    if value is None or isinstance(column.type, NATIVE):
        return value
    if isinstance(column.type, Enum):
        return str(value.value)
    return value.isoformat() if isinstance(value, date) else value


def _value_of_cell(column: Column[Any], cell: str) -> Any:
    if cell == "" and column.nullable:
        return None
    if isinstance(column.type, JSON):
        return json.loads(unmarked(cell))
    if isinstance(column.type, Boolean):
        return {"true": True, "false": False}[cell]
    if isinstance(column.type, Integer):
        return int(cell)
    if isinstance(column.type, Enum | UtcInstant | Date):
        return _value_of_json(column, cell)
    return unmarked(cell)


def _value_of_json(column: Column[Any], value: Any) -> Any:
    if isinstance(column.type, JSON) or (value is None and column.nullable):
        return value
    if isinstance(column.type, Boolean | Integer):
        wanted = bool if isinstance(column.type, Boolean) else int
        if type(value) is not wanted:
            raise TypeError
        return value
    if isinstance(column.type, UtcInstant):
        return datetime.fromisoformat(value)
    if isinstance(column.type, Date):
        return date.fromisoformat(value)
    if isinstance(column.type, Enum) and column.type.enum_class is not None:
        return {str(member.value): member for member in column.type.enum_class}[value]
    if not isinstance(value, str):
        raise TypeError
    return value

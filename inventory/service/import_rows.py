"""Files as spreadsheets and other programs write them, read into rows of cells with every fault kept where it stands.

A file may be UTF-8 with or without a mark, or Windows-1252; cells are parted by comma, semicolon or tab; or it is a
spreadsheet (.xlsx). Lines that begin with ``#`` and a blank are remarks. Rows are counted as a spreadsheet shows them,
the header and the remarks included. Cells are text and nothing else: a formula is never worked out.
"""

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import TypeVar

from inventory.domain.cells import unmarked
from inventory.domain.dates import DateOrder, parse_date
from inventory.domain.quantity import parse_decimal
from inventory.errors import BadInput, RowError, RowErrors
from inventory.service import import_spreadsheet
from inventory.service.import_mapping import LEFT_OUT, NamedColumn, advice, fold, names
from inventory.service.import_spreadsheet import FaultyCell

FAULT = "fault"  # the column that a file of rejected rows has beside its own; read again it is left out
DELIMITERS = (",", ";", "\t")
REMARK = "# "  # with a blank, so that something really called #3 is not taken for one
MOST_BYTES = 50_000_000

Value = TypeVar("Value")
_NUMBER = re.compile(r"[0-9]{1,15}([.,][0-9]{1,15})?")  # neither 1e99 nor 1_000, which mean nothing to a practice

YES_NO: Mapping[str, bool] = {
    **dict.fromkeys(("yes", "y", "true", "1", "x"), True),
    **dict.fromkeys(("no", "n", "false", "0", "-"), False),
}


@dataclass(slots=True)
class Row:
    """One row: its number in the file, its cells by column, and what was found wrong with it so far."""

    number: int
    cells: Mapping[str, str]
    today: date
    order: DateOrder
    raw: tuple[str, ...] = ()
    faults: list[RowError] = field(default_factory=list)

    def fault(self, column: str, message: str) -> None:
        """Note what is wrong with a column; its first fault is the one that is said."""
        if all(known.column != column for known in self.faults):
            self.faults.append(RowError(self.number, column, message))

    def has(self, column: str) -> bool:
        """Whether the file has the column at all."""
        return column in self.cells

    def text(self, column: str) -> str:
        return self.cells.get(column, "")

    def parsed(self, column: str, read: Callable[[str], Value], empty: Value) -> Value:
        """What ``read`` makes of a cell; ``empty`` for an empty one and for one that it refuses, with a fault."""
        text = self.text(column)
        if not text:
            return empty
        try:
            return read(text)
        except BadInput as error:
            self.fault(column, str(error).removeprefix(f"{column}: "))
            return empty

    def quietly(self, column: str, read: Callable[[str], str]) -> str:
        """What ``read`` makes of a cell, empty where it refuses; for looking ahead, before faults are noted."""
        try:
            return read(self.text(column)) if self.text(column) else ""
        except BadInput:
            return ""

    def whole(self, column: str, empty: int | None = None) -> int | None:
        """A whole number."""
        return self.scaled(column, 1, empty)

    def scaled(self, column: str, per_unit: int, empty: int | None = None) -> int | None:
        """A decimal number in so many parts of its unit, e.g. money in cents."""

        def read(text: str) -> int:
            if not _NUMBER.fullmatch(text):
                raise BadInput(f"{text[:40]!r} is not a number from 0 up.")
            return parse_decimal(text, per_unit, column)

        return self.parsed(column, read, empty)

    def choice(self, column: str, words: Mapping[str, Value], empty: Value) -> Value:
        """One of several words, in capitals or not."""

        def read(text: str) -> Value:
            word = " ".join(text.casefold().replace("_", " ").split())
            if word not in words:
                raise BadInput(f"{text!r} is not one of {', '.join(words)}.")
            return words[word]

        return self.parsed(column, read, empty)

    def yes(self, column: str, *, empty: bool = False) -> bool:
        return self.choice(column, YES_NO, empty)

    def day(self, column: str) -> date | None:
        """A date with its day."""

        def read(text: str) -> date:
            typed = parse_date(text, self.today, self.order, column)
            if typed.month_only:
                raise BadInput(f"{text!r} has no day.")
            return typed.day

        return self.parsed(column, read, None)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A file's header as it is written, how its cells are parted, its rows, and its columns of foreign names."""

    header: tuple[str, ...]
    delimiter: str
    rows: tuple[Row, ...]
    foreign: tuple[NamedColumn, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A file's rows of cells with their numbers, remarks left out: the header and those below it."""

    at: int
    header: tuple[str, ...]
    rows: tuple[tuple[int, Sequence[str]], ...]
    delimiter: str


def read_table(data: bytes, columns: Sequence[str], needed: Sequence[str]) -> Table:
    """Read a file's rows; what its columns are is still open.

    Raises:
        BadInput: not a text file or a spreadsheet, not rows of cells, or without a row.
    """
    _check_size(data)
    delimiter = DELIMITERS[0]
    if import_spreadsheet.is_spreadsheet(data):
        records = import_spreadsheet.rows(data)
    else:
        text = _decoded(data)
        delimiter = _delimiter(text, columns)
        records = _records(text, delimiter)
    numbered = [(number, record) for number, record in enumerate(records, 1) if _says(record)]
    if not numbered:
        raise BadInput("The file has no header.", f"Its first row names the columns: {', '.join(needed)} ...")
    (at, header), *rest = numbered
    if not rest:
        raise BadInput("The file has no rows below its header.", "Fill in at least one.")
    return Table(at, tuple(header), tuple(rest), delimiter)


def read_sheet(
    table: Table,
    columns: Sequence[str],
    needed: Sequence[str],
    today: date,
    order: DateOrder = DateOrder.DAY_FIRST,
    *,
    said: Mapping[str, str] = MappingProxyType({}),
) -> Sheet:
    """Read a table whose header names some of the columns, among them all that are needed.

    Args:
        table: the file's rows of cells.
        columns: the names a header may have, upper or lower case alike.
        needed: those it must have.
        today: the practice's local date.
        order: how a date of bare numbers is meant.
        said: which of our columns those of foreign names are.

    Raises:
        BadInput: what was said of columns is about others.
        RowErrors: the header lacks a needed column, or has an unknown or a repeated one.
    """
    ours = names(table.header, [*columns, FAULT], said)
    _check_header(table, ours, columns, needed)
    rows = tuple(_row(number, record, ours, today, order) for number, record in table.rows)
    pairs = list(zip(table.header, ours, strict=True))
    header = tuple(cell for cell, name in pairs if name != FAULT)
    foreign = (NamedColumn(cell.strip(), name) for cell, name in pairs if fold(cell) != fold(name))
    return Sheet(header, table.delimiter, rows, tuple(foreign))


def _check_size(data: bytes) -> None:
    if len(data) > MOST_BYTES:
        raise BadInput(f"The file is larger than {MOST_BYTES // 1_000_000} MB.", "Split it.")


def _decoded(data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise BadInput("The file is UTF-16.", "Save it as CSV UTF-8 and try again.")
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise BadInput("The file is not text.", "Save it as CSV UTF-8 and try again.")


def _delimiter(text: str, columns: Sequence[str]) -> str:
    """The sign that parts the header into the most known columns, or else into the most."""
    lines = (line for line in io.StringIO(text) if line.strip() and not _remark(line.lstrip('"')))
    header = next(lines, "")
    known = set(map(fold, columns))

    def fits(sign: str) -> tuple[int, int]:
        cells = [fold(cell.strip().strip('"')) for cell in header.split(sign)]
        return sum(cell in known for cell in cells), len(cells)

    return max(DELIMITERS, key=fits)


def _records(text: str, delimiter: str) -> list[list[str]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        return list(reader)
    except csv.Error as error:
        raise BadInput(
            f"The file can't be read as rows of cells near line {reader.line_num}: {error}.",
            "Look at the quotation marks there, or save it as CSV again.",
        ) from None


def _says(record: Sequence[str]) -> bool:
    """Whether a record is neither empty nor a remark."""
    return any(cell.strip() for cell in record) and not _remark(record[0])


def _remark(start: str) -> bool:
    return f"{start.strip()} ".startswith(REMARK)


def _check_header(table: Table, ours: Sequence[str], columns: Sequence[str], needed: Sequence[str]) -> None:
    faults = [RowError(table.at, name, "this column is missing") for name in needed if name not in ours]
    free = [name for name in columns if name not in ours]
    for place, (theirs, name) in enumerate(zip(table.header, ours, strict=True)):
        if name == LEFT_OUT:
            continue
        if name not in columns and name != FAULT:
            faults.append(RowError(table.at, theirs.strip(), advice(theirs, columns, free)))
        elif name in ours[:place]:
            faults.append(RowError(table.at, name, "this column is there twice"))
    if faults:
        raise RowErrors(tuple(faults), "Correct the header, or start from the template.")


def _row(number: int, record: Sequence[str], ours: Sequence[str], today: date, order: DateOrder) -> Row:
    if FAULT in ours:  # a file of rejected rows, written so that no spreadsheet finds a formula in it
        record = [cell if isinstance(cell, FaultyCell) else unmarked(cell) for cell in record]
    padded = [*record, *[""] * (len(ours) - len(record))]
    used = [(name, cell) for name, cell in zip(ours, padded, strict=False) if name not in (FAULT, LEFT_OUT)]
    cells = {name: "" if isinstance(cell, FaultyCell) else cell.strip() for name, cell in used}
    beyond = record[len(ours) :]
    raw = tuple(cell for name, cell in zip(ours, padded, strict=False) if name != FAULT)
    row = Row(number, cells, today, order, (*raw, *beyond))
    for name, cell in used:
        if isinstance(cell, FaultyCell):
            row.fault(name, cell.fault)
    if any(cell.strip() for cell in beyond):
        row.fault("", "it has more cells than the header; a text with the delimiter in it needs quotation marks")
    return row

"""Files as spreadsheets and other programs write them, read into rows of cells with every fault kept where it stands.

A file may be UTF-8 with or without a mark, or Windows-1252; cells are parted by comma, semicolon or tab; lines that
begin with ``#`` and a blank are remarks. Rows are counted as a spreadsheet shows them, the header and the remarks
included. Cells are text and nothing else: a formula is never worked out.
"""

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TypeVar

from inventory.domain.dates import DateOrder, parse_date
from inventory.domain.quantity import parse_decimal
from inventory.errors import BadInput, RowError, RowErrors

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
    """A file's header as it is written, how its cells are parted, and its rows."""

    header: tuple[str, ...]
    delimiter: str
    rows: tuple[Row, ...]


def read_sheet(
    data: bytes, columns: Sequence[str], needed: Sequence[str], today: date, order: DateOrder = DateOrder.DAY_FIRST
) -> Sheet:
    """Read a file whose header names some of the columns, among them all that are needed.

    Args:
        data: the file's content.
        columns: the names a header may have, upper or lower case alike.
        needed: those it must have.
        today: the practice's local date.
        order: how a date of bare numbers is meant.

    Raises:
        BadInput: not a text file, not rows of cells, or without a row.
        RowErrors: the header lacks a needed column, or has an unknown or a repeated one.
    """
    text = _decoded(data)
    delimiter = _delimiter(text, columns)
    records = [(number, record) for number, record in enumerate(_records(text, delimiter), 1) if _says(record)]
    if not records:
        raise BadInput("The file has no header.", f"Its first row names the columns: {', '.join(needed)} ...")
    (at, header), *rest = records
    names = [_column(cell) for cell in header]
    _check_header(at, names, columns, needed)
    if not rest:
        raise BadInput("The file has no rows below its header.", "Fill in at least one.")
    rows = tuple(_row(number, record, names, today, order) for number, record in rest)
    return Sheet(tuple(cell for cell, name in zip(header, names, strict=True) if name != FAULT), delimiter, rows)


def _decoded(data: bytes) -> str:
    if len(data) > MOST_BYTES:
        raise BadInput(f"The file is larger than {MOST_BYTES // 1_000_000} MB.", "Split it.")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise BadInput("The file is UTF-16.", "Save it as CSV UTF-8 and try again.")
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise BadInput("The file is not text.", "Save it as CSV UTF-8 and try again.")


def _delimiter(text: str, columns: Sequence[str]) -> str:
    """The sign that parts the header into the most known columns."""
    lines = (line for line in io.StringIO(text) if line.strip() and not _remark(line.lstrip('"')))
    header = next(lines, "")
    known = set(columns)
    return max(
        DELIMITERS, key=lambda sign: sum(_column(cell.strip().strip('"')) in known for cell in header.split(sign))
    )


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


def _column(cell: str) -> str:
    return "_".join(cell.casefold().replace("-", " ").replace("_", " ").split())


def _check_header(at: int, names: Sequence[str], columns: Sequence[str], needed: Sequence[str]) -> None:
    faults = [RowError(at, name, "this column is missing") for name in needed if name not in names]
    for place, name in enumerate(names):
        if name not in columns and name != FAULT:
            faults.append(RowError(at, name, f"there is no such column; known are {', '.join(columns)}"))
        elif name in names[:place]:
            faults.append(RowError(at, name, "this column is there twice"))
    if faults:
        raise RowErrors(tuple(faults), "Correct the header, or start from the template.")


def _row(number: int, record: Sequence[str], names: Sequence[str], today: date, order: DateOrder) -> Row:
    padded = [*record, *[""] * (len(names) - len(record))]
    cells = {name: cell.strip() for name, cell in zip(names, padded, strict=False) if name != FAULT}
    beyond = record[len(names) :]
    raw = tuple(cell for name, cell in zip(names, padded, strict=False) if name != FAULT)
    row = Row(number, cells, today, order, (*raw, *beyond))
    if any(cell.strip() for cell in beyond):
        row.fault("", "it has more cells than the header; a text with the delimiter in it needs quotation marks")
    return row

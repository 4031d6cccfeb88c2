"""Spreadsheets (.xlsx) as rows of cells: the first sheet, read as it was saved; nothing in it is ever worked out.

A formula counts as the value that was saved with it. Dates come as ISO 8601, numbers without a needless fraction, so
that the same rules read them as read the cells of a text file.
"""

import io
import warnings
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from inventory.errors import BadInput

SIGNS = (b"PK\x03\x04", b"PK\x05\x06")
OLD_SIGN = b"\xd0\xcf\x11\xe0"  # .xls, or protected by a password
MOST_UNPACKED = 400_000_000
MOST_ROWS, MOST_COLUMNS = 100_000, 200
_SAVE = "Open it in a spreadsheet program, save it as .xlsx or CSV UTF-8, and try again."


class FaultyCell(str):
    """A cell without a value that can be used; as text it is what is shown there."""

    __slots__ = ("fault",)
    fault: str


def is_spreadsheet(data: bytes) -> bool:
    """Whether a file is one, by how it begins; one that can't be read here included."""
    return data.startswith((*SIGNS, OLD_SIGN))


def rows(data: bytes) -> list[list[str]]:
    """The first sheet's rows from its first one on, as text; empty cells at the end of a row are left out.

    Raises:
        BadInput: it is damaged, protected, or larger than anything that is imported.
    """
    if data.startswith(OLD_SIGN):
        raise BadInput("The file is an old spreadsheet (.xls), or protected by a password.", _SAVE)
    try:
        _check_size(data)
        with warnings.catch_warnings():  # of parts that nobody looks at, e.g. rules of formatting
            warnings.simplefilter("ignore")
            return [_trimmed(row) for row in _read(data)]
    except BadInput:
        raise
    except Exception:  # noqa: BLE001 - whatever a damaged file does to the library
        raise BadInput("The file is no spreadsheet that can be read.", _SAVE) from None


def _check_size(data: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        if sum(part.file_size for part in parts.infolist()) > MOST_UNPACKED:
            raise BadInput("The spreadsheet is too large.", "Save its first sheet as CSV UTF-8, in parts.")


def _read(data: bytes) -> Iterator[list[str]]:
    """Every row: the values that were saved, beside the formulas, so that one without a value is seen."""
    values, formulas = _sheet(data, saved=True), _sheet(data, saved=False)
    for number, (row, written) in enumerate(zip(values, formulas, strict=True), 1):
        if number > MOST_ROWS or len(row) > MOST_COLUMNS:
            raise BadInput("The spreadsheet is too large.", f"Leave {MOST_ROWS} rows and {MOST_COLUMNS} columns.")
        yield [_text(*cells) for cells in zip(row, written, strict=True)]


def _sheet(data: bytes, *, saved: bool) -> Iterator[Any]:
    import openpyxl  # noqa: PLC0415 - only with a spreadsheet

    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=saved, keep_links=False)
    sheet: Any = book.worksheets[0]
    sheet.reset_dimensions()  # what the file says of its size may be wrong
    return iter(sheet.iter_rows())


def _trimmed(row: list[str]) -> list[str]:
    while row and not row[-1]:
        row.pop()
    return row


def _text(cell: Any, written: Any) -> str:
    """A cell as a person would type it."""
    value = cell.value
    if cell.data_type == "e":
        return _faulty(str(value), "the spreadsheet shows an error there")
    if value is None:
        return _faulty("=", "it is a formula that was saved without its value") if written.data_type == "f" else ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _number(value)
    if isinstance(value, datetime) and value.time() == time():
        value = value.date()
    return value.isoformat() if isinstance(value, date | time) else str(value)


def _faulty(text: str, fault: str) -> FaultyCell:
    cell = FaultyCell(text)
    cell.fault = fault
    return cell


def _number(value: float) -> str:
    """Without a power of ten, and without the digits that binary fractions add (15 are kept, as spreadsheets do)."""
    text = f"{Decimal(f'{value:.15g}'):f}" if isinstance(value, float) else str(value)
    return text.rstrip("0").rstrip(".") if "." in text else text

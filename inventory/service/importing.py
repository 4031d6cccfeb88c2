"""Bring in a practice's own files: people, places, suppliers, tray sizes, items, packs, fits, stock, orders, visits.

A file is read whole and every fault is said with its row and column; nothing is taken in unless all of it is right, or
the right rows only where that is asked for, with the others given back. It is one unit of work: all of it or nothing.

What is known already is refused row by row, so that a file read twice by mistake changes nothing; with ``update`` such
rows change what they name, logged field by field. Opening stock and orders are never updated: what is in the book is
counted, or changed there.
"""

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import NoReturn

from inventory.domain.cells import marked
from inventory.domain.dates import DateOrder
from inventory.errors import RowError, RowErrors
from inventory.service import import_catalogue as catalogue_files
from inventory.service import import_orders as order_files
from inventory.service import import_stock as stock_files
from inventory.service.import_catalogue import Intake
from inventory.service.import_columns import KINDS, file_kind, template
from inventory.service.import_mapping import NamedColumn, fold, remember, remembered
from inventory.service.import_rows import FAULT, Row, read_sheet, read_table
from inventory.service.practice import Desk, Practice

__all__ = ["KINDS", "Imported", "Rejected", "import_file", "import_together", "rejected_csv", "template"]

_INTAKES: dict[str, Callable[..., Intake]] = {
    "people": catalogue_files.PeopleIntake,
    "places": catalogue_files.PlacesIntake,
    "suppliers": catalogue_files.SuppliersIntake,
    "tray_sizes": catalogue_files.TraySizesIntake,
    "items": catalogue_files.ItemsIntake,
    "supplies": catalogue_files.SuppliesIntake,
    "fits": catalogue_files.FitsIntake,
    "opening_stock": stock_files.OpeningStockIntake,
    "orders": order_files.OrdersIntake,
    "visits": stock_files.VisitsIntake,
}


@dataclass(frozen=True, slots=True)
class Rejected:
    """A row that was not taken in, as it was written, and what is wrong with it."""

    row: int
    cells: tuple[str, ...]
    faults: tuple[RowError, ...]


@dataclass(frozen=True, slots=True)
class Imported:
    """What a file brought: rows read, entries added and changed, rows rejected; ``dry_run``: nothing was kept.

    ``columns`` are those of foreign names, with which of ours they were taken for.
    """

    kind: str
    rows: int
    added: int
    updated: int
    rejected: tuple[Rejected, ...]
    warnings: tuple[str, ...]
    header: tuple[str, ...]
    delimiter: str
    dry_run: bool
    columns: tuple[NamedColumn, ...] = ()


class _OnlyTried(Exception):
    """No error: it ends a trial run so that the unit of work is rolled back."""

    def __init__(self, result: Imported) -> None:
        super().__init__()
        self.result = result


def import_file(
    practice: Practice,
    kind: str,
    data: bytes,
    *,
    by: str,
    partial: bool = False,
    dry_run: bool = False,
    update: bool = False,
    columns: Mapping[str, str] = MappingProxyType({}),
) -> Imported:
    """Take in a file, text or spreadsheet.

    Args:
        practice: the practice at work.
        kind: one of `KINDS`.
        data: the file's content.
        by: initials.
        partial: take in the right rows and give the others back.
        dry_run: check and count everything, keep nothing.
        update: rows may change what is known already.
        columns: which of our columns those of foreign names are, ``-`` for none; remembered for such files.

    Returns:
        What was taken in, and what was rejected (only with ``partial``).

    Raises:
        NotFound: no such kind of file, or unknown initials.
        BadInput: not a file of rows and cells.
        RowErrors: all faults, each with its row and column; nothing was taken in.
        NotAllowed: the rows together break a rule, e.g. no store room would be left; nothing was taken in.
    """
    try:
        with practice.writing() as desk:
            result = _take_in(desk, kind, data, by=by, partial=partial, update=update, dry_run=dry_run, columns=columns)
            return _end_trial(result) if dry_run else result
    except _OnlyTried as tried:
        return tried.result


def import_together(practice: Practice, sheets: Sequence[tuple[str, bytes]], *, by: str) -> tuple[Imported, ...]:
    """Take in several files (kind and content) one after the other, all of them or none; raises as `import_file`."""
    with practice.writing() as desk:
        return tuple(_take_in(desk, kind, data, by=by) for kind, data in sheets)


def _end_trial(result: Imported) -> NoReturn:
    raise _OnlyTried(result)


def _take_in(
    desk: Desk,
    kind_name: str,
    data: bytes,
    *,
    by: str,
    partial: bool = False,
    update: bool = False,
    dry_run: bool = False,
    columns: Mapping[str, str] = MappingProxyType({}),
) -> Imported:
    kind = file_kind(kind_name)
    person_id = desk.person(by)
    order = DateOrder.DAY_FIRST if desk.settings["day_first"] else DateOrder.MONTH_FIRST
    intake = _INTAKES[kind.name](desk, person_id, update=update)
    table = read_table(data, kind.names, kind.needed)
    header = [cell for cell in table.header if fold(cell) != FAULT]
    before = remembered(desk, kind.name, header, kind.names)
    for name in columns:
        before.pop(fold(name), None)
    sheet = read_sheet(table, kind.names, kind.needed, desk.today, order, said={**before, **columns})
    intake.prepare(sheet.rows)
    for row in sheet.rows:
        for column in kind.needed:
            if not row.text(column):
                row.fault(column, "it is empty")
        intake.read(row)
    if partial:
        intake.keep_together(sheet.rows)
    theirs = {one.ours: f"{one.theirs} ({one.ours})" for one in sheet.foreign}
    for row in sheet.rows:
        row.faults = [replace(fault, column=theirs.get(fault.column, fault.column)) for fault in row.faults]
    wrong = [row for row in sheet.rows if row.faults]
    if wrong and not partial:
        faults = tuple(fault for row in wrong for fault in row.faults)
        raise RowErrors(faults, "Nothing was taken in. Correct the file, or take in the right rows only.")
    intake.save()
    if columns:
        remember(desk, person_id, kind.name, header, sheet.foreign)
    return Imported(
        kind=kind.name, rows=len(sheet.rows), added=intake.added, updated=intake.updated,
        rejected=tuple(_rejected(row) for row in wrong), warnings=tuple(intake.warnings), header=sheet.header,
        delimiter=sheet.delimiter, dry_run=dry_run, columns=sheet.foreign,
    )  # fmt: skip


def _rejected(row: Row) -> Rejected:
    return Rejected(row.number, row.raw, tuple(row.faults))


def rejected_csv(result: Imported) -> str:
    """The rejected rows as a file like the one they came from, with what is wrong in a further column.

    Corrected, it can be imported as it is: the further column is left out when it is read. No spreadsheet takes any of
    it for a formula (`inventory.domain.cells`).
    """
    written = io.StringIO()
    writer = csv.writer(written, delimiter=result.delimiter)  # ends lines with both signs, so that either is quoted
    writer.writerow([*result.header, FAULT])
    width = len(result.header)
    for rejected in result.rejected:
        faults = "; ".join(_said(fault) for fault in rejected.faults)
        cells = [marked(cell) for cell in (*rejected.cells[:width], faults, *rejected.cells[width:])]
        writer.writerow(cells)
    return written.getvalue()


def _said(fault: RowError) -> str:
    return f"{fault.column}: {fault.message}" if fault.column else fault.message

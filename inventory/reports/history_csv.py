"""The audit trail as CSV: one line for each movement under its document, or one for each field that was changed.

Text that people typed can't be taken for a formula by a spreadsheet; amounts are plain numbers in the unit beside them.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from inventory.domain.cells import harmless
from inventory.domain.quantity import PER_SIGN, SIGNS
from inventory.domain.vocabulary import BaseUnit

HEAD = (
    "entry", "kind", "happened_on", "recorded_at", "by", "reason", "proof", "undoes", "undone_by", "visit", "case",
    "line", "item", "name", "lot", "place", "opened_on", "movement", "amount", "unit", "arch", "step", "attempt",
    "lot_confirmed", "although",
)  # fmt: skip
CHANGES_HEAD = ("change", "at", "by", "subject", "name", "field", "old", "new", "reason")


@dataclass(frozen=True, slots=True)
class Row:
    """One movement with its document; ``qty`` signed in base units."""

    document: Sequence[str | int | date | datetime | None]
    line: int
    item_code: str
    item_name: str
    lot: str
    place: str
    opened_on: date | None
    movement: str
    qty: int
    base: BaseUnit
    arch: str | None
    step: str | None
    attempt: int | None
    lot_confirmed: bool
    although: str | None


def as_csv(rows: Iterable[Row]) -> str:
    """Movements as CSV, a head of names first."""
    return _written(HEAD, ((*row.document, *_movement(row)) for row in rows))


def _movement(row: Row) -> tuple[str | int | date | None, ...]:
    return (
        row.line, row.item_code, row.item_name, row.lot, row.place, row.opened_on, row.movement,
        Amount(amount(row.qty, row.base)), SIGNS[row.base], row.arch, row.step, row.attempt,
        "yes" if row.lot_confirmed else "no", row.although,
    )  # fmt: skip


class Amount(str):
    """A number of ours: it may begin with a minus sign."""

    __slots__ = ()


def amount(qty: int, base: BaseUnit) -> str:
    """An amount as a plain number with a decimal point: ``-12.5``."""
    per = PER_SIGN[base]
    whole, rest = divmod(abs(qty), per)
    sign = "-" if qty < 0 else ""
    return f"{sign}{whole}" if not rest else f"{sign}{whole}.{rest:0{len(str(per)) - 1}d}".rstrip("0")


def changes_csv(rows: Iterable[Sequence[str | int | date | datetime | None]]) -> str:
    """Changes as CSV, a head of names first."""
    return _written(CHANGES_HEAD, rows)


def _written(head: Sequence[str], rows: Iterable[Sequence[str | int | date | datetime | None]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(head)
    for row in rows:
        writer.writerow([_cell(cell) for cell in row])
    return out.getvalue()


def _cell(cell: str | int | date | datetime | None) -> str | int:
    if cell is None:
        return ""
    if isinstance(cell, date):  # a moment is a date, too
        return cell.isoformat()
    return cell if isinstance(cell, int | Amount) else harmless(cell)

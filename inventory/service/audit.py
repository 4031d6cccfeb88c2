"""The audit trail as files: documents with their movements, or what was changed, as CSV for a spreadsheet."""

from collections.abc import Iterable, Iterator

from inventory.reports import history_csv
from inventory.reports.history_csv import Row
from inventory.service.changes import ChangeEntry
from inventory.service.tracing import Entry


def documents_csv(entries: Iterable[Entry]) -> str:
    """Documents, one line for each movement."""
    return history_csv.as_csv(row for entry in entries for row in _rows(entry))


def changes_csv(changes: Iterable[ChangeEntry]) -> str:
    """Changes, one line for each field."""
    return history_csv.changes_csv(
        (one.change_id, one.at, one.by, one.subject, one.name, one.field, one.old, one.new, one.reason)
        for one in changes
    )


def _rows(entry: Entry) -> Iterator[Row]:
    document = entry.document
    head = (
        document.document_id, document.kind.value, document.happened_on, document.recorded_at, document.by,
        document.reason, document.proof, document.reverses_id, document.reversed_by_id, document.visit_id,
        document.case_ref,
    )  # fmt: skip
    for one in entry.lines:
        line = one.line
        yield Row(
            head, line.line, line.item_code, line.item_name, line.lot_number, line.place, line.opened_on,
            line.kind.value, line.qty, line.base, line.arch, line.step, line.attempt, line.lot_confirmed,
            line.late_reason,
        )  # fmt: skip

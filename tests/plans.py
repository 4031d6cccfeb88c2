"""How SQLite finds what a query asks for: every statement that some work sends, explained."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import event

from inventory.store.engine import Store

GROWS = {
    "document", "movement", "holding", "lot", "visit", "visit_use", "change", "hold", "delivery_line", "purchase",
    "purchase_line",
}  # fmt: skip


def scans(store: Store, work: Callable[[], Any]) -> tuple[int, list[str]]:
    """Count the statements that the work sends, and give those steps that read a growing table from end to end."""
    with _listening(store) as sent:
        work()
    steps = [step for statement, parameters in sent for step in _plan(store, statement, parameters)]
    return len(sent), [step for step in steps if _table(step) in GROWS]


def _table(step: str) -> str:
    """The table of a SCAN, its alias's number cut off; nothing for any other step.

    An index of what is still there (filled holdings, open holds) does not grow with age and may be read whole.
    """
    words = step.split()
    of_the_present = words[-1] in ("ix_holding_filled", "ix_hold_open")
    return words[1].rstrip("_0123456789") if words[0] == "SCAN" and not of_the_present else ""


@contextmanager
def _listening(store: Store) -> Iterator[list[tuple[str, Any]]]:
    sent: list[tuple[str, Any]] = []

    def listen(_connection: Any, _cursor: Any, statement: str, parameters: Any, _context: Any, _many: Any) -> None:
        if statement.startswith("SELECT"):
            sent.append((statement, parameters))

    event.listen(store._engine, "before_cursor_execute", listen)
    try:
        yield sent
    finally:
        event.remove(store._engine, "before_cursor_execute", listen)


def _plan(store: Store, statement: str, parameters: Any) -> list[str]:
    with store._engine.connect() as connection:
        return [row[-1] for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters)]

"""What may never be changed or deleted, the database itself refuses, on both stores alike."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import inspect, text

from inventory.errors import NotAllowed
from inventory.store import guards
from inventory.store.engine import Store, open_store
from tests.full_book import full_book
from tests.shelves import Shelves
from tests.stores import NewStores

ALL = (*guards.APPEND_ONLY, *guards.NEVER_DELETED)


def run(store: Store, statement: str) -> None:
    with store.writing() as session:
        session.execute(text(statement))


@pytest.fixture
def full(new_stores: NewStores) -> Iterator[Store]:
    """Give a store with at least one row in every guarded table."""
    with closing(open_store(new_stores.make_from("full", full_book))) as store:
        yield store


def rows(store: Store, table: str) -> list[tuple[object, ...]]:
    with store.reading() as session:
        return [tuple(row) for row in session.execute(text(f'SELECT * FROM "{table}" ORDER BY 1'))]  # noqa: S608


@pytest.mark.parametrize("table", ALL)
def test_no_row_of_the_record_is_ever_deleted(full: Store, table: str) -> None:
    before = rows(full, table)
    assert before
    number = "notice_id" if table == "notice_case" else "id"
    with pytest.raises(NotAllowed, match=f"{table} keeps every row"):
        run(full, f'DELETE FROM "{table}" WHERE {number} = (SELECT max({number}) FROM "{table}")')  # noqa: S608
    assert rows(full, table) == before


@pytest.mark.parametrize("table", guards.APPEND_ONLY)
def test_what_was_written_into_the_ledger_is_never_changed(full: Store, table: str) -> None:
    with full.reading() as session:
        columns = [column["name"] for column in inspect(session.connection()).get_columns(table)]
    before = rows(full, table)
    for column in columns:  # each of them, also to the value that it has
        with pytest.raises(NotAllowed, match=f"{table} is append-only"):
            run(full, f'UPDATE "{table}" SET "{column}" = "{column}"')  # noqa: S608
    assert rows(full, table) == before


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("holding", "lot_id", "lot_id + 1"),
        ("holding", "place_id", "place_id + 1"),
        ("holding", "opened_on", "'2026-03-01'"),
        ("lot", "item_id", "item_id + 1"),
        ("lot", "unit_qty", "unit_qty + 1"),
        ("notice", "reference", "'FSN 2'"),
        ("notice_scope", "lot_from", "'L1'"),
        ("shipment", "visit_id", "visit_id + 1"),
        ("purchase", "number", "'O-2'"),
        ("purchase", "supplier_id", "supplier_id + 1"),
        ("purchase_line", "purchase_id", "purchase_id + 1"),
        ("purchase_line", "supply_id", "supply_id + 1"),
    ],
)
def test_what_a_holding_or_a_lot_is_never_changes(full: Store, table: str, column: str, value: str) -> None:
    before = rows(full, table)
    with pytest.raises(NotAllowed, match=f"what a {table} is never changes"):
        run(full, f"UPDATE {table} SET {column} = {value}")  # noqa: S608
    assert rows(full, table) == before


def test_an_opened_unit_is_never_sealed_again(full: Store) -> None:
    with pytest.raises(NotAllowed, match="what a holding is"):
        run(full, "UPDATE holding SET opened_on = NULL WHERE opened_on IS NOT NULL")


def test_a_lots_number_and_date_may_be_put_right(full: Store) -> None:
    run(full, "UPDATE lot SET number = 'B-1', use_by = '2027-01-31', use_by_read = 'month'")
    assert rows(full, "lot")[0][2] == "B-1"


@pytest.mark.parametrize("table", ALL)
def test_a_table_is_never_emptied(full: Store, table: str) -> None:
    """TRUNCATE is PostgreSQL's; SQLite takes a short way for a DELETE of everything, which triggers must close."""
    statement = f'TRUNCATE "{table}" CASCADE' if full.dialect == "postgresql" else f'DELETE FROM "{table}"'  # noqa: S608
    with pytest.raises(NotAllowed, match="keeps every row"):
        run(full, statement)
    assert rows(full, table)


COLUMNS = "id, document_id, line, holding_id, item_id, kind, qty, lot_confirmed"
AGAIN = "SELECT id, document_id, line, holding_id, item_id, kind, qty + 5000, lot_confirmed FROM movement"


@pytest.mark.parametrize("way", ["INSERT OR REPLACE", "REPLACE", "UPDATE OR REPLACE"])
def test_sqlites_ways_around_a_guard_are_closed(tmp_path: Path, way: str) -> None:
    with closing(open_store(str(tmp_path / "practice.db"))) as store:
        Shelves(store).lot(2)
        before = rows(store, "movement")
        update = "UPDATE OR REPLACE movement SET qty = 1"
        with pytest.raises(NotAllowed):
            run(store, update if way.startswith("UPDATE") else f"{way} INTO movement ({COLUMNS}) {AGAIN}")
        assert rows(store, "movement") == before


def test_an_insert_that_turns_into_an_update_is_refused(store: Store) -> None:
    Shelves(store).lot(2)
    before = rows(store, "movement")
    with pytest.raises(NotAllowed):
        run(store, f"INSERT INTO movement ({COLUMNS}) {AGAIN} WHERE true ON CONFLICT (id) DO UPDATE SET qty = 1")
    assert rows(store, "movement") == before


def test_a_sqlite_shell_without_our_settings_meets_the_guards_too(tmp_path: Path) -> None:
    with closing(open_store(str(tmp_path / "practice.db"))) as store:
        Shelves(store).lot(2)
    with closing(sqlite3.connect(tmp_path / "practice.db")) as shell:
        for statement in ("DELETE FROM movement", "UPDATE document SET reason = 'x'", "DELETE FROM lot"):
            with pytest.raises(sqlite3.IntegrityError):
                shell.execute(statement)


def test_installing_the_guards_again_changes_nothing(store: Store) -> None:
    with store.writing() as session:
        guards.install(session.connection())
        assert guards.missing(session.connection()) == frozenset()
        for name in sorted(guards.names(store.dialect)):
            table = name.removeprefix("guard_").rsplit("_", 1)[0]
            session.execute(text(f"DROP TRIGGER {name}" + (f' ON "{table}"' if store.dialect == "postgresql" else "")))
        assert guards.missing(session.connection()) == guards.names(store.dialect)
        guards.install(session.connection())
        assert guards.missing(session.connection()) == frozenset()


def test_guards_stand_on_tables_that_exist(store: Store) -> None:
    with store.reading() as session:
        tables = set(inspect(session.connection()).get_table_names())
    assert set(ALL) <= tables
    assert not set(guards.APPEND_ONLY) & set(guards.NEVER_DELETED)

"""A practice of an earlier version opens in this one with all it had; stopped halfway, it is as it was.

A store of an earlier version is made by that version's migrations, and holds what of a full book it had tables and
columns for.
"""

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from sqlalchemy import column, create_engine, insert, inspect, select, table, text

from inventory.errors import NotAllowed
from inventory.service import restoring
from inventory.service.clock import Clock
from inventory.service.practice import Practice
from inventory.service.verifying import verify
from inventory.store import copying, guards, schema
from inventory.store.engine import Session, Store, open_store
from tests.full_book import full_book
from tests.several import at_once
from tests.stores import NewStores, SqliteFiles

EARLIER = schema.VERSIONS[:-1]
CAME_WITH = {
    "0002": {"purchase", "purchase_line"},
    "0003": {"count_line", "notice_case", "notice_scope", "shipment"},
}
"""Guarded tables by the version that brought them."""
Rows = dict[str, list[tuple[Any, ...]]]


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path) -> str:
    """Give the address of a book with something in every table."""
    return SqliteFiles(tmp_path_factory.mktemp("full"), sqlite_template).make_from("full", full_book)


@dataclass(frozen=True)
class Earlier:
    """A store of an earlier version: where it is, which columns it had, and what it holds in them."""

    url: str
    version: str
    columns: dict[str, list[str]]
    rows: Rows


MakeEarlier = Callable[[str], Earlier]


@pytest.fixture
def earlier(new_stores: NewStores, full: str) -> MakeEarlier:
    return lambda version: make_earlier(new_stores.make_empty(), version, full)


def make_earlier(url: str, version: str, full: str) -> Earlier:
    with the_program_of(version), closing(open_store(url)) as store, closing(open_store(full)) as source:
        with store.reading() as session:
            columns = columns_of(session)
        with source.reading() as old, store.writing() as new:
            for part in tables_in(columns):
                known = table(part.name, *(column(name, part.c[name].type) for name in columns[part.name]))
                new.execute(insert(known), list(only(columns[part.name], old, part)))
        rows = rows_of(store, columns)
    assert all(rows.values()), "a table of the earlier version is empty"
    return Earlier(url, version, columns, rows)


@contextmanager
def the_program_of(version: str) -> Iterator[None]:
    """Migrate no further than that version, and guard what it had."""
    later = {name for came, names in CAME_WITH.items() if came > version for name in names}
    with (
        patch.object(schema, "HEAD", version),
        patch.object(guards, "APPEND_ONLY", tuple(name for name in guards.APPEND_ONLY if name not in later)),
        patch.object(guards, "NEVER_DELETED", tuple(name for name in guards.NEVER_DELETED if name not in later)),
        patch.object(guards, "FROZEN", {name: of for name, of in guards.FROZEN.items() if name not in later}),
    ):
        yield


def columns_of(session: Session) -> dict[str, list[str]]:
    inspector = inspect(session.connection())
    names = set(inspector.get_table_names()) - {"alembic_version", "revision"}
    return {name: [one["name"] for one in inspector.get_columns(name)] for name in names}


def tables_in(columns: dict[str, list[str]]) -> list[copying.Table]:
    return [one for one in copying.tables() if one.name in columns]


def only(columns: list[str], session: Session, part: copying.Table) -> Iterator[dict[str, Any]]:
    for row in copying.rows_of(session, part):
        yield {name: row[name] for name in columns}


def rows_of(store: Store, columns: dict[str, list[str]]) -> Rows:
    """What the tables hold in these columns, through today's types, in a fixed order."""
    with store.reading() as session:
        return {
            part.name: sorted(
                (tuple(row) for row in session.execute(select(*(part.c[name] for name in columns[part.name])))),
                key=repr,
            )
            for part in tables_in(columns)
        }


def version_at(url: str) -> str | None:
    engine = create_engine(url)
    try:
        with engine.connect() as connection:
            return schema.stored_version(connection)
    finally:
        engine.dispose()


def run(store: Store, statement: str) -> None:
    with store.writing() as session:
        session.execute(text(statement))


@pytest.mark.parametrize("version", schema.VERSIONS)
def test_a_practice_of_any_version_opens_with_all_it_had_guarded_and_sound(earlier: MakeEarlier, version: str) -> None:
    made = earlier(version)
    with closing(open_store(made.url)) as store:
        assert rows_of(store, made.columns) == made.rows
        with store.reading() as session:
            assert set(columns_of(session)) == {part.name for part in copying.tables()}
            assert guards.missing(session.connection()) == frozenset()
        assert verify(Practice(store, Clock())).findings == ()
        for name in guards.APPEND_ONLY:
            if made.rows.get(name):
                with pytest.raises(NotAllowed):
                    run(store, f'DELETE FROM "{name}"')  # noqa: S608
        run(store, "UPDATE delivery_line SET units = 0, damaged_units = 1")  # damaged as a whole: since the second
        with pytest.raises(NotAllowed):
            run(store, "UPDATE delivery_line SET damaged_units = 0")
    later = {name for came, names in CAME_WITH.items() if came > version for name in names}
    assert {*guards.APPEND_ONLY, *guards.NEVER_DELETED} - set(made.columns) == later
    assert version_at(made.url) == schema.HEAD


def stop_in_the_middle(_connection: object) -> None:
    raise KeyboardInterrupt


@pytest.mark.parametrize("version", EARLIER)
def test_a_migration_that_is_stopped_leaves_the_earlier_version_as_it_was(earlier: MakeEarlier, version: str) -> None:
    made = earlier(version)
    with patch.object(guards, "install", stop_in_the_middle), pytest.raises(KeyboardInterrupt):
        open_store(made.url)
    assert version_at(made.url) == version
    with the_program_of(version), closing(open_store(made.url)) as store:  # the earlier program still works with it
        assert rows_of(store, made.columns) == made.rows
        run(store, "INSERT INTO setting (key, value) VALUES ('still', '1')")
    open_store(made.url).close()
    assert version_at(made.url) == schema.HEAD


def die_in_the_middle(url: str) -> None:
    with patch.object(guards, "install", lambda _: os.kill(os.getpid(), signal.SIGKILL)):
        open_store(url)


def test_a_program_that_is_killed_while_it_migrates_leaves_the_earlier_version_as_it_was(earlier: MakeEarlier) -> None:
    made = earlier(EARLIER[0])
    program = get_context("forkserver").Process(target=die_in_the_middle, args=(made.url,))
    program.start()
    program.join(60)
    assert program.exitcode == -signal.SIGKILL
    assert version_at(made.url) == EARLIER[0]
    with closing(open_store(made.url)) as store:
        assert rows_of(store, made.columns) == made.rows


def open_and_post(url: str, number: int) -> None:
    with closing(open_store(url)) as store, store.writing() as session:
        session.execute(
            insert(table("setting", column("key"), column("value"))).values(key=f"at once {number}", value="1")
        )


def test_programs_that_migrate_at_once_do_it_once_and_all_go_on(earlier: MakeEarlier) -> None:
    made = earlier(EARLIER[0])
    at_once(open_and_post, [(made.url, number) for number in range(3)])
    with closing(open_store(made.url)) as store:
        found = rows_of(store, made.columns)
        assert len(found.pop("setting")) == len(made.rows["setting"]) + 3
        assert found == {name: rows for name, rows in made.rows.items() if name != "setting"}


def test_a_backup_of_an_earlier_version_is_brought_up_to_date_and_not_touched(tmp_path: Path, full: str) -> None:
    made = make_earlier(f"sqlite:///{tmp_path}/backup.db", "0001", full)
    before = (tmp_path / "backup.db").read_bytes()
    restoring.restore(tmp_path / "backup.db", str(tmp_path / "practice.db"))
    with closing(open_store(str(tmp_path / "practice.db"))) as store:
        assert rows_of(store, made.columns) == made.rows
    assert (tmp_path / "backup.db").read_bytes() == before

"""Whatever the database answers, the person reads what is wrong and what to do, never a traceback."""

import sqlite3
from contextlib import closing, suppress
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError, OperationalError

from inventory.errors import BadInput, Conflict, NotAllowed, PracticeError, StoreError, StoreUnreachable, WrongStore
from inventory.service import moving, tracing
from inventory.service.moving import Part
from inventory.service.tracing import Filter
from inventory.store import engine
from inventory.store.engine import Store, in_words, open_store
from tests.shelves import Shelves


@pytest.fixture
def shelves(store: Store) -> Shelves:
    return Shelves(store)


@pytest.mark.parametrize("number", [2**31, 2**63, -(2**63) - 1, 10**40])
def test_a_number_beyond_what_can_be_kept_finds_nothing_or_is_bad_input(shelves: Shelves, number: int) -> None:
    stack = shelves.sealed(shelves.lot(1))
    with pytest.raises(BadInput):
        moving.transfer(shelves.practice, [Part(number)], "Chair 1", shelves.slip())
    with pytest.raises(BadInput):
        tracing.lot_uses(shelves.practice, number)
    with pytest.raises(PracticeError):
        moving.correct_count(shelves.practice, stack, number, shelves.slip(reason="count"), book_said=1)
    with pytest.raises(BadInput):
        moving.correct_count(shelves.practice, stack, number * 5_000 * 2**33, shelves.slip(reason="count"))
    assert shelves.on_hand(stack) == 5_000


@pytest.mark.parametrize("typed", ["\udcff", "a\x00b", "x" * 10_000, "'; DROP TABLE lot; --", "%", "[b]", "名前"])
def test_whatever_is_looked_for_nobody_meets_a_traceback(shelves: Shelves, typed: str) -> None:
    shelves.lot(1)
    for look in (
        lambda: tracing.case_lots(shelves.practice, typed),
        lambda: tracing.history(shelves.practice, Filter(case_ref=typed)),
        lambda: tracing.history(shelves.practice, Filter(), person=typed),
    ):
        with suppress(BadInput):
            assert look() == ()


def test_a_text_longer_than_its_column_is_bad_input_where_the_store_minds(store: Store) -> None:
    if store.dialect == "postgresql":
        with pytest.raises(BadInput), store.writing() as session:
            session.execute(text("INSERT INTO setting (key, value) VALUES (:key, '1')"), {"key": "k" * 41})


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("database is locked", StoreUnreachable),
        ("database or disk is full", StoreUnreachable),
        ("attempt to write a readonly database", StoreUnreachable),
        ("disk I/O error", StoreUnreachable),
        ("unable to open database file", StoreUnreachable),
        ("canceling statement due to lock timeout", StoreUnreachable),
        ("server closed the connection unexpectedly", StoreUnreachable),
        ("password authentication failed for user", StoreUnreachable),
        ("file is not a database", WrongStore),
        ("database disk image is malformed", WrongStore),
        ("no such table: lot", WrongStore),
        ('database "x" does not exist', WrongStore),
        ("deadlock detected", Conflict),
        ("something nobody has heard of", StoreError),
    ],
)
def test_what_the_database_says_becomes_an_error_to_act_on(said: str, kind: type[PracticeError]) -> None:
    with pytest.raises(kind) as caught, in_words():
        raise OperationalError("SELECT 1", {}, sqlite3.OperationalError(said))
    assert type(caught.value) is kind
    assert caught.value.todo


def test_a_rule_of_the_database_that_is_broken_is_not_allowed() -> None:
    with pytest.raises(NotAllowed), in_words():
        raise DBAPIError.instance("INSERT", {}, psycopg.errors.UniqueViolation("duplicate key"), psycopg.Error)


def test_an_error_of_our_own_passes_as_it_is() -> None:
    with pytest.raises(KeyError), in_words():
        raise KeyError("a fault of the program stays visible as one")


def test_a_writer_who_waits_too_long_is_told_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine, "BUSY_MS", 50)
    path = tmp_path / "practice.db"
    with closing(open_store(str(path))) as store, closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreUnreachable, match="busy"):
            Shelves(store)


def empty_settings_read_only(store: Store) -> None:
    with store.writing() as session:
        session.execute(text("PRAGMA query_only = ON"))
        session.execute(text("DELETE FROM setting"))


def test_a_store_that_may_only_be_read_says_so(tmp_path: Path) -> None:
    """As root every file may be written, so SQLite's own switch plays the file system's part."""
    with closing(open_store(str(tmp_path / "practice.db"))) as store, pytest.raises(StoreUnreachable, match="only be"):
        empty_settings_read_only(store)

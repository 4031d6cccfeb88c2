"""Full disks, files that may only be read, servers that vanish and come back, clocks set back: nothing is lost."""

import os
import resource
import signal
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import make_url, text

from inventory.domain.ledger import Draft, Entry, Posting, Sealed
from inventory.domain.vocabulary import DocumentKind, MovementKind
from inventory.errors import StoreUnreachable, WrongStore
from inventory.service import backup, clock_check, correcting, exporting, moving, today, tracing
from inventory.service.clock import Clock
from inventory.service.moving import Part
from inventory.service.practice import Practice
from inventory.service.tracing import Filter
from inventory.service.verifying import verify
from inventory.store.engine import Session, Store, open_store
from inventory.store.ledger import Posted, post
from tests.full_book import full_book
from tests.postgres import Postgres, start, stop
from tests.several import at_once
from tests.shelves import Shelves
from tests.stores import NewStores, SqliteFiles, fill, make_tables

NOBODY = 65_534  # a user who owns nothing


def receipt(shelves: Shelves, lot: int, key: str, then: Callable[[Session], object] = lambda _: None) -> Posted:
    """Receive a unit of a lot under a key; ``then`` happens before it is committed."""
    draft = Draft(
        DocumentKind.RECEIPT, (Entry(Sealed(lot, shelves.places["Store room"]), MovementKind.RECEIPT, 5_000),)
    )
    with shelves.practice.writing() as desk:
        posting = Posting(key, "h", shelves.person_id, desk.now, desk.now, desk.today, (draft,))
        posted = post(desk.session, posting)
        then(desk.session)
        return posted


# The disk


def limit(store: Store, pages: str) -> None:
    """Let the file grow to so many pages and no further, as a full disk would."""
    with store._engine.connect() as connection:
        connection.execute(text(f"PRAGMA max_page_count = {pages}"))


def test_a_full_disk_is_said_so_and_what_was_confirmed_is_there(tmp_path: Path) -> None:
    with closing(open_store(str(tmp_path / "practice.db"))) as store:
        shelves = Shelves(store)
        lot = shelves.lot(1)
        with store.reading() as session:
            pages = session.execute(text("PRAGMA page_count")).scalar_one()
        limit(store, str(pages + 1))
        confirmed = until_full(shelves, lot)
        assert shelves.on_hand(shelves.sealed(lot)) == 5_000 * (1 + confirmed)
        assert verify(shelves.practice).clean
        limit(store, "1073741823")
        assert not receipt(shelves, lot, f"r{confirmed}").again  # what failed is posted now, once
        assert receipt(shelves, lot, f"r{confirmed}").again
        assert shelves.on_hand(shelves.sealed(lot)) == 5_000 * (2 + confirmed)


def until_full(shelves: Shelves, lot: int) -> int:
    """Receive until the disk is full; returns how many were confirmed."""
    for number in range(1_000):
        try:
            receipt(shelves, lot, f"r{number}")
        except StoreUnreachable as error:
            if "disk is full" in error.message and error.todo:
                return number
            raise
    raise AssertionError("the disk never filled up")


def small_files(address: str, folder: str) -> list[str]:
    """Back up and export where no file may grow beyond 20 kB; returns what was said."""
    said = []
    with closing(open_store(address)) as store:
        practice = Practice(store, Clock())
        verify(practice)
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, resource.RLIM_INFINITY))
        for deed in (
            lambda: backup.back_up(practice, Path(folder)),
            lambda: exporting.export(practice, Path(folder) / "all.json"),
            lambda: exporting.export(practice, Path(folder) / "all.zip"),
            lambda: exporting.export(practice, Path(folder) / "all"),
        ):
            try:
                deed()
            except StoreUnreachable as error:
                said.append(str(error))
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    return said


def test_a_backup_or_an_export_that_finds_no_room_leaves_nothing_and_takes_nothing(
    tmp_path: Path, sqlite_template: Path
) -> None:
    address = SqliteFiles(tmp_path, sqlite_template).make_from("full", full_book)
    folder = tmp_path / "backups"
    with closing(open_store(address)) as store:
        practice = Practice(store, Clock())
        before = backup.back_up(practice, folder, keep=1).path
        for number in range(200):  # so that every form of it has more than there is room for
            with practice.writing() as desk:
                desk.log_change(1, "lot", number, {"note": (None, os.urandom(200).hex())})
    said = at_once(small_files, [(address, str(folder))])[0]
    assert len(said) == 4
    assert not [words for words in said if "can't be written" not in words and "disk" not in words]
    assert [path.name for path in folder.iterdir()] == [before.name]


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """Give a folder that everybody may enter, as pytest's own may not be."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        yield Path(folder)


def as_nobody(address: str, create: bool) -> list[str]:
    """Look and post as a user who may write neither the file nor its folder; returns what was said."""
    if os.geteuid() == 0:  # root may write everything
        os.seteuid(NOBODY)
    said = []
    for deed in (lambda store: verify(Practice(store, Clock())), write_something):
        try:
            with closing(open_store(address, create=create)) as store:
                deed(store)
        except StoreUnreachable as error:
            said.append(str(error))
    return said


def write_something(store: Store) -> None:
    with store.writing() as session:
        session.execute(text("INSERT INTO setting (key, value) VALUES ('a', '1')"))


def test_a_file_that_may_only_be_read_is_said_so_and_stays_as_it_is(open_folder: Path) -> None:
    path = open_folder / "practice.db"
    make_tables(str(path))
    before = path.read_bytes()
    path.chmod(0o444)
    open_folder.chmod(0o555)
    said = at_once(as_nobody, [(str(path), False)])[0]
    assert said
    assert not [words for words in said if "only be read" not in words and "can't be opened" not in words]
    assert all("permission" in words for words in said)
    assert path.read_bytes() == before


def test_a_file_that_others_may_not_even_read_is_said_so(open_folder: Path) -> None:
    make_tables(str(open_folder / "practice.db"))
    (open_folder / "practice.db").chmod(0)
    said = at_once(as_nobody, [(str(open_folder / "practice.db"), False)])[0]
    assert len(said) == 2
    assert at_once(as_nobody, [(str(open_folder / "new.db"), True)])[0]
    assert not (open_folder / "new.db").exists()


def test_a_page_that_went_bad_is_found_and_said_and_a_backup_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "practice.db"
    fill(str(path), full_book)
    with closing(sqlite3.connect(path)) as raw:
        root = raw.execute("SELECT rootpage FROM sqlite_master WHERE name = 'movement'").fetchone()[0]
        size = raw.execute("PRAGMA page_size").fetchone()[0]
    with path.open("rb+") as file:
        file.seek((root - 1) * size)
        file.write(b"\xff" * size)
    with closing(open_store(str(path))) as store:
        practice = Practice(store, Clock())
        with pytest.raises(WrongStore, match="damaged"):
            backup.back_up(practice, tmp_path / "backups")
        with pytest.raises(WrongStore, match="damaged"):
            verify(practice)
    assert list((tmp_path / "backups").iterdir()) == []


# The server


@dataclass(frozen=True)
class Own:
    """A server of the test's own, that may be stopped and started."""

    folder: Path
    url: str

    def again(self) -> None:
        assert start(self.folder) == self.url


@contextmanager
def own_server() -> Iterator[Own]:
    with tempfile.TemporaryDirectory(prefix="impression-stock-tests-") as name:
        folder = Path(name)
        try:
            yield Own(folder, start(folder))
        finally:
            stop(folder)


def test_a_server_that_is_killed_in_the_middle_of_a_posting_and_comes_back_has_all_that_was_confirmed(
    postgres: Postgres,
) -> None:
    with own_server() as server, closing(open_store(server.url)) as store:
        shelves = Shelves(store)
        lot = shelves.lot(1)
        receipt(shelves, lot, "confirmed")
        with pytest.raises(StoreUnreachable, match="server") as caught:
            receipt(shelves, lot, "lost", then=lambda _: stop(server.folder))
        assert "Nothing was changed" in caught.value.todo
        with pytest.raises(StoreUnreachable, match="server"):  # it is still gone
            verify(shelves.practice)
        server.again()
        assert verify(shelves.practice).clean  # by the very same program
        assert shelves.on_hand(shelves.sealed(lot)) == 10_000
        assert receipt(shelves, lot, "confirmed").again
        assert not receipt(shelves, lot, "lost").again
        assert shelves.on_hand(shelves.sealed(lot)) == 15_000


def end_connections(store: Store) -> None:
    """End every connection to the store's database, as a network that fails does."""
    url = store._engine.url.set(drivername="postgresql")
    with psycopg.connect(url.render_as_string(hide_password=False), autocommit=True) as other:
        others = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s AND pid <> pg_backend_pid()"
        other.execute(others, [make_url(str(url)).database])


@pytest.mark.parametrize("new_stores", ["postgresql"], indirect=True)
def test_a_connection_that_breaks_in_the_middle_of_a_posting_posts_nothing_and_the_next_try_posts_once(
    new_stores: NewStores,
) -> None:
    with closing(open_store(new_stores.make())) as store:
        shelves = Shelves(store)
        lot = shelves.lot(1)
        with pytest.raises(StoreUnreachable, match="server") as caught:
            receipt(shelves, lot, "r", then=lambda _: end_connections(store))
        assert "Nothing was changed" in caught.value.todo
        end_connections(store)  # while nobody works: the next deed does not even notice
        assert not receipt(shelves, lot, "r").again
        assert shelves.on_hand(shelves.sealed(lot)) == 10_000
        assert verify(shelves.practice).clean


# The clock


def test_with_the_clock_set_back_a_day_postings_go_on_in_their_order_and_the_book_holds(store: Store) -> None:
    shelves = Shelves(store)
    stack = shelves.sealed(shelves.lot(3))
    first = moving.transfer(shelves.practice, [Part(stack, 5_000)], "Chair 1", shelves.slip())
    assert clock_check.caution_of(shelves.practice) == ""
    shelves.hands.now -= timedelta(days=1)
    said = today.desktop(shelves.practice).caution
    assert said.startswith("This computer's clock says 2026-03-01, but the newest entry is of 2026-03-02: check")
    assert clock_check.caution_of(Practice(store, Clock(shelves.hands, shelves.hands.now.date()))) == ""  # on purpose
    second = moving.transfer(shelves.practice, [Part(stack, 5_000)], "Chair 2", shelves.slip())
    assert first.document_id is not None
    correcting.undo(shelves.practice, first.document_id, reason="wrong", by="AB", request_key=shelves.key())
    moving.correct_count(shelves.practice, stack, 5_000, shelves.slip(reason="count"))
    assert shelves.on_hand(stack) == 5_000
    shelves.hands.now += timedelta(days=1)
    moving.discard(shelves.practice, [Part(stack, 5_000)], shelves.slip(reason="r"))
    documents = [entry.document.document_id for entry in tracing.history(shelves.practice, Filter())]
    assert documents == sorted(documents, reverse=True)
    assert second.document_id in documents
    assert verify(shelves.practice).clean

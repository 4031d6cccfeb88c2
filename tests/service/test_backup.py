"""Backups, restores and the move to another store: the whole book, exactly, or nothing."""

import os
import stat
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from unittest.mock import patch

import pytest
from sqlalchemy import text

from inventory.errors import BadInput, Conflict, NeedsConfirmation, NotAllowed, NotFound, StoreUnreachable, WrongStore
from inventory.service import backup, restoring, whole_book
from inventory.service.clock import Clock
from inventory.service.practice import Practice
from inventory.service.verifying import verify
from inventory.store import copying, guards
from inventory.store.copying import Content
from inventory.store.engine import Session, Store, open_store
from tests.full_book import full_book
from tests.shelves import Hands, Shelves
from tests.stores import NewStores, SqliteFiles


@pytest.fixture
def hands() -> Hands:
    return Hands()


@pytest.fixture
def full(new_stores: NewStores, hands: Hands) -> Iterator[Practice]:
    """Give a practice with something in every table."""
    with closing(open_store(new_stores.make_from("full", full_book))) as store:
        yield Practice(store, Clock(hands))


@pytest.fixture
def filed(tmp_path: Path, sqlite_template: Path, hands: Hands) -> Iterator[Practice]:
    """Give the same in a file, for what is the same whichever database it is."""
    (tmp_path / "live").mkdir()
    with closing(open_store(SqliteFiles(tmp_path / "live", sqlite_template).make_from("full", full_book))) as store:
        yield Practice(store, Clock(hands))


def book(store: Store) -> dict[str, Content]:
    with store.reading() as session:
        return copying.contents(session)


def book_at(address: Path | str) -> dict[str, Content]:
    with closing(open_store(str(address), create=False)) as store:
        return book(store)


def change(store: Store, statement: str) -> None:
    with store.writing() as session:
        session.execute(text(statement))


def spoil(store: Store) -> None:
    """Make a balance wrong, as a stranger's hand in the store would."""
    change(store, "UPDATE holding SET on_hand = on_hand + 5000 WHERE opened_on IS NULL")


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


# Backup


def test_a_backup_is_the_same_book_for_its_owner_alone(full: Practice, tmp_path: Path) -> None:
    made = backup.back_up(full, tmp_path / "backups")
    assert all(content.rows for content in book(full.store).values()), "a table of the test's book is empty"
    assert book_at(made.path) == book(full.store)
    assert (made.verified.clean, made.removed, made.rows) == (True, (), sum(c.rows for c in book(full.store).values()))
    assert names(tmp_path / "backups") == [f"{full.store.name}-2026-03-02T09-00-00Z.db"]
    assert stat.S_IMODE(made.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(made.path.parent.stat().st_mode) == 0o700


def test_a_backup_is_what_the_book_was_at_one_moment_while_others_go_on(full: Practice, tmp_path: Path) -> None:
    """Somebody posts between the look at the book and the writing of it."""
    before, really = book(full.store), copying.contents

    def slowly(session: Session) -> dict[str, Content]:
        found = really(session)
        if looks.call_count == 1:
            change(full.store, "INSERT INTO person (initials, role, active) VALUES ('LATE', 'manager', true)")
        return found

    with patch.object(copying, "contents", side_effect=slowly) as looks:
        made = backup.back_up(full, tmp_path)
    assert book_at(made.path) == before != book(full.store)


def test_the_oldest_backups_go_and_others_files_stay(filed: Practice, tmp_path: Path, hands: Hands) -> None:
    name, folder = filed.store.name, tmp_path / "backups"
    folder.mkdir()
    others = ["letter.txt", "other-2020-01-01T00-00-00Z.db", f"{name}.db"]
    for other in others:
        (folder / other).touch()
    for _ in range(3):
        made = backup.back_up(filed, folder, keep=2)
        hands.now += timedelta(days=1)
    assert made.removed == (f"{name}-2026-03-02T09-00-00Z.db",)
    kept = [f"{name}-2026-03-03T09-00-00Z.db", f"{name}-2026-03-04T09-00-00Z.db"]
    assert names(folder) == sorted((*others, *kept))


def test_with_the_clock_set_back_the_new_backup_stays_all_the_same(
    filed: Practice, tmp_path: Path, hands: Hands
) -> None:
    folder = tmp_path / "backups"
    backup.back_up(filed, folder, keep=1)
    hands.now -= timedelta(days=1)
    made = backup.back_up(filed, folder, keep=1)
    again = backup.back_up(filed, folder, keep=2)  # in the same second
    assert names(folder) == sorted((made.path.name, again.path.name))
    assert len(made.removed) == 1


def test_a_practice_with_faults_is_kept_apart_and_no_good_backup_goes(filed: Practice, tmp_path: Path) -> None:
    good = backup.back_up(filed, tmp_path, keep=1)
    spoil(filed.store)
    made = backup.back_up(filed, tmp_path, keep=1)
    assert not made.verified.clean
    assert made.path.stem.endswith("-suspect")
    assert good.path.exists()
    with pytest.raises(WrongStore, match="faults"):
        restoring.restore(made.path, str(tmp_path / "new.db"))
    assert not (tmp_path / "new.db").exists()


def test_a_copy_that_differs_is_no_backup(filed: Practice, tmp_path: Path) -> None:
    looks = [book(filed.store), {**book(filed.store), "lot": Content(1, 1)}]
    with patch.object(copying, "contents", side_effect=looks), pytest.raises(WrongStore, match="not what was read"):
        backup.back_up(filed, tmp_path / "backups")
    assert names(tmp_path / "backups") == []


def test_at_least_one_backup_stays(filed: Practice, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="at least one"):
        backup.back_up(filed, tmp_path, keep=0)


def test_a_folder_that_can_not_be_written_is_said_so(filed: Practice, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    for folder in (tmp_path / "file" / "backups", Path("/proc/backups")):
        with pytest.raises(StoreUnreachable, match="can't be written"):
            backup.back_up(filed, folder)


def test_what_a_stopped_backup_left_goes_after_a_day(filed: Practice, tmp_path: Path, hands: Hands) -> None:
    left, fresh = tmp_path / ".practice-x.db.1.part", tmp_path / ".practice-y.db.2.part-wal"
    for file, age in ((left, 2), (fresh, 0)):
        file.touch()
        at = (hands.now - timedelta(days=age)).timestamp()
        os.utime(file, (at, at))
    backup.back_up(filed, tmp_path)
    assert (left.exists(), fresh.exists()) == (False, True)


# Restore


def test_a_backup_is_restored_on_either_store_and_works_on(
    full: Practice, new_stores: NewStores, tmp_path: Path
) -> None:
    made = backup.back_up(full, tmp_path / "backups")
    address = new_stores.make_empty()
    restored = restoring.restore(made.path, address)
    assert (restored.rows, restored.kept) == (made.rows, None)
    with closing(open_store(address)) as store:
        assert book(store) == book(full.store)
        with store.reading() as session:
            assert guards.missing(session.connection()) == frozenset()
        with pytest.raises(NotAllowed):
            change(store, "DELETE FROM movement")
        works_on(Practice(store, full.clock))


def works_on(practice: Practice) -> None:
    """New rows get numbers of their own, in every table that numbers them."""
    with practice.writing() as desk:
        for table in copying.tables():
            if "id" in table.c:
                last = desk.session.execute(text(f'SELECT max(id) FROM "{table.name}"')).scalar_one()  # noqa: S608
                assert next_number(desk.session, table.name, last) == last + 1, table.name
    assert verify(practice).clean


def next_number(session: Session, table: str, last: int) -> int:
    if session.get_bind().dialect.name == "sqlite":
        return last + 1  # it looks for the largest one itself
    query = text("SELECT nextval(pg_get_serial_sequence(:table, 'id'))")
    return int(session.execute(query, {"table": table}).scalar_one())


def test_a_file_that_is_there_is_kept_beside_only_after_a_yes(filed: Practice, tmp_path: Path) -> None:
    made = backup.back_up(filed, tmp_path)
    place = tmp_path / "there" / "practice.db"
    with closing(open_store(str(place))) as live:
        Shelves(live)
        before = book(live)
    with pytest.raises(NeedsConfirmation, match="stands"):
        restoring.restore(made.path, str(place))
    assert book_at(place) == before
    restored = restoring.restore(made.path, str(place), confirmed=True, clock=filed.clock)
    assert restored.kept == place.with_name("practice-set-aside-2026-03-02T09-00-00Z.db")
    assert book_at(restored.kept) == before
    assert book_at(place) == book(filed.store)
    assert names(place.parent) == ["practice-set-aside-2026-03-02T09-00-00Z.db", "practice.db"]


def test_a_damaged_file_gives_way_and_is_kept_too(filed: Practice, tmp_path: Path) -> None:
    made = backup.back_up(filed, tmp_path)
    place = tmp_path / "live.db"
    place.write_bytes(b"SQLite format 3\0" + b"\xff" * 5000)
    place.with_name("live.db-wal").write_bytes(b"junk")  # it would be taken for the log of the restored one
    kept = restoring.restore(made.path, str(place), confirmed=True).kept
    assert kept is not None
    assert kept.read_bytes().endswith(b"\xff")
    assert kept.with_name(f"{kept.name}-wal").read_bytes() == b"junk"
    assert book_at(place) == book(filed.store)


def test_a_store_that_somebody_works_with_is_not_moved_away(filed: Practice, tmp_path: Path) -> None:
    made = backup.back_up(filed, tmp_path)
    place = tmp_path / "live.db"
    with closing(open_store(str(place))) as live:
        Shelves(live)
        with live.reading() as session:
            session.execute(text("SELECT count(*) FROM person"))
            with pytest.raises(StoreUnreachable, match="Somebody is working"):
                restoring.restore(made.path, str(place), confirmed=True)
        assert Practice(live, filed.clock).store.revision() == 1
    assert [name for name in names(tmp_path) if "aside" in name or "part" in name] == []


def test_a_database_with_a_practice_is_never_written_over(
    full: Practice, new_stores: NewStores, tmp_path: Path
) -> None:
    made = backup.back_up(full, tmp_path / "backups")
    address = new_stores.make()
    with closing(open_store(address)) as store:
        Shelves(store)
        before = book(store)
        with pytest.raises((NotAllowed, NeedsConfirmation)):
            restoring.restore(made.path, address)
        assert book(store) == before


@pytest.mark.parametrize("content", [b"", b"Dear practice, " * 500, b"SQLite format 3\0" + b"\xff" * 5000])
def test_what_is_no_backup_is_not_restored(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "backup.db").write_bytes(content)
    with pytest.raises((WrongStore, StoreUnreachable)):
        restoring.restore(tmp_path / "backup.db", str(tmp_path / "new.db"))
    assert names(tmp_path) == ["backup.db"]
    with pytest.raises(NotFound):
        restoring.restore(tmp_path / "no such.db", str(tmp_path / "new.db"))


def test_a_backup_is_read_and_not_touched(filed: Practice, tmp_path: Path) -> None:
    made = backup.back_up(filed, tmp_path)
    before = made.path.read_bytes()
    made.path.chmod(0o400)
    restoring.restore(made.path, str(tmp_path / "new" / "practice.db"))
    assert made.path.read_bytes() == before


def test_a_live_file_restored_elsewhere_has_what_still_waits_in_its_log(tmp_path: Path) -> None:
    with closing(open_store(str(tmp_path / "live.db"))) as live:
        Shelves(live)
        restoring.restore(tmp_path / "live.db", str(tmp_path / "new.db"))
        assert book_at(tmp_path / "new.db") == book(live)


# Move


@pytest.fixture
def elsewhere(tmp_path: Path, sqlite_template: Path) -> SqliteFiles:
    (tmp_path / "elsewhere").mkdir()
    return SqliteFiles(tmp_path / "elsewhere", sqlite_template)


def test_a_practice_moves_to_another_store_and_back_and_stays_where_it_was(
    full: Practice, new_stores: NewStores, elsewhere: SqliteFiles
) -> None:
    before = book(full.store)
    there, back = elsewhere.make_empty(), new_stores.make_empty()
    assert whole_book.move(full, there).verified.clean
    with closing(open_store(there)) as store:
        whole_book.move(Practice(store, full.clock), back)
    with closing(open_store(back)) as store:
        assert book(store) == before == book(full.store)
        works_on(Practice(store, full.clock))


def test_a_practice_does_not_move_onto_another(full: Practice, new_stores: NewStores) -> None:
    address = new_stores.make()
    with closing(open_store(address)) as store:
        Shelves(store)
        before = book(store)
        with pytest.raises(NotAllowed, match="practice in that store"):
            whole_book.move(full, address)
        assert book(store) == before


def test_a_book_with_faults_does_not_move(full: Practice, new_stores: NewStores) -> None:
    spoil(full.store)
    address = new_stores.make()
    with pytest.raises(NotAllowed, match="faults"):
        whole_book.move(full, address)
    assert not any(content.rows for content in book_at(address).values())


def test_nothing_is_moved_where_somebody_posted_meanwhile(full: Practice, new_stores: NewStores) -> None:
    address = new_stores.make()
    really = copying.copy_book

    def slowly(source: Session, target: Session) -> None:
        really(source, target)
        change(full.store, "INSERT INTO person (initials, role, active) VALUES ('LATE', 'manager', true)")

    with patch.object(copying, "copy_book", slowly), pytest.raises(Conflict, match="meanwhile"):
        whole_book.move(full, address)
    assert not any(content.rows for content in book_at(address).values())


@pytest.mark.parametrize("new_stores", ["postgresql"], indirect=True)
def test_a_server_waits_for_a_copy_however_long_the_other_side_takes(store: Store) -> None:
    patience = text("SELECT current_setting('idle_in_transaction_session_timeout')")
    with store.reading() as session:
        copying.take_time(session)
        assert session.execute(patience).scalar_one() == "0"
    with store.reading() as session:  # and no longer for anybody else
        assert session.execute(patience).scalar_one() == "1min"


def test_visits_that_point_at_later_ones_move_too(new_stores: NewStores, elsewhere: SqliteFiles) -> None:
    with closing(open_store(new_stores.make())) as store:
        shelves = Shelves(store)
        first, second = shelves.visit(), shelves.visit()
        change(store, f"UPDATE visit SET remake_of_id = {second}, remake_asked_by = 'chair' WHERE id = {first}")  # noqa: S608
        assert whole_book.move(shelves.practice, elsewhere.make_empty()).rows == sum(
            c.rows for c in book(store).values()
        )

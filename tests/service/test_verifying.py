"""The check of the whole book finds each kind of fault, all of them at once, and none where there is none."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import text

from inventory.domain.ledger import Draft, Entry
from inventory.domain.vocabulary import DocumentKind, MovementKind, VisitState
from inventory.errors import WrongStore
from inventory.service import correcting, moving
from inventory.service.clock import Clock
from inventory.service.moving import Part
from inventory.service.practice import Practice
from inventory.service.verifying import CHECKS, Finding, verify
from inventory.store import guards
from inventory.store.engine import Store, open_store
from tests.clinic import Clinic
from tests.shelves import Shelves

OF_REVERSALS = "SELECT * FROM movement WHERE document_id IN (SELECT id FROM document WHERE kind = 'reversal')"


def tamper(store: Store, *statements: str) -> None:
    """Change the book as nobody may: the guards taken away before and put back after."""
    with store.writing() as session:
        for table in ("movement", "document", "holding"):
            for name in guards.names(store.dialect):
                if name.startswith(f"guard_{table}_"):
                    on = f" ON {table}" if store.dialect == "postgresql" else ""
                    session.execute(text(f"DROP TRIGGER {name}{on}"))
        for statement in statements:
            session.execute(text(statement))
        guards.install(session.connection())


def found(shelves: Shelves) -> dict[str, list[str]]:
    result: dict[str, list[str]] = {}
    for finding in verify(shelves.practice).findings:
        result.setdefault(finding.check, []).append(finding.message)
    return result


@pytest.fixture
def busy(shelves: Shelves) -> Shelves:
    """A shelf on which everything has happened once: lots 1 and 2, the opened unit is holding 3."""
    lot = shelves.lot(4, number="A", item=shelves.item(name="Light body"))
    shelves.lot(4, number="B")
    unit = moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip()).opened_id
    assert unit is not None
    use = Draft(DocumentKind.USE, (Entry(unit, MovementKind.USE, -700),), visit_id=shelves.visit())
    wrong = shelves.post(use)
    correcting.undo(shelves.practice, wrong, reason="wrong", by="AB", request_key=shelves.key())
    moving.transfer(shelves.practice, [Part(shelves.sealed(lot), 5_000)], "Chair 1", shelves.slip())
    moving.discard(shelves.practice, [Part(shelves.sealed(lot), 5_000)], shelves.slip(reason="dropped"))
    moving.correct_count(shelves.practice, unit, 4_000, shelves.slip(reason="weighed"))
    return shelves


def test_a_book_in_order_has_no_findings(busy: Shelves) -> None:
    result = verify(busy.practice)
    assert result.clean, result.findings
    assert (result.documents, result.movements, result.holdings) == (8, 10, 4)
    assert result.checks == tuple(CHECKS)


def test_a_practice_that_booked_and_undid_visits_has_no_findings(clinic: Clinic) -> None:
    for case in ("C-1", "C-2"):
        booked = clinic.book(clinic.plan(case))
    correcting.undo(clinic.practice, booked.documents[-1], reason="wrong", by="AB", request_key=clinic.key())
    assert verify(clinic.practice).findings == ()


def test_a_balance_that_is_not_the_sum_of_its_movements_is_found(busy: Shelves) -> None:
    tamper(busy.store, "UPDATE holding SET on_hand = on_hand + 5000 WHERE id = 1")
    faults = found(busy)
    assert faults["balances"] == ["Light body, lot A, Store room: the book says 100 mL, its movements come to 50 mL"]
    assert faults["conservation"] == ["lot A: 190 mL came and 50 mL went, but 190 mL is there"]


def test_a_movement_that_was_changed_is_found(busy: Shelves) -> None:
    tamper(busy.store, "UPDATE movement SET qty = qty - 100 WHERE kind = 'use' AND qty < 0")
    assert set(found(busy)) == {"balances", "conservation", "reversals"}


def test_a_movement_that_was_taken_out_is_found(busy: Shelves) -> None:
    tamper(busy.store, "DELETE FROM movement WHERE kind = 'discard'")
    faults = found(busy)
    assert set(faults) == {"balances", "conservation", "laws"}
    assert faults["laws"] == ["a document without movements"]


def test_a_broken_sealed_unit_and_an_overfull_opened_one_are_found(busy: Shelves) -> None:
    tamper(
        busy.store,
        "UPDATE holding SET on_hand = 4999 WHERE id = 1",
        "UPDATE holding SET on_hand = 5001 WHERE opened_on IS NOT NULL",
    )
    assert found(busy)["contents"] == [
        "lot A, Store room: a sealed stack holds a broken unit",
        "lot A, Store room: an opened unit holds more than a full one",
    ]


def test_a_move_that_loses_something_is_found(busy: Shelves) -> None:
    tamper(busy.store, "UPDATE movement SET qty = qty + 5000 WHERE kind = 'transfer' AND qty > 0 AND line = 2")
    assert any("loses or makes" in message for message in found(busy)["laws"])


def test_a_movement_under_the_wrong_kind_of_document_is_found(busy: Shelves) -> None:
    tamper(busy.store, "UPDATE document SET kind = 'receipt' WHERE kind = 'discard'")
    assert "a discard in a document of kind receipt" in found(busy)["laws"]


def test_a_movement_that_names_another_item_is_found(busy: Shelves) -> None:
    tamper(busy.store, "UPDATE movement SET item_id = (SELECT max(id) FROM item) WHERE id = 1")
    assert len(found(busy)["items"]) == 1


def test_a_request_key_with_two_contents_is_found(busy: Shelves) -> None:
    tamper(busy.store, "UPDATE document SET request_key = 'x', part = id, request_hash = 'h' || id WHERE id < 3")
    assert len(found(busy)["requests"]) == 1


@pytest.mark.parametrize("lost", [" AND line = 1", " AND line = 2", ""])
def test_an_undoing_that_undoes_less_than_was_posted_is_found(shelves: Shelves, lost: str) -> None:
    lot = shelves.lot(4)
    moved = moving.transfer(shelves.practice, [Part(shelves.sealed(lot), 5_000)], "Chair 1", shelves.slip())
    assert moved.document_id is not None
    correcting.undo(shelves.practice, moved.document_id, reason="wrong", by="AB", request_key="k")
    tamper(shelves.store, OF_REVERSALS.replace("SELECT *", "DELETE") + lost)
    assert len(found(shelves)["reversals"]) == 1


def test_an_undoing_that_undoes_more_than_was_posted_is_found(busy: Shelves) -> None:
    columns = "document_id, holding_id, item_id, kind, qty, lot_confirmed"
    more = OF_REVERSALS.replace("*", f"line + 1, {columns}")
    tamper(busy.store, "INSERT INTO movement (line, " + columns + ") " + more)
    assert set(found(busy)) == {"balances", "conservation", "reversals"}


def test_a_lot_held_twice_for_the_same_cause_is_found(busy: Shelves) -> None:
    hold = "INSERT INTO hold (lot_id, reason, person_id, at) VALUES (1, 'x', 1, '2026-03-02 09:00:00')"
    tamper(busy.store, hold)
    assert "holds" not in found(busy)
    tamper(busy.store, hold)
    assert found(busy)["holds"] == ["lot A is held twice for the same cause"]


def test_a_visit_done_without_a_booking_and_one_booked_but_not_done_are_found(shelves: Shelves) -> None:
    shelves.visit("C-1", state=VisitState.DONE)
    unit = moving.open_unit(shelves.practice, shelves.sealed(shelves.lot(1)), shelves.slip()).opened_id
    assert unit is not None
    shelves.post(Draft(DocumentKind.USE, (Entry(unit, MovementKind.USE, -700),), visit_id=shelves.visit("C-2")))
    assert found(shelves)["visits"] == [
        "the visit of case C-1 is done, but no booking of it stands",
        "the visit of case C-2 is planned, but a booking of it stands",
    ]


def test_a_lost_guard_is_found(busy: Shelves) -> None:
    with busy.store.writing() as session:
        on = " ON lot" if busy.store.dialect == "postgresql" else ""
        session.execute(text(f"DROP TRIGGER guard_lot_delete{on}"))
    (finding,) = verify(busy.practice).findings
    assert (finding.check, finding.subject_id) == ("guards", "guard_lot_delete")


def test_several_faults_are_all_found_at_once(busy: Shelves) -> None:
    tamper(
        busy.store,
        "UPDATE holding SET on_hand = 4999 WHERE id = 1",
        "UPDATE document SET kind = 'receipt' WHERE kind = 'discard'",
        "UPDATE visit SET state = 'done'",
    )
    assert set(found(busy)) == {"balances", "contents", "conservation", "laws", "visits"}


# What only a file can suffer


def open_and_verify(path: Path) -> tuple[Finding, ...]:
    with closing(open_store(str(path))) as store:
        return verify(Practice(store, Clock())).findings


def test_a_link_to_a_row_that_is_not_there_is_found(tmp_path: Path) -> None:
    open_store(str(tmp_path / "practice.db")).close()
    with closing(sqlite3.connect(tmp_path / "practice.db")) as raw:
        raw.execute("INSERT INTO holding (lot_id, place_id, on_hand) VALUES (4711, 4711, 0)")
        raw.commit()
    messages = [finding.message for finding in open_and_verify(tmp_path / "practice.db")]
    assert sorted(messages) == ["holding 1 points at no lot", "holding 1 points at no place"]


def test_a_damaged_index_is_found(tmp_path: Path) -> None:
    """A row that its index does not know: written while the index was said to be a smaller one."""
    path = tmp_path / "practice.db"
    with closing(open_store(str(path))) as store:
        Shelves(store).lot(3)
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("PRAGMA writable_schema = ON")
        raw.execute("UPDATE sqlite_master SET sql = sql || ' WHERE id > 99' WHERE name = 'ix_lot_item_id'")
        raw.commit()
    with closing(sqlite3.connect(path)) as raw:
        raw.execute(
            "INSERT INTO lot SELECT 50, item_id, 'X', 0, NULL, 'none_stated', NULL, unit_qty, "
            "first_received_on, '' FROM lot"
        )
        raw.execute("PRAGMA writable_schema = ON")
        raw.execute("UPDATE sqlite_master SET sql = replace(sql, ' WHERE id > 99', '') WHERE name = 'ix_lot_item_id'")
        raw.commit()
    assert any("ix_lot_item_id" in finding.message for finding in open_and_verify(path))


def test_a_file_too_damaged_to_read_is_said_so(tmp_path: Path) -> None:
    path = tmp_path / "practice.db"
    with closing(open_store(str(path))) as store:
        Shelves(store).lot(3)
    spoilt = bytearray(path.read_bytes())
    spoilt[8192:] = bytes(len(spoilt) - 8192)
    path.write_bytes(spoilt)
    with pytest.raises(WrongStore):
        open_and_verify(path)

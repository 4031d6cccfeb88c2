"""The audit trail: what was changed beside the stock itself, the story of a lot in sentences, and both as CSV."""

import csv
import io
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from inventory.errors import NotFound
from inventory.service import (
    audit,
    catalogue,
    changes,
    correcting,
    holding,
    laboratory,
    lot_story,
    lots,
    moving,
    notices,
    places,
    tracing,
)
from inventory.service.changes import Which
from inventory.service.lots import UseBy
from inventory.service.moving import Part
from inventory.service.practice import Practice
from inventory.store.engine import open_store
from tests.clinic import Clinic
from tests.plans import scans
from tests.service.catalogue_samples import BY, TODAY
from tests.shelves import Shelves

TOMORROW = TODAY + timedelta(days=1)


@pytest.fixture
def lived(shelves: Shelves) -> tuple[Shelves, int]:
    """A lot received, held and released, opened, used, thrown away in part, and its date put right."""
    practice, lot = shelves.practice, shelves.lot(3, item=shelves.item(code="WASH", name="Wash"), number="A1")

    def then(deed: Callable[[], Any]) -> Any:
        shelves.hands.now += timedelta(minutes=1)
        return deed()

    then(lambda: holding.hold(practice, lot_id=lot, reason="sets slowly", by="AB"))
    then(lambda: holding.release(practice, lot_id=lot, reason="it was the cold", by="AB"))
    stack = shelves.sealed(lot)
    opened = then(lambda: moving.open_unit(practice, stack, shelves.slip(), to_place="Chair 1")).opened_id
    then(lambda: moving.write_off_rest(practice, opened, shelves.slip()))
    slip = shelves.slip(reason="dropped", proof="bag 7")
    wrong = then(lambda: moving.discard(practice, [Part(stack, 5_000)], slip)).document_id
    said = {"reason": "it was another one", "by": "AB", "request_key": shelves.key()}
    then(lambda: correcting.undo(practice, wrong, **said))
    then(lambda: lots.amend_lot(practice, lot, reason="read again", by="AB", use_by=UseBy.on(TODAY)))
    return shelves, lot


def test_the_history_of_a_lot_reads_as_a_story(lived: tuple[Shelves, int]) -> None:
    shelves, lot = lived
    told = lot_story.story(shelves.practice, lot)
    said = [told.told(line).removeprefix("2026-03-02 AB: ") for line in told.lines]
    assert said == [
        "received 150 mL into Store room. 150 mL left.",
        "put on hold (sets slowly).",
        "released from its hold (it was the cold).",
        "opened 1 cartridge at Chair 1. 150 mL left.",
        "wasted 50 mL at Chair 1; rest too small for any step. 100 mL left.",
        "discarded 50 mL at Store room; dropped; proof bag 7; undone since by entry 5. 50 mL left.",
        "entry 4 undone: 50 mL given back at Store room; it was another one. 100 mL left.",
        f"use by put right: {TODAY}, was none (read again).",
    ]
    with pytest.raises(NotFound):
        lot_story.story(shelves.practice, 99_999)


def test_a_visits_use_stands_in_the_story_with_its_case_and_steps(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-7"))
    found = next(line for line in tracing.case_lots(clinic.practice, "C-7") if line.item_code == "LIGHT-A")
    last = lot_story.story(clinic.practice, found.lot_id).lines[-1]
    assert last.words.startswith("used ")
    assert " at operatory 1 for case C-7" in last.words
    assert last.words.endswith("lot assumed")


def test_a_recall_notice_is_called_by_its_reference_and_moments_are_the_practice_s_own(clinic: Clinic) -> None:
    draft = notices.NoticeDraft("FSN 7", TODAY, (notices.ScopeDraft(lot_from="A1"),))
    notices.enter(clinic.practice, draft, by=BY)
    notices.answer(clinic.practice, "FSN 7", proof="e-mail", by=BY)
    said = [one.words for one in changes.changes(clinic.practice, Which(subject="notice"))]
    with clinic.practice.reading() as desk:
        now = f"{desk.now.astimezone(desk.zone):%Y-%m-%d %H:%M}"
    assert f"recall notice FSN 7: answered at set to {now}" in said


def test_changes_are_found_by_item_lot_case_person_subject_and_day(clinic: Clinic) -> None:
    visit = clinic.plan("C-7")
    clinic.book(visit)
    laboratory.pack(clinic.practice, laboratory.Packing(visit.visit_id, ("impressions",)), by=BY)
    places.set_level(clinic.practice, "operatory 1", "LIGHT-A", 2, by=BY)

    def found(which: Which) -> list[str]:
        return [one.words for one in changes.changes(clinic.practice, which)]

    case = found(Which(case_ref="C-7"))
    assert "parcel of case C-7: contents set to impressions" in case
    assert "visit of case C-7: state set to done, was planned" in case
    assert case[-1] == "visit of case C-7: state set to planned"
    item = catalogue.item(clinic.practice, "LIGHT-A")
    assert found(Which(item_id=item.item_id))[0] == "item LIGHT-A: level at operatory 1 set to 2"
    assert all(one.startswith("item ") for one in found(Which(subject="item")))
    assert found(Which(person=BY, since=TODAY, until=TODAY)) == found(Which(person=BY))
    assert found(Which(since=TOMORROW)) == []
    pages = changes.changes(clinic.practice, Which(), limit=2)
    after = changes.changes(clinic.practice, replace(Which(), before_id=pages[-1].change_id), limit=1)
    assert after[0].change_id < pages[-1].change_id
    with pytest.raises(NotFound):
        found(Which(person="ZZ"))


def test_the_trail_as_csv_has_every_movement_and_no_formula(lived: tuple[Shelves, int]) -> None:
    shelves, lot = lived
    moving.discard(shelves.practice, [Part(shelves.sealed(lot), 5_000)], shelves.slip(reason="=HYPERLINK(1)"))
    holding.hold(shelves.practice, lot_id=lot, reason="+1", by="AB")
    entries = tracing.history(shelves.practice, tracing.Filter(lot_id=lot))
    rows = list(csv.DictReader(io.StringIO(audit.documents_csv(entries))))
    assert len(rows) == sum(len(entry.lines) for entry in entries)
    assert (rows[0]["reason"], rows[0]["amount"], rows[0]["unit"], rows[0]["lot"]) == (
        "'=HYPERLINK(1)", "-50", "mL", "A1",
    )  # fmt: skip
    text = audit.changes_csv(changes.changes(shelves.practice, Which(lot_id=lot)))
    assert next(csv.DictReader(io.StringIO(text)))["reason"] == "'+1"


LOOKS: dict[str, Callable[[Practice], object]] = {
    "a lot's story": lambda practice: lot_story.story(practice, 1),
    "an item": lambda practice: changes.changes(practice, Which(item_id=1)),
    "a lot": lambda practice: changes.changes(practice, Which(lot_id=1)),
    "a case": lambda practice: changes.changes(practice, Which(case_ref="C-1")),
    "a person": lambda practice: changes.changes(practice, Which(person="AB")),
    "days": lambda practice: changes.changes(practice, Which(since=TODAY, until=TODAY)),
    "a subject": lambda practice: changes.changes(practice, Which(subject="lot")),
    "parcels": laboratory.parcels,
}


@pytest.fixture
def on_file(tmp_path: Path) -> Iterator[Shelves]:
    with closing(open_store(str(tmp_path / "practice.db"))) as store:
        yield Shelves(store)


@pytest.mark.parametrize("look", LOOKS)
def test_no_look_at_the_trail_reads_all_of_it(look: str, on_file: Shelves) -> None:
    lot = on_file.lot(2)
    holding.hold(on_file.practice, lot_id=lot, reason="sets slowly", by="AB")
    on_file.visit()
    _, read_from_end_to_end = scans(on_file.store, lambda: LOOKS[look](on_file.practice))
    assert read_from_end_to_end == []

"""A recall notice: what it names is held at once and later, nothing is lost sight of, and nothing closes early."""

import re
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from inventory.domain.alerts import AlertKind
from inventory.domain.ledger import Draft, Entry
from inventory.domain.notices import Match
from inventory.domain.vocabulary import (
    Arch,
    ContactStatus,
    DocumentKind,
    LateReason,
    MovementKind,
    NoticeClass,
)
from inventory.errors import AlreadyDone, BadInput, NeedsConfirmation, NotAllowed, NotFound, StoreUnreachable
from inventory.service import (
    booking,
    catalogue,
    correcting,
    holding,
    laying_out,
    lots,
    moving,
    notice_deeds,
    notice_work,
    notices,
    receiving,
)
from inventory.service.booking import FoundLot
from inventory.service.lots import LotWords, UseBy, save_lots
from inventory.service.moving import Part
from inventory.service.notice_work import Worklist
from inventory.service.notices import NoticeDraft, ScopeDraft
from inventory.service.practice import Practice
from inventory.service.receiving import Arrival, Delivery
from inventory.service.weekly_check import weekly_check
from inventory.store.engine import open_store
from inventory.store.queries.stock import stands
from inventory.store.tables import Item
from tests.clinic import Clinic, as_expected
from tests.plans import scans
from tests.service import catalogue_samples as samples
from tests.shelves import TODAY, Shelves

REF = "N-1"
RECALLED = {LateReason.RECALLED}


def enter(practice: Practice, *lines: ScopeDraft, on: date = TODAY, by: str = "AB", **known: Any) -> Worklist:
    return notices.enter(practice, NoticeDraft(known.pop("reference", REF), on, lines, **known), by=by)


def code(shelves: Shelves, item: int) -> str:
    with shelves.practice.reading() as desk:
        return desk.session.get_one(Item, item).code


def blocked(practice: Practice, lot_id: int) -> set[LateReason | None]:
    with practice.reading() as desk:
        return {stand.blocked for stand in stands(desk.session, lot_id=lot_id)}


def numbers(work: Worklist) -> dict[str, Match]:
    """The lots on hold for a notice, with their certainty."""
    return {lot.number: lot.match for lot in work.concerned}


def used(shelves: Shelves, lot: int, case: str, *, confirmed: bool = False) -> int:
    entry = Entry(shelves.sealed(lot), MovementKind.USE, -1, Arch.MAXILLARY, "tray", 1, confirmed)
    return shelves.post(Draft(DocumentKind.USE, (entry,), visit_id=shelves.visit(case)))


# What it names is on hold at once


def test_every_lot_that_is_named_is_on_hold_at_every_place_sealed_or_opened(shelves: Shelves) -> None:
    item = shelves.item()
    lot, other = shelves.lot(4, item=item, number="A150"), shelves.lot(2, item=item, number="B1")
    moving.transfer(shelves.practice, [Part(shelves.sealed(lot), 5_000)], "Chair 1", shelves.slip())
    moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip())
    work = enter(shelves.practice, ScopeDraft(item=code(shelves, item), lot_from="A100", lot_to="A199"))
    assert numbers(work) == {"A150": Match.SURE, "B1": Match.PERHAPS}
    assert blocked(shelves.practice, lot) == RECALLED
    assert blocked(shelves.practice, other) == RECALLED  # cannot be compared: held, and a person looks
    name = next(lot.item_name for lot in work.lots)
    assert work.cautions == (f"lot B1 of {name} is only perhaps named: compare the package with the notice.",)


def test_a_lot_with_nothing_left_is_named_too_for_its_cases_matter(shelves: Shelves) -> None:
    lot = shelves.lot(1, item=shelves.tray(), number="T7")
    used(shelves, lot, "C-1")
    work = enter(shelves.practice, ScopeDraft(lot_from="t7"))
    assert numbers(work) == {"T7": Match.SURE}
    assert [case.case_ref for case in work.cases] == ["C-1"]
    assert work.left == ("Tell, or note why not: case C-1.",)


def test_a_lot_with_a_number_of_ours_may_be_any_lot_of_its_article(shelves: Shelves) -> None:
    item = shelves.item()
    shelves.lot(1, item=item, number="R-2026-0001-1", number_is_ours=True)
    work = enter(shelves.practice, ScopeDraft(item=code(shelves, item), lot_from="A1"))
    assert numbers(work) == {"R-2026-0001-1": Match.PERHAPS}


def test_a_notice_that_names_nothing_or_what_can_t_be_is_refused(shelves: Shelves) -> None:
    practice = shelves.practice
    for line, fault in (
        (ScopeDraft(), "neither an item nor a lot"),
        (ScopeDraft(received_from=TODAY), "neither an item nor a lot"),
        (ScopeDraft(code="X", lot_to="A1"), "has a first one"),
        (ScopeDraft(lot_from="A1", lot_to="A2"), "belongs to an item"),
        (ScopeDraft(code="X", received_from=TODAY, received_to=TODAY - timedelta(1)), "is before"),
    ):
        with pytest.raises(BadInput, match=fault):
            enter(practice, line)
    for known, fault in (
        ({"on": TODAY + timedelta(1)}, "still to come"), ({"answer_by": TODAY - timedelta(1)}, "before the notice"),
        ({"reference": " "}, "reference"), ({"text": "x" * 4001}, "text"), ({"by": "ZZ"}, "initials"),
    ):  # fmt: skip
        with pytest.raises(BadInput, match=fault):
            enter(practice, ScopeDraft(lot_from="A1"), **known)
    with pytest.raises(NotFound, match="no item"):
        enter(practice, ScopeDraft(item="NONE"))
    assert notice_work.notices(practice) == ()


def test_a_notice_is_entered_once_and_completes_one_known_by_its_reference_only(shelves: Shelves) -> None:
    lot = shelves.lot(1, number="A1")
    holding.hold(shelves.practice, lot_id=lot, reason="by telephone", by="AB", recall=REF)
    work = enter(shelves.practice, ScopeDraft(lot_from="B1"), notice_class=NoticeClass.II)
    assert (work.head.notice_class, numbers(work)) == (NoticeClass.II, {"A1": Match.NO})
    with pytest.raises(AlreadyDone, match="entered already"):
        enter(shelves.practice, ScopeDraft(lot_from="A1"))
    with pytest.raises(AlreadyDone, match="on hold already"):
        holding.hold(shelves.practice, lot_id=lot, reason="again", by="AB", recall=REF)


def test_a_line_that_was_wrong_is_withdrawn_and_frees_what_it_alone_named(shelves: Shelves) -> None:
    lot, other = shelves.lot(1, number="A1"), shelves.lot(1, number="B1")
    work = enter(shelves.practice, ScopeDraft(lot_from="A1"), ScopeDraft(lot_from="B1"))
    line = work.lines[0].line_id
    work = notices.withdraw_line(shelves.practice, REF, line, reason="misread", by="AB")
    assert numbers(work) == {"B1": Match.SURE}
    assert blocked(shelves.practice, lot) == {None}
    assert blocked(shelves.practice, other) == RECALLED
    assert next(one.released for one in work.lots if one.lot_id == lot) == "line withdrawn: misread"
    with pytest.raises(AlreadyDone):
        notices.withdraw_line(shelves.practice, REF, line, reason="misread", by="AB")
    with pytest.raises(AlreadyDone, match="this line"):
        notices.add_line(shelves.practice, REF, ScopeDraft(lot_from="B1"), by="AB")
    assert numbers(notices.add_line(shelves.practice, REF, ScopeDraft(lot_from="A1"), by="AB")).keys() == {"A1", "B1"}
    assert blocked(shelves.practice, lot) == RECALLED


def test_a_lot_may_be_named_by_two_notices_and_is_free_when_both_say_so(shelves: Shelves) -> None:
    lot = shelves.lot(1, number="A1")
    first = enter(shelves.practice, ScopeDraft(lot_from="A1"))
    enter(shelves.practice, ScopeDraft(lot_from="A1"), reference="N-2")
    notices.withdraw_line(shelves.practice, REF, first.lines[0].line_id, reason="misread", by="AB")
    assert blocked(shelves.practice, lot) == RECALLED
    with pytest.raises(NeedsConfirmation, match="named by recall notice N-2"):
        holding.release(shelves.practice, lot_id=lot, reason="free", by="AB")
    holding.release(shelves.practice, lot_id=lot, reason="another maker's lot", by="AB", confirmed=True)
    assert blocked(shelves.practice, lot) == {None}
    work = notice_work.worklist(shelves.practice, "n-2")
    assert (work.concerned, work.lots[0].released, work.left) == ((), "another maker's lot", ())


# What comes later


def lot_comes(shelves: Shelves, item: int, number: str, **known: Any) -> tuple[int, tuple[str, ...]]:
    """A lot as every service makes one; what recall notices say of it."""
    words = LotWords(item, number, UseBy.on(date(2028, 1, 1)), 5_000)
    with shelves.practice.writing() as desk:
        (row,) = save_lots(desk, shelves.person_id, [words], desk.today, **known)
    return row.lot_id, row.recall


def test_a_lot_that_comes_after_the_notice_is_on_hold_before_anybody_sees_it(shelves: Shelves) -> None:
    item = shelves.item()
    enter(shelves.practice, ScopeDraft(item=code(shelves, item), lot_from="A100", lot_to="A199"))
    lot, told = lot_comes(shelves, item, "A150")
    assert told == ("named by recall notice N-1; it is on hold, set it aside",)
    shelves.receive(lot, 1)
    assert blocked(shelves.practice, lot) == RECALLED
    assert lot_comes(shelves, item, "A200")[1] == ()
    assert lot_comes(shelves, item, "A150")[1] == told  # more of the same: told again, held once
    assert lot_comes(shelves, shelves.item(), "A150")[1] == ()


def test_lots_are_made_in_one_place_which_asks_the_notices() -> None:
    services = Path(lots.__file__).parent
    assert [file.name for file in services.glob("*.py") if re.search(r"(?<!\w)Lot\(", file.read_text())] == ["lots.py"]


def test_a_lot_that_gets_the_number_named_is_on_hold_from_then_on(shelves: Shelves) -> None:
    lot = shelves.lot(1, number="A1S0")
    enter(shelves.practice, ScopeDraft(lot_from="A150"))
    assert blocked(shelves.practice, lot) == {None}
    changed = lots.amend_lot(shelves.practice, lot, number="A150", reason="misread", by="AB")
    assert changed.recall == ("named by recall notice N-1; it is on hold, set it aside",)
    assert blocked(shelves.practice, lot) == RECALLED


def test_what_was_found_not_to_be_concerned_stays_free_until_its_number_changes(shelves: Shelves) -> None:
    item = shelves.item()
    lot = shelves.lot(1, item=item, number="A1")
    enter(shelves.practice, ScopeDraft(item=code(shelves, item), lot_from="A01"))
    holding.release(shelves.practice, lot_id=lot, reason="the package says A1", by="AB", confirmed=True)
    assert lots.amend_lot(shelves.practice, lot, use_by=UseBy.month(2028, 1), reason="read", by="AB").recall == (
        "recall notice N-1 names it; released: the package says A1",
    )
    assert blocked(shelves.practice, lot) == {None}
    lots.amend_lot(shelves.practice, lot, number="A01", reason="looked again", by="AB")
    assert blocked(shelves.practice, lot) == RECALLED


def test_days_of_receipt_name_what_deliveries_brought_and_perhaps_what_was_only_found(shelves: Shelves) -> None:
    item = shelves.item()
    shelves.lot(1, item=item, number="FOUND")  # no delivery in the book brought it
    yesterday = TODAY - timedelta(1)
    line = ScopeDraft(item=code(shelves, item), received_from=shelves_day(-90), received_to=yesterday)
    assert numbers(enter(shelves.practice, line)) == {"FOUND": Match.PERHAPS}
    assert lot_comes(shelves, item, "TODAY", delivered=True)[1] == ()
    notices.add_line(shelves.practice, REF, replace(line, received_to=TODAY), by="AB")
    assert lot_comes(shelves, item, "LATE", delivered=True)[1] == (
        "named by recall notice N-1; it is on hold, set it aside",
    )


def shelves_day(days: int) -> date:
    return TODAY + timedelta(days)


def test_a_delivery_that_brings_a_named_lot_says_so_beforehand_and_afterwards(stocked: Practice) -> None:
    catalogue.save_supply(stocked, samples.box("LIGHT-A"), by="AB")
    line = ScopeDraft(code="n-light-a", lot_from="L7", lot_to="L9")
    assert enter(stocked, line, on=samples.TODAY).cautions == ()
    arrival = Arrival(item="LIGHT-A", packs=1, lot="L8", use_by=UseBy.on(date(2028, 12, 31)))
    delivery = Delivery(supplier=samples.SUPPLIER.name, lines=(arrival, replace(arrival, lot="M8")))
    told = (
        "LIGHT-A, lot L8: named by recall notice N-1; it is on hold, set it aside.",
        "LIGHT-A, lot M8: perhaps named by recall notice N-1: compare the package; it is on hold, set it aside.",
    )
    assert receiving.preview(stocked, delivery).warnings[0] == told[0]
    received = receiving.receive(stocked, delivery, by="AB", request_key="k")
    assert set(received.warnings) >= {told[0]}
    assert blocked(stocked, received.lines[0].lot_id or 0) == RECALLED


def test_a_code_the_catalogue_learns_later_holds_its_lots_from_then_on(shelves: Shelves) -> None:
    item = shelves.item()
    lot = shelves.lot(1, item=item, number="A1")
    work = enter(shelves.practice, ScopeDraft(code="9506000134352"))
    assert (work.concerned, work.cautions) == (
        (), ("code 9506000134352, every lot: the code is not in the catalogue; no lot is held for it.",)
    )  # fmt: skip
    catalogue.add_barcode(shelves.practice, "gtin", "09506000134352", item=code(shelves, item), units=1, by="AB")
    assert blocked(shelves.practice, lot) == RECALLED
    assert notice_work.worklist(shelves.practice, REF).cautions == ()


def test_a_visit_that_used_a_named_lot_nobody_had_entered_is_asked_about_and_flagged(clinic: Clinic) -> None:
    enter(clinic.practice, ScopeDraft(item="LIGHT-A", lot_from="FOUND-1"), on=samples.TODAY)
    visit = clinic.plan("C-1")
    request = as_expected(laying_out.form(clinic.practice, visit.visit_id))
    found = FoundLot("FOUND-1", date(2028, 6, 30), UseBy.on(date(2028, 6, 30)).reading)
    with clinic.practice.reading() as desk:
        light = next(item.id for item in clinic.items(desk) if item.code == "LIGHT-A")
    lines = tuple(
        replace(line, holding_id=None, found=found, lot_confirmed=True) if line.item_id == light else line
        for line in request.lines
    )
    request = replace(request, lines=lines)
    with pytest.raises(NeedsConfirmation, match="lot FOUND-1: recalled"):
        clinic.post(request)
    booked: booking.Booked = clinic.post(request, confirmed=True, reason="seen afterwards")
    assert {lot.late_reason for lot in booked.lots if lot.lot_number == "FOUND-1"} == RECALLED
    (case,) = notice_work.worklist(clinic.practice, REF).cases
    assert (case.case_ref, case.lot_confirmed, case.status) == ("C-1", True, ContactStatus.OPEN)


# The work, to its end


def test_a_notice_is_worked_off_and_closes_only_when_nothing_is_left(shelves: Shelves) -> None:
    practice = shelves.practice
    item = shelves.tray()
    lot = shelves.lot(5, item=item, number="T1")
    moving.transfer(practice, [Part(shelves.sealed(lot), 2)], "Chair 1", shelves.slip())
    used(shelves, lot, "C-1", confirmed=True)
    used(shelves, lot, "C-2")
    enter(practice, ScopeDraft(lot_from="T1"), answer_by=TODAY + timedelta(7))
    store, chair = shelves.sealed(lot), shelves.sealed(lot, "Chair 1")

    def left() -> list[str]:
        with pytest.raises(NotAllowed, match="can't be closed yet"):
            notices.close(practice, REF, by="AB")
        return [words.split(":")[0].split(" by ")[0] for words in notice_work.worklist(practice, REF).left]

    find, tell, answer, destroy = (
        "Find and set aside", "Tell, or note why not", "Answer the notice", "Return or destroy, with proof",
    )  # fmt: skip
    assert left() == [find, tell, answer]
    for again in (False, True):  # the same request posts once
        done = notice_deeds.found(practice, REF, [Part(store)], shelves.slip(request_key="found it"))
        assert done.again is again
    notice_deeds.counted(practice, REF, chair, 1, shelves.slip())
    assert left() == [find, tell, answer, destroy]
    notice_deeds.found(practice, REF, [Part(chair)], shelves.slip())
    assert left() == [tell, answer, destroy]
    work = notice_work.worklist(practice, REF)
    assert [case.case_ref for case in work.cases] == ["C-2", "C-1"]  # the assumed one first
    notices.tell(practice, REF, "c-2", ContactStatus.TOLD, by="AB", note="by telephone")
    notices.tell(practice, REF, "C-1", ContactStatus.NOT_NEEDED, by="AB", note="the dentist decided")
    notices.answer(practice, REF, proof="reply form 12", by="AB")
    assert left() == [destroy]
    aside = shelves.sealed(lot, "Set aside")
    with pytest.raises(BadInput, match="proof"):
        notice_deeds.returned(practice, REF, [Part(aside, 1)], shelves.slip())
    notice_deeds.returned(practice, REF, [Part(aside, 1)], shelves.slip(proof="CN 7"))
    notice_deeds.destroyed(practice, REF, [Part(aside)], shelves.slip(proof="certificate 3"))
    work = notices.close(practice, REF, by="AB")
    assert (work.head.closed, work.left) == (True, ())
    counts = {one.place: (one.was, one.there, one.set_aside, one.missing, one.returned, one.destroyed)
              for one in work.lots[0].places}  # fmt: skip
    assert counts == {
        "Store room": (1, 0, 1, 0, 0, 0), "Chair 1": (2, 0, 1, 1, 0, 0), "Set aside": (0, 0, -2, 0, 1, 1),
    }  # fmt: skip
    assert [(proof.kind.value, proof.proof) for proof in work.proofs] == [
        ("transfer", ""), ("count", ""), ("transfer", ""), ("return", "CN 7"), ("discard", "certificate 3"),
    ]  # fmt: skip
    assert work.proofs[3].words == f"returned: lot T1 of {work.lots[0].item_name}, 1 pcs at Set aside"
    with pytest.raises(AlreadyDone):
        notices.close(practice, REF, by="AB")


def test_only_stock_of_its_own_lots_is_moved_under_a_notice_and_only_to_where_it_is_set_aside(
    shelves: Shelves,
) -> None:
    lot, other = shelves.lot(1, number="A1"), shelves.lot(1, number="B1")
    enter(shelves.practice, ScopeDraft(lot_from="A1"))
    with pytest.raises(BadInput, match="no lot of notice N-1"):
        notice_deeds.found(shelves.practice, REF, [Part(shelves.sealed(other))], shelves.slip())
    with pytest.raises(BadInput, match="no place where stock is set aside"):
        notice_deeds.found(shelves.practice, REF, [Part(shelves.sealed(lot))], shelves.slip(), to_place="Chair 1")
    with pytest.raises(NotFound):
        notice_deeds.counted(shelves.practice, REF, 4711, 0, shelves.slip())
    with pytest.raises(NotFound, match="no recall notice 'N-9'"):
        notice_work.worklist(shelves.practice, "N-9")
    with pytest.raises(NotFound, match="used no lot"):
        notices.tell(shelves.practice, REF, "C-9", ContactStatus.TOLD, by="AB")


def test_what_is_discarded_without_naming_the_notice_still_counts_for_it(shelves: Shelves) -> None:
    lot = shelves.lot(2, number="A1")
    enter(shelves.practice, ScopeDraft(lot_from="A1"))
    moving.discard(shelves.practice, [Part(shelves.sealed(lot))], shelves.slip(reason="recall", proof="certificate 3"))
    work = notice_work.worklist(shelves.practice, REF)
    assert work.lots[0].places[0].destroyed == 10_000
    assert (work.left, work.proofs[0].proof) == ((), "certificate 3")


def test_a_case_whose_booking_is_undone_asks_nothing_more_but_what_was_noted_stays(shelves: Shelves) -> None:
    lot = shelves.lot(3, item=shelves.tray(), number="T1")
    wrong, gone = used(shelves, lot, "C-1"), used(shelves, lot, "C-2")
    enter(shelves.practice, ScopeDraft(lot_from="T1"))
    notices.tell(shelves.practice, REF, "C-1", ContactStatus.NOT_REACHED, by="AB")
    for document in (wrong, gone):
        correcting.undo(shelves.practice, document, reason="wrong case", by="AB", request_key=shelves.key())
    work = notice_work.worklist(shelves.practice, REF)
    assert [(case.case_ref, case.uses, case.status) for case in work.cases] == [("C-1", (), ContactStatus.NOT_REACHED)]


def closed(shelves: Shelves, *lines: ScopeDraft, lot: int) -> None:
    enter(shelves.practice, *lines)
    notice_deeds.destroyed(
        shelves.practice, REF, [Part(shelves.sealed(lot))], shelves.slip(proof="certificate 3", request_key="gone")
    )
    notices.close(shelves.practice, REF, by="AB")


def test_a_closed_notice_is_open_again_when_more_of_a_named_lot_comes(shelves: Shelves) -> None:
    item = shelves.item()
    lot = shelves.lot(1, item=item, number="A1")
    closed(shelves, ScopeDraft(lot_from="A1"), lot=lot)
    assert lot_comes(shelves, item, "A1")[1] == ("named by recall notice N-1; it is on hold, set it aside",)
    assert not notice_work.worklist(shelves.practice, REF).head.closed


def test_a_notice_of_every_lot_ends_when_it_is_closed_for_lots_that_come_then(shelves: Shelves) -> None:
    item = shelves.item()
    lot = shelves.lot(1, item=item, number="A1")
    closed(shelves, ScopeDraft(item=code(shelves, item)), lot=lot)
    sound, told = lot_comes(shelves, item, "A2")
    assert told == ()
    notices.reopen(shelves.practice, REF, reason="the new ones too", by="AB")
    assert lot_comes(shelves, item, "A2")[1] != ()
    shelves.receive(sound, 1)
    assert blocked(shelves.practice, sound) == RECALLED


def test_stock_that_comes_back_by_an_undoing_makes_work_of_a_closed_notice(shelves: Shelves) -> None:
    lot = shelves.lot(1, number="A1")
    closed(shelves, ScopeDraft(lot_from="A1"), lot=lot)
    with shelves.practice.reading() as desk:
        assert notice_work.with_work(desk) == ()
    document = notice_work.worklist(shelves.practice, REF).proofs[0].document_id
    correcting.undo(shelves.practice, document, reason="not destroyed", by="AB", request_key=shelves.key())
    with shelves.practice.reading() as desk:
        (card,) = notice_work.with_work(desk)
    assert card.head.closed
    assert card.outstanding.next_step.startswith("Find and set aside: lot A1")


def test_class_text_and_day_of_answer_may_be_put_right_with_a_reason(shelves: Shelves) -> None:
    enter(shelves.practice, ScopeDraft(lot_from="A1"))
    work = notices.change(
        shelves.practice, REF, by="AB", reason="classified now", notice_class=NoticeClass.I,
        answer_by=TODAY + timedelta(3),
    )  # fmt: skip
    assert (work.head.notice_class, work.left) == (
        NoticeClass.I, ("Answer the notice by 2026-03-05, and note the proof.",)
    )  # fmt: skip
    with pytest.raises(BadInput):
        notices.change(shelves.practice, REF, by="AB", reason=" ", text="x")


@pytest.fixture
def on_file(tmp_path: Path) -> Iterator[Shelves]:
    with closing(open_store(str(tmp_path / "practice.db"))) as store:
        yield Shelves(store)


def test_looking_at_notices_takes_as_many_statements_for_many_as_for_one_and_no_scan(on_file: Shelves) -> None:
    shelves = on_file

    def looks() -> int:
        statements, read_from_end_to_end = scans(shelves.store, lambda: notice_work.notices(shelves.practice))
        assert read_from_end_to_end == []
        return statements

    item = shelves.tray()
    used(shelves, shelves.lot(2, item=item, number="T1"), "C-1")
    enter(shelves.practice, ScopeDraft(lot_from="T1"))
    one = looks()
    for number in range(2, 6):
        used(shelves, shelves.lot(2, item=item, number=f"T{number}"), f"C-{number}")
        enter(shelves.practice, ScopeDraft(lot_from=f"T{number}"), reference=f"N-{number}")
    assert looks() == one


def test_an_open_notice_is_a_line_of_the_weekly_check_with_what_to_do_next(clinic: Clinic) -> None:
    enter(
        clinic.practice, ScopeDraft(item="LIGHT-A", lot_from="LIGHT-A-1"), on=samples.TODAY,
        notice_class=NoticeClass.II, answer_by=samples.TODAY,
    )  # fmt: skip
    found = weekly_check(clinic.practice).lines
    line = next(line for line in found if line.kind is AlertKind.NOTICE_OPEN)
    assert (line.subject, line.notice, line.due) == ("Recall N-1", REF, samples.TODAY)
    assert line.todo.startswith("Find and set aside: lot LIGHT-A-1")


@pytest.mark.parametrize("new_stores", ["postgresql"], indirect=True)
def test_a_notice_is_worked_on_by_one_at_a_time_however_its_reference_is_typed(shelves: Shelves) -> None:
    shelves.lot(1, number="T1")
    enter(shelves.practice, ScopeDraft(lot_from="T1"))

    def work() -> None:
        with shelves.practice.writing() as other:
            other.session.execute(text("SET LOCAL lock_timeout = 50"))
            notice_work.found(other, REF.lower(), lock=True)

    with shelves.practice.writing() as one:
        notice_work.found(one, REF.lower(), lock=True)
        with pytest.raises(StoreUnreachable, match="busy"):
            work()

"""What was posted by mistake is undone once, by a new document, while the stock it takes back is still there."""

from datetime import timedelta
from typing import Any

import pytest
from sqlmodel import col, select

from inventory.domain.ledger import Draft, Entry, Sealed
from inventory.domain.vocabulary import Arch, DocumentKind, MovementKind, VisitState
from inventory.errors import AlreadyDone, BadInput, KeyReused, NotAllowed, NotFound
from inventory.service import booking, correcting, filling_in, moving, visits
from inventory.service.correcting import Undone
from inventory.service.moving import Part
from inventory.store.queries import history
from inventory.store.tables import Change
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY
from tests.shelves import TODAY, Shelves

YESTERDAY = TODAY - timedelta(days=1)


def undo(shelves: Shelves, document_id: int | None, **said: Any) -> Undone:
    assert document_id is not None
    return correcting.undo(
        shelves.practice, document_id, **{"reason": "typed twice", "by": "AB", "request_key": shelves.key(), **said}
    )


def opened(shelves: Shelves, lot_id: int, place: str = "Store room") -> int:
    unit = moving.open_unit(shelves.practice, shelves.sealed(lot_id, place), shelves.slip()).opened_id
    assert unit is not None
    return unit


# Once, with a reason


def test_undoing_a_discard_brings_the_stock_back(shelves: Shelves) -> None:
    lot = shelves.lot(3)
    before = shelves.stock(lot)
    moved = moving.discard(shelves.practice, [Part(shelves.sealed(lot), 5_000)], shelves.slip(reason="dropped"))
    result = undo(shelves, moved.document_id)
    assert shelves.stock(lot) == before
    assert result.undone == (moved.document_id,)
    assert [(line.kind, line.qty) for line in result.lines] == [(MovementKind.DISCARD, 5_000)]


def test_an_undoing_needs_a_reason(shelves: Shelves) -> None:
    document = shelves.receive(shelves.lot(), 2)
    with pytest.raises(BadInput, match="reason"):
        undo(shelves, document, reason=" ")


def test_a_document_is_undone_once(shelves: Shelves) -> None:
    document = shelves.receive(shelves.lot(), 2)
    undo(shelves, document)
    with pytest.raises(AlreadyDone, match="by AB on 2026-03-02"):
        undo(shelves, document)


def test_a_second_enter_undoes_nothing_more(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    document = shelves.receive(lot, 2)
    first = undo(shelves, document, request_key="k")
    again = undo(shelves, document, request_key="k")
    assert (again.documents, again.again) == (first.documents, True)
    assert shelves.stock(lot) == {("Store room", None): [10_000]}
    with pytest.raises(KeyReused):
        undo(shelves, document, request_key="k", reason="another reason")


def test_an_undoing_is_not_undone(shelves: Shelves) -> None:
    result = undo(shelves, shelves.receive(shelves.lot(), 2))
    with pytest.raises(NotAllowed, match="Enter again"):
        undo(shelves, result.documents[0])


def test_what_was_never_posted_is_not_found(shelves: Shelves) -> None:
    with pytest.raises(NotFound):
        undo(shelves, 4711)


def test_an_undoing_happened_when_its_document_happened_but_is_recorded_now(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    moved = moving.discard(shelves.practice, [Part(shelves.sealed(lot))], shelves.slip(reason="x", on=YESTERDAY))
    result = undo(shelves, moved.document_id)
    with shelves.practice.reading() as desk:
        (made,) = history.documents(desk.session, result.documents).values()
    assert (made.happened_on, made.recorded_at) == (YESTERDAY, shelves.hands.now)


# Only while it is still there


def test_a_receipt_is_undone_while_all_of_it_stands(shelves: Shelves) -> None:
    lot = shelves.lot()
    document = shelves.receive(lot, 3)
    undo(shelves, document)
    assert shelves.stock(lot) == {}


def test_a_receipt_of_which_something_is_gone_names_what_was_done_since(shelves: Shelves) -> None:
    lot = shelves.lot()
    document = shelves.receive(lot, 3)
    moving.discard(shelves.practice, [Part(shelves.sealed(lot), 5_000)], shelves.slip(reason="dropped"))
    with pytest.raises(NotAllowed, match=r"100 mL of 150 mL left at Store room; since then: discarded .*dropped"):
        undo(shelves, document)


def test_of_two_receipts_of_a_lot_one_is_undone_after_the_other_was_used_up(shelves: Shelves) -> None:
    """Entered twice and noticed late: what is on the shelf covers it, so it can be taken back."""
    lot = shelves.lot(2)
    twice = shelves.receive(lot, 2)
    moving.discard(shelves.practice, [Part(shelves.sealed(lot), 10_000)], shelves.slip(reason="dropped"))
    undo(shelves, twice)
    assert shelves.stock(lot) == {}


def test_an_opening_is_undone_while_its_unit_is_untouched(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    moved = moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip())
    undo(shelves, moved.document_id)
    assert shelves.stock(lot) == {("Store room", None): [10_000]}


def test_an_opening_is_not_undone_once_something_was_used(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    moved = moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip())
    assert moved.opened_id is not None
    use = shelves.use(moved.opened_id, 100)
    with pytest.raises(NotAllowed, match="since then: used"):
        undo(shelves, moved.document_id)
    undo(shelves, use)
    undo(shelves, moved.document_id)
    assert shelves.stock(lot) == {("Store room", None): [10_000]}


def test_an_opening_is_not_undone_once_its_unit_was_counted_though_it_is_full_again(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    moved = moving.open_unit(shelves.practice, shelves.sealed(lot), shelves.slip())
    assert moved.opened_id is not None
    for content in (4_000, 5_000):
        moving.correct_count(shelves.practice, moved.opened_id, content, shelves.slip(reason="weighed"))
    with pytest.raises(NotAllowed, match="count corrected"):
        undo(shelves, moved.document_id)


def test_an_opened_cartridge_carried_elsewhere_comes_back_while_nothing_was_used_there(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    unit = opened(shelves, lot)
    moved = moving.transfer(shelves.practice, [Part(unit)], "Chair 1", shelves.slip())
    assert moved.opened_id is not None
    use = shelves.use(moved.opened_id, 100)
    with pytest.raises(NotAllowed, match="49 mL of 50 mL left at Chair 1"):
        undo(shelves, moved.document_id)
    undo(shelves, use)
    undo(shelves, moved.document_id)
    assert shelves.on_hand(unit) == 5_000


# Counts stay in force


def test_a_count_after_the_mistake_stays_in_force(shelves: Shelves) -> None:
    """3 cartridges came and were entered twice; the shelf was counted: 3. Undoing the second entry leaves 3."""
    lot = shelves.lot()
    shelves.receive(lot, 3)
    twice = shelves.receive(lot, 3)
    shelves.hands.now += timedelta(hours=1)
    moving.correct_count(shelves.practice, shelves.sealed(lot), 15_000, shelves.slip(reason="shelf count"))
    result = undo(shelves, twice)
    assert shelves.stock(lot) == {("Store room", None): [15_000]}
    assert [(line.kind, line.qty) for line in result.lines] == [
        (MovementKind.RECEIPT, -15_000), (MovementKind.COUNT, 15_000),
    ]  # fmt: skip


def test_a_count_before_the_mistake_does_not_cover_it(shelves: Shelves) -> None:
    lot = shelves.lot(3)
    moving.correct_count(shelves.practice, shelves.sealed(lot), 10_000, shelves.slip(reason="shelf count"))
    shelves.hands.now += timedelta(hours=1)
    undo(shelves, shelves.receive(lot, 3))
    assert shelves.stock(lot) == {("Store room", None): [10_000]}


def test_a_count_that_was_undone_itself_covers_nothing(shelves: Shelves) -> None:
    lot = shelves.lot(3)
    twice = shelves.receive(lot, 3)
    shelves.hands.now += timedelta(hours=1)
    count = moving.correct_count(shelves.practice, shelves.sealed(lot), 15_000, shelves.slip(reason="shelf count"))
    undo(shelves, count.document_id)
    undo(shelves, twice)
    assert shelves.stock(lot) == {("Store room", None): [15_000]}


def test_two_mistakes_before_one_count_are_undone_one_after_the_other(shelves: Shelves) -> None:
    lot = shelves.lot()
    mistakes = []
    for _ in range(2):
        shelves.hands.now += timedelta(hours=1)
        mistakes.append(shelves.receive(lot, 3))
    shelves.hands.now += timedelta(hours=1)
    moving.correct_count(shelves.practice, shelves.sealed(lot), 10_000, shelves.slip(reason="shelf count"))
    for mistake in reversed(mistakes):
        undo(shelves, mistake)
    assert shelves.stock(lot) == {("Store room", None): [10_000]}


def test_an_undoing_never_makes_an_opened_cartridge_more_than_full(shelves: Shelves) -> None:
    lot = shelves.lot(1)
    unit = opened(shelves, lot)
    use = shelves.use(unit, 4_500)
    moving.correct_count(shelves.practice, unit, 4_900, shelves.slip(reason="weighed"))  # at the same moment
    with pytest.raises(NotAllowed, match="more than a full unit"):
        undo(shelves, use)


# A visit's booking, as one thing


def undo_booking(clinic: Clinic, document_id: int) -> Undone:
    return correcting.undo(clinic.practice, document_id, reason="wrong case", by=BY, request_key=clinic.key())


@pytest.mark.parametrize("which", [0, 1])
def test_a_booking_is_undone_from_whichever_of_its_documents(clinic: Clinic, which: int) -> None:
    visit = clinic.plan()
    full = {code: clinic.left(code) for code in ("LIGHT-A", "HEAVY-A", "BITE", "T1-UM", "TIP-1")}
    assert all(full.values())
    booked = clinic.book(visit)
    assert len(booked.documents) == 2  # opening and use
    result = undo_booking(clinic, booked.documents[which])
    assert {code: clinic.left(code) for code in full} == full
    assert result.visit_id == visit.visit_id
    assert result.kept == ("What was opened stays open.",)


def test_after_an_undoing_the_visit_is_planned_again_and_can_be_booked_again(clinic: Clinic) -> None:
    visit = clinic.plan()
    booked = clinic.book(visit)
    undo_booking(clinic, booked.documents[-1])
    again = visits.one(clinic.practice, visit.visit_id)
    assert again.state is VisitState.PLANNED
    assert again.version == booked.visit.version + 1
    with pytest.raises(AlreadyDone):
        clinic.post(booking.BookOut(visit.visit_id, booked.visit.version, "operatory 1", ()))
    assert clinic.book(again).visit.state is VisitState.DONE


def test_after_an_undoing_the_visit_has_its_planned_tray_sizes_and_place_again(clinic: Clinic) -> None:
    visit = clinic.plan(upper_size="L", lower_size="M", place="Operatory 2")
    for size in ("M", "L", "M"):
        filling = filling_in.begin(clinic.practice, visit.visit_id, place="operatory 1")
        booked = clinic.post(filling_in.book_out(filling_in.choose_tray(filling, Arch.MAXILLARY, size)))
        assert (booked.visit.upper_size, booked.visit.place) == (size, "operatory 1")
        undo_booking(clinic, booked.documents[-1])
        again = visits.one(clinic.practice, visit.visit_id)
        assert (again.upper_size, again.lower_size, again.place) == ("L", "M", "operatory 2")


def test_the_change_log_says_who_undid_a_visit_and_why(clinic: Clinic) -> None:
    visit = clinic.plan()
    undo_booking(clinic, clinic.book(visit).documents[-1])
    with clinic.practice.reading() as desk:
        last = desk.session.exec(select(Change).where(Change.field == "state").order_by(col(Change.id))).all()[-1]
        assert (last.old, last.new, last.reason) == ("done", "planned", "wrong case")


def test_the_opened_cartridge_stays_open_and_full_of_what_was_given_back(clinic: Clinic) -> None:
    booked = clinic.book(clinic.plan())
    undo_booking(clinic, booked.documents[-1])
    with clinic.practice.reading() as desk:
        opening = history.lines(desk.session, [booked.documents[0]])[booked.documents[0]]
    units = [line for line in opening if line.opened_on is not None]
    assert len(units) == 3
    assert all(unit.on_hand == unit.unit_qty for unit in units)


def test_after_the_use_an_opening_is_undone_too(clinic: Clinic) -> None:
    booked = clinic.book(clinic.plan())
    undo_booking(clinic, booked.documents[0])
    result = undo_booking(clinic, booked.documents[0])
    assert result.undone == (booked.documents[0],)
    assert result.visit_id is None


def test_a_visit_is_undone_by_its_number_and_a_second_enter_undoes_nothing_more(clinic: Clinic) -> None:
    visit = clinic.plan()
    clinic.book(visit)
    said = {"reason": "wrong case", "by": BY, "request_key": clinic.key()}
    first = correcting.undo_visit(clinic.practice, visit.visit_id, **said)
    again = correcting.undo_visit(clinic.practice, visit.visit_id, **said)
    assert (again.documents, again.again) == (first.documents, True)
    with pytest.raises(AlreadyDone):
        correcting.undo_visit(clinic.practice, visit.visit_id, **{**said, "request_key": clinic.key()})
    with pytest.raises(NotFound):
        correcting.undo_visit(clinic.practice, 4711, **said)


def test_a_visit_used_what_others_have_used_since_and_is_undone_all_the_same(clinic: Clinic) -> None:
    first, second = clinic.plan("C-1"), clinic.plan("C-2")
    booked = clinic.book(first)
    clinic.book(second)
    left = clinic.left("LIGHT-A")
    undo_booking(clinic, booked.documents[-1])
    assert clinic.left("LIGHT-A") > left


def booked_with_reusable_tray(shelves: Shelves, visit: int, lot: int) -> int:
    """Book by hand a visit that drew from an opened cartridge and sent a reusable tray to the laboratory."""
    unit = opened(shelves, shelves.lot(1))
    carried = (
        Entry(shelves.sealed(lot), MovementKind.TRANSFER, -1),
        Entry(Sealed(lot, shelves.places["Laboratory"]), MovementKind.TRANSFER, 1),
    )
    return shelves.post(
        Draft(DocumentKind.USE, (Entry(unit, MovementKind.USE, -800),), 2, visit_id=visit),
        Draft(DocumentKind.TRANSFER, carried, 3, visit_id=visit),
    )


def test_a_reusable_tray_comes_back_with_its_visit(shelves: Shelves) -> None:
    lot = shelves.lot(3, item=shelves.tray(reusable=True))
    result = undo(shelves, booked_with_reusable_tray(shelves, shelves.visit(), lot))
    assert shelves.stock(lot) == {("Store room", None): [3]}
    assert len(result.undone) == 2


def test_a_reusable_tray_that_has_moved_on_stays_where_it_is(shelves: Shelves) -> None:
    lot = shelves.lot(3, item=shelves.tray(reusable=True))
    document = booked_with_reusable_tray(shelves, shelves.visit(), lot)
    moving.transfer(shelves.practice, [Part(shelves.sealed(lot, "Laboratory"))], "Reprocessing", shelves.slip())
    result = undo(shelves, document)
    assert shelves.stock(lot) == {("Store room", None): [2], ("Reprocessing", None): [1]}
    assert result.undone == (document,)
    assert result.kept == ("The trays stay where they are now: they have moved on since.",)

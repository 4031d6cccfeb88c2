"""To the laboratory: packed with what the case kind sends, sent in time, answered, and done again where rejected."""

from datetime import UTC, datetime, timedelta

import pytest

from inventory.domain.alerts import Action, Alert, AlertKind
from inventory.domain.parcels import ParcelState
from inventory.domain.vocabulary import BaseUnit, ItemKind, LaboratoryAnswer, RemakeAskedBy, WayOfUse
from inventory.errors import AlreadyDone, BadInput, NeedsConfirmation, NotAllowed, NotFound
from inventory.service import correcting, laboratory, visits, weekly_check
from inventory.service.clock import Clock
from inventory.service.laboratory import Packing, Parcel
from inventory.service.practice import Practice
from inventory.store.tables import Item
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, NOW, TODAY

USUAL = ("final impressions in their trays", "jaw relation record", "laboratory prescription")


def windows(clinic: Clinic, **hours: int | None) -> None:
    """The pour windows of materials by code (with _ for -), and a disinfectant of ten minutes."""
    with clinic.practice.writing() as desk:
        for item in clinic.items(desk):
            if item.code.replace("-", "_") in hours:
                item.pour_within_hours = hours[item.code.replace("-", "_")]
                desk.session.add(item)
        desk.add(
            Item(
                code="DIS", name="Disinfectant", kind=ItemKind.ACCESSORY, base=BaseUnit.CML, unit_qty=100_000,
                unit_name="bottle", way_of_use=WayOfUse.COUNT, contact_minutes=10,
            )
        )  # fmt: skip


@pytest.fixture
def taken(clinic: Clinic) -> int:
    """A visit of today, booked out: the load keeps for seven days, the wash for one."""
    windows(clinic, HEAVY_A=168, LIGHT_A=24)
    visit = clinic.plan()
    clinic.book(visit)
    return visit.visit_id


def at(clinic: Clinic, hours: int) -> Practice:
    """The same practice so many hours later."""
    return Practice(clinic.practice.store, Clock(lambda: NOW + timedelta(hours=hours)))


def packed(clinic: Clinic, visit_id: int, **said: object) -> Parcel:
    packing = Packing(visit_id, ("impressions",), **said)  # type: ignore[arg-type]
    return laboratory.pack(clinic.practice, packing, by=BY)


def test_a_parcel_begins_with_what_the_case_kind_sends(clinic: Clinic, taken: int) -> None:
    found = laboratory.choices(clinic.practice, taken)
    assert (found.parcel.state, found.parcel.contents) == (ParcelState.TO_PACK, USUAL)
    assert [(one.code, one.minutes) for one in found.disinfectants] == [("DIS", 10)]


def test_the_material_that_keeps_for_the_shortest_time_decides_by_when_to_pour(clinic: Clinic, taken: int) -> None:
    parcel = laboratory.of_visit(clinic.practice, taken)
    assert parcel.taken_at == NOW
    assert parcel.pour_by == NOW + timedelta(hours=24)


def test_material_without_a_stated_window_sets_no_end(clinic: Clinic) -> None:
    visit = clinic.plan()
    clinic.book(visit)
    assert laboratory.of_visit(clinic.practice, visit.visit_id).pour_by is None
    late = weekly_check.weekly_check(at(clinic, 24 * 10))
    assert late.count(AlertKind.NOT_SENT) == 0


def test_from_packing_to_the_laboratorys_answer(clinic: Clinic, taken: int) -> None:
    first = packed(clinic, taken, disinfectant="dis")
    assert (first.state, first.contents, first.contact_minutes) == (ParcelState.PACKED, ("impressions",), 10)
    sent = laboratory.send(at(clinic, 2), taken, "courier", by=BY)
    assert (sent.state, sent.carrier, sent.sent_by) == (ParcelState.SENT, "courier", BY)
    assert sent.sent_at == NOW + timedelta(hours=2)
    answered = laboratory.answer(at(clinic, 20), taken, LaboratoryAnswer.RECEIVED, by=BY)
    assert (answered.parcel.state, answered.remake) == (ParcelState.RECEIVED, None)
    assert [one.state for one in laboratory.parcels(at(clinic, 24 * 100)).parcels] == [ParcelState.RECEIVED]


def test_a_rejected_parcel_leads_to_a_remake_that_the_laboratory_asked_for(clinic: Clinic, taken: int) -> None:
    packed(clinic, taken)
    laboratory.send(clinic.practice, taken, "courier", by=BY)
    on = TODAY + timedelta(days=7)

    def reject() -> laboratory.Answered:
        said = LaboratoryAnswer.REJECTED
        return laboratory.answer(clinic.practice, taken, said, note="torn at the border", by=BY, remake_on=on)

    answered, again = reject(), reject()
    assert answered.remake is not None
    assert (answered.remake.remake_of, answered.remake.remake_asked_by) == (taken, RemakeAskedBy.LABORATORY)
    assert (answered.remake.on, answered.remake.upper_size) == (on, "M")
    assert again == answered
    assert len(visits.of_case(clinic.practice, "C-1")) == 2
    with pytest.raises(BadInput, match="note"):
        laboratory.answer(clinic.practice, taken, LaboratoryAnswer.REJECTED, by=BY)
    with pytest.raises(AlreadyDone, match="rejected it already"):
        laboratory.answer(clinic.practice, taken, LaboratoryAnswer.RECEIVED, by=BY)


def test_the_same_said_twice_stays_one_parcel(clinic: Clinic, taken: int) -> None:
    assert packed(clinic, taken) == packed(clinic, taken)
    repacked = laboratory.pack(clinic.practice, Packing(taken, ("impressions", "bite")), by=BY)
    assert repacked.contents == ("impressions", "bite")
    once = laboratory.send(clinic.practice, taken, "post", by=BY)
    assert laboratory.send(at(clinic, 1), taken, "post", by=BY).sent_at == once.sent_at
    with pytest.raises(AlreadyDone, match="by post"):
        laboratory.send(clinic.practice, taken, "courier", by=BY)
    with pytest.raises(NeedsConfirmation, match="another one"):
        packed(clinic, taken)


def test_what_was_said_by_mistake_is_taken_back_with_a_reason(clinic: Clinic, taken: int) -> None:
    packed(clinic, taken)
    laboratory.send(clinic.practice, taken, "post", by=BY)
    laboratory.answer(clinic.practice, taken, LaboratoryAnswer.RECEIVED, by=BY)
    states = [laboratory.take_back(clinic.practice, taken, reason="another case", by=BY).state for _ in range(2)]
    assert states == [ParcelState.SENT, ParcelState.PACKED]
    with pytest.raises(NotAllowed):
        laboratory.take_back(clinic.practice, taken, reason="another case", by=BY)


def test_what_can_not_be_is_refused_by_name(clinic: Clinic, taken: int) -> None:
    practice = clinic.practice
    with pytest.raises(BadInput, match="contents"):
        laboratory.pack(practice, Packing(taken, (" ",)), by=BY)
    with pytest.raises(BadInput, match="no contact time"):
        packed(clinic, taken, disinfectant="BAG")
    with pytest.raises(NeedsConfirmation, match="leaflet states 10"):
        packed(clinic, taken, disinfectant="DIS", contact_minutes=3)
    with pytest.raises(BadInput, match="still to come"):
        packed(clinic, taken, taken_at=NOW + timedelta(hours=1))
    with pytest.raises(NotAllowed, match="Nothing is packed"):
        laboratory.send(practice, taken, "post", by=BY)
    packed(clinic, taken)
    with pytest.raises(NeedsConfirmation, match="had to be poured"):
        laboratory.send(at(clinic, 25), taken, "post", by=BY)
    with pytest.raises(NotAllowed, match="Nothing of case C-1 was sent"):
        laboratory.answer(practice, taken, LaboratoryAnswer.RECEIVED, by=BY)
    with pytest.raises(NotAllowed, match="Book it out first"):
        laboratory.of_visit(practice, clinic.plan("C-2").visit_id)
    with pytest.raises(NotFound):
        laboratory.of_visit(practice, 9999)


def test_an_impression_not_sent_is_a_line_of_the_day_near_its_end_and_when_it_is_past(
    clinic: Clinic, taken: int
) -> None:
    packed(clinic, taken, taken_at=datetime(TODAY.year, TODAY.month, TODAY.day, 7, 30, tzinfo=UTC))
    (near,) = _lines(at(clinic, 8))
    assert near.what.endswith("; packed, not sent")
    assert "to be poured by" in near.what
    assert (near.action, near.visit_id, near.due) == (Action.SEND, taken, TODAY + timedelta(days=1))
    (past,) = _lines(at(clinic, 30))
    assert past.what.startswith("was to be poured by")
    assert (past.why[0].adds_up(), past.why[0].result.value) == (True, -8)
    laboratory.send(at(clinic, 30), taken, "post", by=BY, confirmed=True)
    assert _lines(at(clinic, 31)) == []


def _lines(practice: Practice) -> list[Alert]:
    return [line for line in weekly_check.weekly_check(practice).lines if line.kind is AlertKind.NOT_SENT]


def test_far_from_its_end_nothing_is_said(clinic: Clinic) -> None:
    windows(clinic, HEAVY_A=168, LIGHT_A=168)
    clinic.book(clinic.plan())
    assert _lines(clinic.practice) == []
    assert len(_lines(at(clinic, 145))) == 1


def test_a_case_kind_that_sends_nothing_has_no_parcels(clinic: Clinic, taken: int) -> None:
    kept = laboratory.set_ships(clinic.practice, "final_stock_tray", [" models ", "", "models"], by=BY)
    assert kept.contents == ("models",)
    assert laboratory.of_visit(clinic.practice, taken).contents == ("models",)
    laboratory.set_ships(clinic.practice, "final_stock_tray", [], by=BY)
    assert laboratory.parcels(clinic.practice).parcels == ()
    assert _lines(at(clinic, 30)) == []
    with pytest.raises(NotFound):
        laboratory.set_ships(clinic.practice, "nothing", [], by=BY)


def test_what_is_to_be_poured_first_stands_first(clinic: Clinic) -> None:
    windows(clinic, HEAVY_A=168, LIGHT_A=24)
    earlier = clinic.plan("C-0", on=TODAY - timedelta(days=1))
    clinic.book(earlier, happened_on=TODAY - timedelta(days=1))
    clinic.book(clinic.plan("C-1"))
    assert [one.case_ref for one in laboratory.parcels(clinic.practice).parcels] == ["C-0", "C-1"]
    assert [one.case_ref for one in laboratory.parcels(clinic.practice, case_ref="C-1").parcels] == ["C-1"]
    packed(clinic, earlier.visit_id)
    laboratory.send(clinic.practice, earlier.visit_id, "post", by=BY, confirmed=True)
    found = laboratory.parcels(clinic.practice)
    assert [(one.case_ref, one.state.open) for one in found.parcels] == [("C-1", True), ("C-0", True)]
    assert [one.case_ref for one in laboratory.parcels(clinic.practice, state=ParcelState.SENT).parcels] == ["C-0"]


def test_a_visit_undone_after_packing_has_nothing_to_send(clinic: Clinic) -> None:
    visit = clinic.plan(on=TODAY)
    clinic.book(visit)
    packed(clinic, visit.visit_id)
    correcting.undo_visit(clinic.practice, visit.visit_id, reason="wrong case", by=BY, request_key="undo-1")
    assert laboratory.parcels(clinic.practice).parcels == ()

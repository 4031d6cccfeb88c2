"""To the laboratory on screen: from a booked visit to its parcel, packed, sent, rejected, and planned again."""

from inventory.domain.parcels import ParcelState
from inventory.service import laboratory, visits
from tests.clinic import Clinic
from tests.tui.at_work import at_work, enter, line_with, press, screen


async def test_a_parcel_is_packed_sent_rejected_and_its_visit_planned_again(clinic: Clinic) -> None:
    visit = clinic.plan("C-7")
    clinic.book(visit)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "2", "l")
        assert "to pack  C-7" in line_with(pilot, "C-7")
        await press(pilot, "s")
        assert "Pack it first" in screen(pilot)
        await press(pilot, "enter")
        assert "jaw relation record; laboratory prescription" in line_with(pilot, "In it")
        await press(pilot, "f2")
        assert "packed" in line_with(pilot, "C-7")
        await press(pilot, "enter")
        await enter(pilot, "courier [2]")
        await press(pilot, "f2")
        assert "sent" in line_with(pilot, "C-7")
        await press(pilot, "enter")
        await enter(pilot, "rejected")
        await press(pilot, "f2")
        assert "Nothing was typed" in screen(pilot)
        await enter(pilot, "torn [at] the border")
        await press(pilot, "tab")
        await enter(pilot, "in 1 week")
        await press(pilot, "f2")
        assert "rejected" in line_with(pilot, "C-7")
    parcel = laboratory.of_visit(clinic.practice, visit.visit_id)
    assert (parcel.state, parcel.carrier) == (ParcelState.REJECTED, "courier [2]")
    assert parcel.note == "torn [at] the border"
    assert parcel.remake is not None
    assert visits.one(clinic.practice, parcel.remake).remake_of == visit.visit_id

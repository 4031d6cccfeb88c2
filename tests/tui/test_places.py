"""Places on screen: an operatory gets a level and is topped up; expired stock is taken off the shelves by a walk."""

from datetime import timedelta

from inventory.domain.vocabulary import DocumentKind
from inventory.service import expired, places, tracing
from tests.clinic import Clinic
from tests.service.catalogue_samples import TODAY
from tests.tui.at_work import at_work, enter, line_with, press, screen

YESTERDAY = TODAY - timedelta(days=1)


async def test_an_operatory_gets_a_level_and_is_topped_up_with_one_key(clinic: Clinic) -> None:
    clinic.lot("LIGHT-A", "SPARE", 3, place="store room", use_by=TODAY + timedelta(days=50))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "b")
        assert "operatory 1" in line_with(pilot, "operatory 1")
        await press(pilot, "down", "enter", "v", "shift+tab")
        await enter(pilot, "Light body A, fast (LIGHT-A)")
        await press(pilot, "tab")
        await enter(pilot, "6")
        await press(pilot, "f2")
        assert "4 of 6" in screen(pilot)
        await press(pilot, "t")
        assert "2 cartridges" in line_with(pilot, "SPARE")
        await press(pilot, "enter")
        assert "6 of 6" in screen(pilot)
    assert places.plan(clinic.practice, "operatory 1").picks == ()


async def test_expired_stock_is_taken_off_the_shelves_place_by_place(clinic: Clinic) -> None:
    clinic.lot("LIGHT-A", "OLD[1]", 2, place="store room", use_by=YESTERDAY)
    clinic.lot("HEAVY-A", "OLD-2", 1, place="store room", use_by=YESTERDAY)
    clinic.lot("HEAVY-A", "OLD-3", 1, use_by=YESTERDAY)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "4", "x")
        assert "store room: stop 1 of 2, 2 lines" in screen(pilot)
        await press(pilot, "n", "d", "escape")
        assert "Leave without saving?" in screen(pilot)
        await press(pilot, "n", "f2")  # stay: nothing said is lost
        assert "1 line thrown away, 1 line not there" in screen(pilot)
        await enter(pilot, "bag 7")
        await press(pilot, "f2")
        assert "operatory 1: stop 1 of 1" in screen(pilot)
        await press(pilot, "enter", "f2", "enter")
        assert "Nothing stands expired on any shelf." in screen(pilot)
    assert expired.walk(clinic.practice).stops == ()
    found = tracing.history(clinic.practice, tracing.Filter(), limit=3)
    assert [entry.document.kind for entry in found] == [
        DocumentKind.TRANSFER, DocumentKind.DISCARD, DocumentKind.COUNT,
    ]  # fmt: skip
    assert found[1].document.proof == "bag 7"

"""A recall on screen, from the letter to the file: entered, found, missing, told, answered, destroyed, closed."""

from datetime import timedelta

from inventory.service import notice_work
from inventory.service.notice_work import Worklist
from tests.clinic import Clinic
from tests.service.catalogue_samples import TODAY
from tests.tui.at_work import at_work, enter, line_with, press, screen


def work(clinic: Clinic) -> Worklist:
    return notice_work.worklist(clinic.practice, "FSN 7")


async def test_a_recall_is_entered_by_a_scan_worked_off_key_by_key_and_closed(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-1"))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "4", "l", "n")
        await enter(pilot, "FSN 7")
        await press(pilot, *["enter"] * 3)
        await enter(pilot, (TODAY + timedelta(7)).isoformat())
        pilot.app.screen.query_one("#label").focus()
        await enter(pilot, "heavy-a-1\r")  # as a scanner does
        assert "1. HEAVY-A, lot HEAVY-A-1" in screen(pilot)
        await press(pilot, "f2")
        assert "FSN 7" in screen(pilot)
        assert [lot.number for lot in work(clinic).concerned] == ["HEAVY-A-1"]
        assert "sealed" not in line_with(pilot, "✗ to find")

        await press(pilot, "c")
        assert "can't be closed yet" in screen(pilot)
        await press(pilot, "enter", "enter", "f2")  # the first line is found and set aside
        assert "▵ set aside" in screen(pilot)
        await press(pilot, "m", "f2")  # the other one is nowhere
        assert "to find" not in screen(pilot).replace("to find,", "")
        await press(pilot, "t")
        assert "Patient told" in screen(pilot)
        await press(pilot, "f2", "a")
        await enter(pilot, "e-mail of 10:14")
        await press(pilot, "f2")
        assert "told" in line_with(pilot, "case C-1")
        await press(pilot, "up", "up", "d")
        await enter(pilot, "certificate 4")
        await press(pilot, "f2")
        assert "Nothing is left: c closes it" in screen(pilot)
        await press(pilot, "c", "y")
        assert "Closed." in screen(pilot)
    found = work(clinic)
    assert found.head.closed
    assert [proof.proof for proof in found.proofs] == ["", "", "certificate 4"]


async def test_an_open_notice_stands_first_in_the_week_and_opens_from_there_and_from_stock(clinic: Clinic) -> None:
    from inventory.service import notices  # noqa: PLC0415

    line = notices.ScopeDraft(item="LIGHT-A", lot_from="LIGHT-A-1")
    notices.enter(clinic.practice, notices.NoticeDraft("N [7]", TODAY, (line,)), by="AB")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "4")
        assert "✗ recall notice" in line_with(pilot, "Recall N [7]")
        await press(pilot, "enter")
        assert "N [7] · no class given · open" in screen(pilot)
        await press(pilot, "e")
        assert "names: LIGHT-A Light body A, fast, lot LIGHT-A-1" in screen(pilot)
        await press(pilot, "enter", "escape", "5", "v")
        assert "! open" in line_with(pilot, "N [7]")

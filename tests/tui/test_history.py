"""The history on screen: everything that was posted, told in words, narrowed, and undone with a reason."""

from tests.clinic import Clinic
from tests.tui.at_work import at_work, enter, line_with, press, screen


async def test_a_visit_booked_wrongly_is_undone_and_what_stays_is_said(clinic: Clinic) -> None:
    before = clinic.left("HEAVY-A")
    clinic.book(clinic.plan("C-1"))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "6")
        assert "used for case C-1" in line_with(pilot, "C-1")
        await press(pilot, "u")
        assert "Undo this?" in screen(pilot)
        await enter(pilot, "wrong case")
        await press(pilot, "enter")
        said = " ".join(screen(pilot).split())
        assert "visit is planned again." in said
        assert "undid" in line_with(pilot, "undone for case C-1")
        assert "✗ undone" in line_with(pilot, "used for case C-1")
    assert clinic.left("HEAVY-A") == before


async def test_an_undoing_can_not_be_undone(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-1"))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "6", "u")
        await enter(pilot, "wrong case")
        await press(pilot, "enter")
        await press(pilot, "u")  # the cursor is on the document that is undone now
        assert "This entry was undone, or undoes another one." in screen(pilot)


async def test_without_a_reason_nothing_is_undone(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-1"))
    left = clinic.left("HEAVY-A")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "6", "u", "enter")
        assert "This is needed" in screen(pilot)
        await press(pilot, "escape")
    assert clinic.left("HEAVY-A") == left


async def test_the_history_of_one_case_or_item_shows_only_its_documents(clinic: Clinic) -> None:
    for case in ("C-1", "C-2"):
        clinic.book(clinic.plan(case))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "6", "f")
        await enter(pilot, "case c-2")
        await press(pilot, "enter")
        assert "case C-2: all of them" in screen(pilot)
        assert "case C-1" not in screen(pilot)
        await press(pilot, "x")
        assert "for case C-1" in screen(pilot)
        await press(pilot, "f")
        await enter(pilot, "item bag")
        await press(pilot, "enter")
        assert "item Bag: all of them" in screen(pilot)
        assert "received: Bag" in screen(pilot)


async def test_a_document_tells_every_movement_and_when_it_was_recorded(clinic: Clinic) -> None:
    clinic.lot("BITE", "[x]漢・", 1)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "6", "enter")
        said = " ".join(screen(pilot).replace("│", " ").split())
        assert "recorded 2027-03-10 09:00 UTC" in said
        assert "received 50 mL, Bite registration, fast, lot [x]漢・, operatory 1" in said


async def test_older_documents_are_read_page_by_page(clinic: Clinic) -> None:
    for number in range(101):
        clinic.lot("BAG", f"B-{number}", 1)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "6")
        assert "the newest 100, o reads older ones" in screen(pilot)
        await press(pilot, "o")
        assert "all of them" in screen(pilot)
        await press(pilot, "o")
        assert "There are no older ones." in screen(pilot)

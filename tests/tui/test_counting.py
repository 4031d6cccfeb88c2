"""A round of counting on screen: begun, read line by line and by scanner, something found, reviewed and approved."""

from inventory.service import counting
from tests.clinic import Clinic
from tests.tui.at_work import at_work, enter, line_with, press, rest, screen
from tests.tui.seeing import type_raw

MANY = 4711  # an amount that stands nowhere else


async def test_a_shelf_is_counted_key_by_key_and_by_scanner_and_the_book_is_put_right(clinic: Clinic) -> None:
    clinic.lot("T1-UM", "MANY-TRAYS", MANY)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "c", "n", "enter")
        await enter(pilot, "trays")
        await press(pilot, "f2")
        assert "blind · 0 of 4 lines counted" in line_with(pilot, "Round 1")
        await enter(pilot, "4")
        await press(pilot, "enter")
        await enter(pilot, "4t")
        await press(pilot, "enter")
        assert "Only an opened unit is counted in part" in screen(pilot)
        await press(pilot, "backspace", "down")
        assert "2 of 4 lines counted" in line_with(pilot, "Round 1")
        assert [line.number for line in counting.sheet(clinic.practice, 1).lines] == [4, 4, None, None]

        await press(pilot, "up")
        for _ in range(2):
            type_raw(pilot.app, "MANY-TRAYS\r")  # one scanned, then one more
            await rest(pilot)
        assert "2 of 4" in screen(pilot)
        assert str(MANY) not in screen(pilot)  # what the book expects is not told
        await press(pilot, "enter")
        assert "✓ 2" in line_with(pilot, "MANY-TRAYS")

        await press(pilot, "f3")
        await enter(pilot, "T1-UL")
        await press(pilot, "enter")
        await enter(pilot, "store room")
        await press(pilot, "enter")
        await enter(pilot, "NEW-7")
        await press(pilot, "enter", "enter", "enter")
        await enter(pilot, "6")
        await press(pilot, "enter")
        assert "✓ 6" in line_with(pilot, "NEW-7")

        await press(pilot, "f2")
        assert str(2 - MANY) in line_with(pilot, "MANY-TRAYS")
        assert "1 line not counted" in screen(pilot)
        await press(pilot, "f2")
        await enter(pilot, "a box was never delivered")
        await press(pilot, "enter")
        assert "approved" in line_with(pilot, "trays")
    assert (clinic.left("T1-UM"), clinic.left("T1-UL"), clinic.left("T1-LM")) == (2 + 5, 4 + 6, 4)

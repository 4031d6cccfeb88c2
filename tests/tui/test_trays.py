"""The dentist's look: tray sizes, materials and visits on one screen of 80 by 24, nothing to scroll."""

from tests.clinic import Clinic
from tests.tui.at_work import LARGE, SMALL, at_work, line_with, press, screen
from tui.widgets.table import ListTable


async def test_sizes_materials_and_visits_are_seen_in_one_look(clinic: Clinic) -> None:
    clinic.plan("C-1")
    clinic.plan("C-2", upper_size="M", lower_size="S")  # no lower S is there
    async with at_work(clinic.practice, size=SMALL) as pilot:
        await press(pilot, "3")
        said = screen(pilot)
        assert "1 of 2 visits until" in said
        assert "can't be done (v: why): C-2" in said
        assert "2 visits booked" in line_with(pilot, "Line 1")
        assert "✓ 5" in line_with(pilot, "upper")
        assert "none" in line_with(pilot, "lower")
        assert "✓ enough" in line_with(pilot, "Heavy body A")
        assert all(table.max_scroll_y == 0 for table in pilot.app.screen.query(ListTable))


async def test_a_size_leads_to_its_lots(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "3", "enter")
        assert "Sizes, upper" in screen(pilot)
        await press(pilot, "down", "enter")
        assert pilot.app.current_mode == "stock"
        assert "T1-UM-1" in screen(pilot)


async def test_visits_that_can_not_be_done_are_opened_from_the_list(clinic: Clinic) -> None:
    clinic.plan("C_1/2-x", upper_size="M", lower_size="S")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "3", "v")
        assert "2027-03-10 C_1/2-x:" in screen(pilot)
        await press(pilot, "enter")
        assert "Book out C_1/2-x" in screen(pilot)


async def test_what_to_buy_next_is_seen_with_the_money_in_sizes_nobody_needed(clinic: Clinic) -> None:
    async with at_work(clinic.practice, size=SMALL) as pilot:
        await press(pilot, "3", "n")
        assert "next 10 visits, 0 of them booked" in screen(pilot)
        assert "buy " in screen(pilot)
        assert "try-in, upper: 5.0 of 100" in screen(pilot)
        assert "never" in line_with(pilot, "lower  M")
        await press(pilot, "escape")
        assert "Materials" in screen(pilot)


async def test_visits_possible_from_stock_name_what_runs_out_first(clinic: Clinic) -> None:
    async with at_work(clinic.practice, size=LARGE) as pilot:
        await press(pilot, "3", "k")
        assert "then short of" in screen(pilot)

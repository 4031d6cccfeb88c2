"""What if, on screen: a question, what fails first, and the items that change."""

from datetime import timedelta

from inventory.service import catalogue
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, SUPPLIER, TODAY, box
from tests.tui.at_work import SMALL, at_work, line_with, press, screen
from tui.widgets.table import ListTable


async def test_what_fails_first_when_the_supplier_is_two_weeks_late_is_read_at_once(clinic: Clinic) -> None:
    catalogue.add_supplier(clinic.practice, SUPPLIER, by=BY)
    for code in ("LIGHT-A", "HEAVY-A"):
        catalogue.save_supply(clinic.practice, box(code), by=BY)
    for number in range(5):
        clinic.plan(f"C-{number}", on=TODAY + timedelta(days=4 + number))
    async with at_work(clinic.practice, size=SMALL) as pilot:
        await press(pilot, "4", "i")
        assert "a supplier is late" in line_with(pilot, "What if")
        assert "Supplier North" in line_with(pilot, "Supplier ")
        await press(pilot, "f2")
        assert "First to fail: Heavy body A" in screen(pilot)
        assert "days" in line_with(pilot, "Heavy body A  ")
        assert all(table.max_scroll_y == 0 for table in pilot.app.screen.query(ListTable))
        await press(pilot, "enter")
        assert "days without stock even if ordered today" in screen(pilot)
        await press(pilot, "escape", "escape")
        assert "runs short" in screen(pilot)

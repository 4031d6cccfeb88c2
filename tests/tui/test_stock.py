"""Stock on screen: every item with what is usable of it, narrowed while one types, and the way to its lots."""

from datetime import timedelta

from inventory.service import holding
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, TODAY
from tests.tui.at_work import LARGE, at_work, enter, line_with, press, screen
from tui.widgets.table import ListTable


async def test_every_item_says_what_is_usable_and_the_gravest_of_the_rest(clinic: Clinic) -> None:
    clinic.lot("LIGHT-A", "OLD", 2, use_by=TODAY - timedelta(days=3))
    held = clinic.lot("BITE", "HELD", 1)
    holding.hold(clinic.practice, lot_id=held, reason="leaking", by=BY)
    clinic.lot("HEAVY-A", "SOON", 1, use_by=TODAY + timedelta(days=20))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5")
        assert "✗ 100 mL expired" in line_with(pilot, "LIGHT-A")
        assert "✗ 50 mL on hold" in line_with(pilot, "BITE")
        assert "▵ 50 mL expires soon" in line_with(pilot, "HEAVY-A")
        assert "none there" in line_with(pilot, "POWDER")
        assert "worth EUR" in screen(pilot)


async def test_typing_part_of_a_name_narrows_the_list_and_enter_goes_to_it(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "5", "slash")
        await enter(pilot, "heavy")
        assert "LIGHT-A" not in screen(pilot)
        await press(pilot, "enter", "enter")
        assert "HEAVY-A-1" in screen(pilot)
        assert "✓ in date" in line_with(pilot, "HEAVY-A-1")


async def test_a_line_of_the_week_leads_to_its_lot(clinic: Clinic) -> None:
    lot = clinic.lot("POWDER", "SOON-1", 2, use_by=TODAY + timedelta(days=20))
    async with at_work(clinic.practice, size=LARGE) as pilot:
        await press(pilot, "4")
        table = pilot.app.screen.query_one("#lines", ListTable)
        table.select(next(alert for alert in table.keys if alert.lot_id == lot))
        await press(pilot, "enter")
        assert pilot.app.current_mode == "stock"
        assert "expires soon" in line_with(pilot, "SOON-1")
        await press(pilot, "3", "5", "escape")  # the lots stand there still, and lead back to all items
        assert "part of a name or code" in screen(pilot)

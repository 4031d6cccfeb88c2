"""Pictures on screen: reached from where the question arises, told in words by a key, another item a key away."""

from datetime import timedelta

from inventory.service import setting_up
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, TODAY
from tests.tui.at_work import SMALL, at_work, enter, line_with, press, screen


async def test_the_manager_looks_at_all_lots_then_at_one_items_forecast_and_weeks(clinic: Clinic) -> None:
    setting_up.change_settings(clinic.practice, {"expected_weekly": {"final_stock_tray": 2}}, by=BY)
    clinic.lot("LIGHT-A", "soon", 8, use_by=TODAY + timedelta(days=20))
    async with at_work(clinic.practice, size=SMALL) as pilot:
        await press(pilot, "4", "b")
        assert "█!" in line_with(pilot, "LIGHT-A soon")
        assert "something will be left then" in screen(pilot)
        assert "Light body A, fast, lot soon" not in screen(pilot)
        await press(pilot, "d")
        assert "Light body A, fast, lot soon" in screen(pilot)
        await press(pilot, "d", "f")
        assert "Which item?" in screen(pilot)
        await enter(pilot, "light-a")
        await press(pilot, "enter")
        assert "Forecast of the stock · LIGHT-A" in screen(pilot)
        assert "order at or under" in screen(pilot)
        await press(pilot, "w")
        assert "Use by week · LIGHT-A" in screen(pilot)
        await press(pilot, "escape")
        assert "Expired or recalled material is not used" in screen(pilot)


async def test_sizes_fitted_are_seen_from_the_trays_and_a_forecast_from_the_item_in_stock(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-1"))
    async with at_work(clinic.practice, size=SMALL) as pilot:
        await press(pilot, "3", "f")
        assert "Line 1, upper: 1 fitted, 9 there" in screen(pilot)
        await press(pilot, "escape", "5", "f")
        assert "Forecast of the stock · " in screen(pilot)

"""What to count how often, on screen: from the week's line to the items that are due, why, and their form."""

from datetime import date, timedelta

from inventory.service import counting, item_classes
from inventory.service.practice import Practice
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, TODAY, new_clock
from tests.tui.at_work import at_work, line_with, press, screen


async def test_the_week_leads_to_what_is_due_and_why(clinic: Clinic) -> None:
    item_classes.set_counting(clinic.practice, "BAG", weeks=2, by=BY)
    on: date = TODAY + timedelta(weeks=2, days=1)
    async with at_work(Practice(clinic.practice.store, new_clock(on))) as pilot:
        await press(pilot, "4")
        assert "1 item to count" in line_with(pilot, "▵ count due")
        await press(pilot, "ctrl+end", "enter")
        assert "1 item due to be counted" in screen(pilot)
        assert line_with(pilot, "Bag").split()[1:5] == ["0.00", "C", "essential", "2"]
        await press(pilot, "w")
        assert "set for this item" in screen(pilot)
        await press(pilot, "escape", "d")
        assert "Light body A, fast" in screen(pilot)
        await press(pilot, "c", "y")
        (card,) = counting.rounds(clinic.practice)
        assert (card.scope.items, card.blind) == (("BAG",), True)

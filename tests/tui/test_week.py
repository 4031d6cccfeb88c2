"""The weekly check on screen: one list, most urgent first, and each line dealt with on its key."""

from datetime import timedelta
from typing import Any

from textual.pilot import Pilot

from inventory.domain.alerts import AlertKind
from inventory.domain.vocabulary import UseByReading
from inventory.service import holding, stock_views
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, TODAY
from tests.tui.at_work import LARGE, at_work, enter, line_with, press, screen
from tui.widgets.table import ListTable

PAST = TODAY - timedelta(days=3)


async def on_line(pilot: Pilot[Any], kind: AlertKind) -> None:
    """Put the cursor on the first line of a kind."""
    table = pilot.app.screen.query_one("#lines", ListTable)
    assert table.select(next(alert for alert in table.keys if alert.kind is kind))
    await press(pilot)


async def test_an_expired_lot_is_the_first_line_and_two_keys_discard_it(clinic: Clinic) -> None:
    clinic.plan("C-1", upper_size="L", lower_size="L")  # there is no lower L: the visit is short
    clinic.lot("POWDER", "OLD", 1, use_by=PAST)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "4")
        kinds = [alert.kind for alert in pilot.app.screen.query_one("#lines", ListTable).keys]
        assert kinds == sorted(kinds)
        assert kinds[0] is AlertKind.EXPIRED
        assert "expired 1" in screen(pilot)
        await press(pilot, "enter")
        assert "Powder for preliminary impressions, lot OLD" in " ".join(screen(pilot).split())
        await press(pilot, "f2")
        assert "OLD" not in screen(pilot).split("Discard")[0]
    assert clinic.left("POWDER") == 0


async def test_a_date_nobody_has_read_is_read_from_the_line(clinic: Clinic) -> None:
    clinic.lot("POWDER", "P-1", 1, read=UseByReading.NOT_READ)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "4")
        await on_line(pilot, AlertKind.DATE_NOT_READ)
        await press(pilot, "enter")
        assert "Read the date" in screen(pilot)
        await enter(pilot, "2028-05")
        await press(pilot, "f2")
        assert AlertKind.DATE_NOT_READ not in {
            line.kind for line in pilot.app.screen.query_one("#lines", ListTable).keys
        }
    (lot,) = [line for line in stock_views.lots(clinic.practice).lines if line.lot_number == "P-1"]
    assert lot.use_by_read is UseByReading.MONTH


async def test_why_shows_the_arithmetic_of_what_runs_short_and_r_begins_its_delivery(clinic: Clinic) -> None:
    for number in range(12):
        clinic.plan(f"C-{number}", TODAY + timedelta(days=1 + number % 5))
    async with at_work(clinic.practice, size=LARGE) as pilot:
        await press(pilot, "4")
        await on_line(pilot, AlertKind.RUNS_SHORT)
        alert = pilot.app.screen.query_one("#lines", ListTable).current
        assert alert is not None
        await press(pilot, "w")
        assert "Why:" in screen(pilot)
        assert "=" in screen(pilot)
        await press(pilot, "enter")
        assert "runs out" in screen(pilot)
        await press(pilot, "r")
        assert "Line of the delivery" in screen(pilot)
        assert alert.subject in screen(pilot)


async def test_a_visit_that_is_short_is_opened_and_has_nothing_to_discard(clinic: Clinic) -> None:
    clinic.plan("C-1", upper_size="L", lower_size="L")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "4")
        await on_line(pilot, AlertKind.VISIT_NOT_READY)
        await press(pilot, "d")
        assert "there is nothing to" in screen(pilot)
        await press(pilot, "enter")
        assert "Book out C-1" in screen(pilot)


async def test_a_lot_with_brackets_and_wide_letters_is_shown_as_it_is(clinic: Clinic) -> None:
    clinic.lot("LIGHT-A", "[OLD]漢", 1, use_by=PAST)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "4")
        assert "[OLD]漢" in screen(pilot)


async def test_recalled_stock_is_set_aside_where_nobody_takes_from_it(clinic: Clinic) -> None:
    lot = clinic.lot("LIGHT-A", "BAD", 2)
    holding.hold(clinic.practice, lot_id=lot, reason="notice of the maker", by=BY, recall="N-77")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "4")
        assert "N-77" in line_with(pilot, "✗ recall notice")
        await press(pilot, "down")
        assert "✗ recalled" in screen(pilot)
        await press(pilot, "enter")
        assert "Set aside" in screen(pilot)
        await press(pilot, "f2")
    assert clinic.left("LIGHT-A", "set aside") == 2 * 5000

"""Lots on screen: what can be done with a sealed stack and with an opened unit, each by a small form of its own."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from textual.pilot import Pilot

from inventory.service import catalogue, stock_views
from inventory.service.moving import Slip, open_unit
from inventory.service.stock_views import LotLine
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, TODAY
from tests.tui.at_work import at_work, enter, line_with, press, screen


def lot_line(clinic: Clinic, number: str, place: str = "operatory 1") -> LotLine:
    found = [
        line for line in stock_views.lots(clinic.practice).lines if (line.lot_number, line.place) == (number, place)
    ]
    assert len(found) == 1
    return found[0]


async def to_lots(pilot: Pilot[Any], item: str) -> None:
    """From Stock to the lots of an item."""
    await press(pilot, "5", "slash")
    await enter(pilot, item)
    await press(pilot, "enter", "enter")


async def fill(pilot: Pilot[Any], *texts: str) -> None:
    """Fill in one field after the other, the old text replaced."""
    for text in texts:
        if text:
            await press(pilot, "ctrl+u")
            await enter(pilot, text)
        await press(pilot, "enter")


async def test_one_of_two_expired_cartridges_is_discarded(clinic: Clinic) -> None:
    clinic.lot("POWDER", "OLD", 2, use_by=TODAY - timedelta(days=3))
    async with at_work(clinic.practice) as pilot:
        await to_lots(pilot, "powder")
        assert "✗ expired" in line_with(pilot, "OLD")
        await press(pilot, "d", "shift+tab")
        await fill(pilot, "1", "past its date", "")
        assert "1 bag" in line_with(pilot, "OLD")
    assert clinic.left("POWDER") == 50_000


async def test_nothing_is_discarded_without_a_reason(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await to_lots(pilot, "bite")
        await press(pilot, "d", "f2")
        assert "This is needed" in screen(pilot)
    assert clinic.left("BITE") == 4 * 5000


async def test_a_recalled_lot_is_discarded_with_proof_only_and_what_was_typed_stays(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await to_lots(pilot, "bite")
        await press(pilot, "h")
        await fill(pilot, "notice of the maker", "N-77")
        assert "✗ recalled" in line_with(pilot, "BITE-1")
        await press(pilot, "d")
        await fill(pilot, "recalled", "")
        assert "It is missing" in screen(pilot)
        await fill(pilot, "certificate 12")
        assert "No lot of this item is left anywhere." in screen(pilot)


async def test_a_held_lot_is_released_with_a_reason(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await to_lots(pilot, "bite")
        await press(pilot, "h")
        await fill(pilot, "leaking", "")
        assert "✗ on hold" in line_with(pilot, "BITE-1")
        await press(pilot, "h")
        assert "On hold: leaking" in screen(pilot)
        await fill(pilot, "looked at again")
        assert "✓ in date" in line_with(pilot, "BITE-1")


async def test_sealed_units_move_to_another_place(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await to_lots(pilot, "bite")
        await press(pilot, "m", "shift+tab")
        await fill(pilot, "3", "store room")
        assert "3 cartridges" in line_with(pilot, "store room")
    assert lot_line(clinic, "BITE-1").sealed_units == 1


async def test_a_unit_is_opened_and_its_rest_counted_then_written_off(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await to_lots(pilot, "bite")
        await press(pilot, "o", "enter")
        assert "opened, 50 mL" in screen(pilot)
        await press(pilot, "up", "c")
        assert "the book says 50" in screen(pilot)
        await fill(pilot, "12.5", "less was left")
        assert "opened, 12.5 mL" in screen(pilot)
        await press(pilot, "z")
        await fill(pilot, "", "")
        assert "opened" not in line_with(pilot, "BITE-1")
    assert clinic.left("BITE") == 3 * 5000


async def test_sealed_ones_are_not_written_off_as_a_rest(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await to_lots(pilot, "bite")
        await press(pilot, "z")
        assert "These are sealed." in screen(pilot)


async def test_an_expired_lot_is_opened_only_after_a_question_with_a_reason(clinic: Clinic) -> None:
    clinic.lot("POWDER", "OLD", 2, use_by=TODAY - timedelta(days=3))
    async with at_work(clinic.practice) as pilot:
        await to_lots(pilot, "powder")
        await press(pilot, "o", "enter")
        assert "past its last day of use" in " ".join(screen(pilot).replace("│", " ").split())
        await enter(pilot, "for teaching only")
        await press(pilot, "enter")
    assert [unit.qty for unit in lot_line(clinic, "OLD").opened] == [50_000]


async def test_a_number_typed_wrongly_is_amended_and_the_date_with_it(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await to_lots(pilot, "bite")
        await press(pilot, "e", "shift+tab", "shift+tab")
        await fill(pilot, "[B]漢-1", "2028-07", "read again")
        assert "2028-07 end" in line_with(pilot, "[B]漢-1")
    assert lot_line(clinic, "[B]漢-1").use_by == date(2028, 7, 31)


async def test_sealed_stock_goes_back_to_the_supplier_with_proof(clinic: Clinic) -> None:
    async with at_work(clinic.practice) as pilot:
        await to_lots(pilot, "bite")
        await press(pilot, "s")
        await fill(pilot, "wrong article", "RN-5")
        assert "No lot of this item is left anywhere." in screen(pilot)


async def test_the_story_of_a_lot_names_the_cases_that_used_it_and_what_is_left(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-77"))
    async with at_work(clinic.practice) as pilot:
        await to_lots(pilot, "bite")
        await press(pilot, "enter")
        said = " ".join(screen(pilot).replace("│", " ").split())
        assert "received 200 mL" in said
        assert "Used in 1 case" in said
        assert "left" in said


async def test_an_opened_unit_past_its_days_leaves_the_sealed_ones_in_date(clinic: Clinic) -> None:
    draft = catalogue.item(clinic.practice, "BITE").draft
    catalogue.change_item(
        clinic.practice, "BITE", replace(draft, opened_days=5, opened_days_source="practice rule"), by=BY
    )
    stack = lot_line(clinic, "BITE-1").sealed_id
    assert stack is not None
    open_unit(clinic.practice, stack, Slip("o1", BY, on=TODAY - timedelta(days=9)))
    async with at_work(clinic.practice) as pilot:
        await to_lots(pilot, "bite")
        assert "✗ expired" in line_with(pilot, "opened, 50 mL")
        assert "✓ in date" in line_with(pilot, "3 cartridges")

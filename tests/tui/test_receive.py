"""Receiving on screen: typed from the label, looked through while it is typed, posted once, undone at once."""

from collections.abc import Iterable
from typing import Any

import pytest
from textual.pilot import Pilot

from inventory.domain.catalogue import PackPart
from inventory.service import catalogue, receiving, stock_views
from inventory.service.practice import Practice
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, SUPPLIER, box
from tests.tui.at_work import LARGE, SMALL, at_work, enter, line_with, press, screen
from tui.widgets.fields import Field
from tui.widgets.form import unsaved


@pytest.fixture
def buying(clinic: Clinic) -> Clinic:
    """The clinic with a supplier that sells light body in boxes of two with six tips."""
    catalogue.add_supplier(clinic.practice, SUPPLIER, by=BY)
    catalogue.save_supply(clinic.practice, box("LIGHT-A", contents=(PackPart("TIP-1", 6),)), by=BY)
    return clinic


async def add_line(pilot: Pilot[Any], fields: Iterable[str]) -> None:
    """Add a line: the item, packs, loose units, lot, use-by date and so on, as far as they are given."""
    await press(pilot, "f3")
    for text in fields:
        await enter(pilot, text)
        await press(pilot, "enter")
    await press(pilot, "f2")


async def test_a_delivery_is_received_and_its_further_articles_with_it(buying: Clinic) -> None:
    tips = buying.left("TIP-1")
    async with at_work(buying.practice) as pilot:
        await press(pilot, "5", "r")
        await enter(pilot, "SLIP-7")
        await add_line(pilot, ["light", "2", "", "L9", "2028-05"])
        assert "Light body A, fast  2 packs of 2  L9   2028-05 end" in line_with(pilot, "2 packs")
        await press(pilot, "f2")
        assert "Receive this?" in screen(pilot)
        assert "4 units  Light body A, fast, lot L9, use by: 2028-05 end" in screen(pilot)
        assert "12 units  Mixing tip" in screen(pilot)
        await press(pilot, "enter")
        assert "is in stock (entry" in screen(pilot)
        await press(pilot, "enter")
        assert "Light body A, fast" in line_with(pilot, "LIGHT-A")
        assert "8" in line_with(pilot, "LIGHT-A")
    assert buying.left("LIGHT-A") == 8 * 5000
    assert buying.left("TIP-1") == tips + 12
    (card,) = receiving.deliveries(buying.practice)
    assert card.slip_no == "SLIP-7"


async def test_a_delivery_undone_at_once_leaves_its_lines_to_be_put_right(buying: Clinic) -> None:
    async with at_work(buying.practice) as pilot:
        await press(pilot, "5", "r")
        await add_line(pilot, ["light", "1", "", "L9", "2028-05-31"])
        await press(pilot, "f2", "enter", "u")
        await enter(pilot, "wrong lot")
        await press(pilot, "enter")
        assert buying.left("LIGHT-A") == 4 * 5000
        await press(pilot, "enter", "f2")  # the line again
        await press(pilot, "f2", "enter")
        assert "is in stock (entry" in screen(pilot)
    assert buying.left("LIGHT-A") == 6 * 5000


async def test_what_is_unusual_is_said_while_it_is_typed_and_asked_before_it_is_posted(buying: Clinic) -> None:
    async with at_work(buying.practice) as pilot:
        await press(pilot, "5", "r")
        await add_line(pilot, ["light", "", "3", "OLD", "2027-03-01"])
        assert "its use-by date 2027-03-01 has passed" in screen(pilot)
        await press(pilot, "f2", "enter", "enter")  # Enter says no to what is unusual
        assert buying.left("LIGHT-A") == 4 * 5000
        await press(pilot, "f2", "enter", "y")
        assert "is in stock (entry" in screen(pilot)
    assert buying.left("LIGHT-A") == 7 * 5000


async def test_a_slip_that_was_received_already_is_refused_naming_the_first(buying: Clinic) -> None:
    line = receiving.Arrival(item="LIGHT-A", units=1, lot="L1")
    first = receiving.Delivery(supplier=SUPPLIER.name, lines=(line,), slip_no="S-1")
    receiving.receive(buying.practice, first, by=BY, request_key="first")
    async with at_work(buying.practice) as pilot:
        await press(pilot, "5", "r")
        await enter(pilot, "S-1")
        await add_line(pilot, ["light", "1"])
        assert "Slip S-1 of Supplier North was received already" in screen(pilot)
        await press(pilot, "f2")
        assert "Look at that delivery" in screen(pilot)
    assert buying.left("LIGHT-A") == 5 * 5000


async def test_a_line_needs_either_packs_or_loose_units(buying: Clinic) -> None:
    async with at_work(buying.practice) as pilot:
        await press(pilot, "5", "r")
        await add_line(pilot, ["light"])
        assert "Type either packs or loose units" in " ".join(screen(pilot).replace("│", " ").split())
        await press(pilot, "escape")
        assert not unsaved(pilot.app.screen)


async def test_escape_asks_before_typed_lines_are_lost(buying: Clinic) -> None:
    async with at_work(buying.practice) as pilot:
        await press(pilot, "5", "r")
        await add_line(pilot, ["light", "1"])
        await press(pilot, "escape")
        assert "Leave without saving?" in screen(pilot)
        await press(pilot, "enter", "x", "escape")
        assert "Receive a delivery" not in screen(pilot)


async def test_a_supplier_nobody_knows_yet_is_added_on_the_way(practice: Practice) -> None:
    async with at_work(practice) as pilot:
        await press(pilot, "5", "r")
        assert "No supplier is known yet: F4 adds one." in screen(pilot)
        await press(pilot, "f4")
        await enter(pilot, "Dental South")
        await press(pilot, "enter")
        await enter(pilot, "4")
        await press(pilot, "enter")
        assert pilot.app.screen.query_one("#supplier", Field).value == "Dental South"
    assert [card.draft.lead_days for card in catalogue.suppliers(practice)] == [4]


async def test_a_lot_with_brackets_and_wide_letters_is_kept_as_it_was_typed(buying: Clinic) -> None:
    number = "[b]A[/1]漢"
    async with at_work(buying.practice) as pilot:
        await press(pilot, "5", "r")
        await add_line(pilot, ["light", "1", "", number])
        assert "[b]A[/1]漢" in screen(pilot)
        await press(pilot, "f2", "enter", "enter")
    assert number in {line.lot_number for line in stock_views.lots(buying.practice).lines}


@pytest.mark.parametrize("size", [SMALL, LARGE])
async def test_every_key_of_the_form_is_in_its_footer(buying: Clinic, size: tuple[int, int]) -> None:
    async with at_work(buying.practice, size=size) as pilot:
        await press(pilot, "5", "r")
        await add_line(pilot, ["light", "1"])
        footer = screen(pilot).splitlines()[-1]
        for words in ("Back", "Add a line", "Leave out", "New supplier", "Post", "? Help"):
            assert words in footer

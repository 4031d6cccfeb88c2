"""Orders on screen, as the manager works with them: from the week to a draft, sent, received and given up."""

from dataclasses import replace
from datetime import timedelta

from inventory.domain.vocabulary import OrderState
from inventory.service import catalogue, orders
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, SUPPLIER, TODAY, box
from tests.tui.at_work import at_work, enter, line_with, press, screen


def busy(clinic: Clinic) -> None:
    """Heavy body runs short; its supplier delivers free from 250.00 on."""
    terms = replace(SUPPLIER, fee_cents=900, free_from_cents=25_000)
    catalogue.add_supplier(clinic.practice, terms, by=BY)
    for code in ("HEAVY-A", "LIGHT-A"):
        catalogue.save_supply(clinic.practice, box(code), by=BY)
    for day in range(1, 15):
        clinic.plan(f"C-{day}", on=TODAY + timedelta(days=day % 7 + 1))


async def test_a_proposal_is_changed_key_by_key_saved_sent_and_received(clinic: Clinic) -> None:
    busy(clinic)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "4", "o")
        assert "to order" in line_with(pilot, "Supplier North")
        await press(pilot, "enter")
        assert "New order, Supplier North" in screen(pilot)
        await press(pilot, "1")  # typed over what is proposed for the first line
        assert "short of free delivery" in screen(pilot)
        lasted = line_with(pilot, "Heavy body A").split()[-2]
        await enter(pilot, "0")
        assert "delivery free from 250.00 on" in screen(pilot)
        assert line_with(pilot, "Heavy body A").split()[-2] > lasted
        await press(pilot, "down", "0", "f2", "enter")  # nothing of the other one
        (order,) = orders.orders(clinic.practice)
        assert [(line.code, line.packs) for line in order.lines] == [("HEAVY-A", 10)]
        assert "O-0001" in line_with(pilot, "draft")
        await press(pilot, "s", "f2")
        assert "O-0001" in line_with(pilot, "◦ sent")
        await press(pilot, "r")
        assert "O-0001: 20 x Heavy bo" in line_with(pilot, "For order")
        await press(pilot, "escape", "x")
        await enter(pilot, "the supplier has none")
        await press(pilot, "enter")
        assert "cancelled" in line_with(pilot, "O-0001")
    assert orders.order(clinic.practice, "O-0001").state is OrderState.CANCELLED

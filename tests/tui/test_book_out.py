"""Booking out on screen: what really left the shelf, said with as few keys as possible."""

from dataclasses import replace
from datetime import timedelta
from typing import Any
from unittest.mock import DEFAULT, Mock

import pytest
from textual.pilot import Pilot

from inventory.domain.vocabulary import PlaceRole, UseByReading, VisitState
from inventory.errors import StockChanged
from inventory.service import booking, catalogue, correcting, holding, setting_up, visit_desk, visits
from inventory.service.booking import UsedLot
from inventory.service.setting_up import PlaceDraft
from inventory.service.visits import VisitCard
from tests.clinic import FAR, Clinic
from tests.service.catalogue_samples import BY, LIGHT, TODAY
from tests.tui.at_work import LARGE, at_work, enter, line_with, press, rest, screen
from tests.tui.seeing import type_raw
from tui.widgets.safe_input import SCAN_GAP
from tui.widgets.table import ListTable

LOAD_UPPER = 2  # the line of the upper tray load: behind the two trays
WASH_UPPER = 6


def used(clinic: Clinic, card: VisitCard) -> tuple[UsedLot, ...]:
    return visit_desk.record(clinic.practice, card.visit_id).lots


def of_step(lots: tuple[UsedLot, ...], step: str) -> list[UsedLot]:
    """The material that a step took, its tips left out."""
    return [lot for lot in lots if lot.step == step and lot.item != "Mixing tip, 1:1"]


async def to_line(pilot: Pilot[Any], number: int) -> None:
    pilot.app.screen.query_one("#lines", ListTable).move_cursor(row=number)
    await rest(pilot)


async def book(pilot: Pilot[Any]) -> None:
    await press(pilot, "f2", "enter")


async def test_the_form_is_prefilled_line_by_line(clinic: Clinic) -> None:
    clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        seen = screen(pilot).splitlines()
    assert seen[1:19] == [
        " Book out C-1 · today · operatory 1 · Final impressions, stock tray, with jaw …",
        " Step                   Arch            Used    Amount  Lot        Lot read",
        " Stock tray             upper         size M            T1-UM-1    ◦ assumed",
        " Stock tray             lower         size M            T1-LM-1    ◦ assumed",
        " Tray load with border  upper  0.5 cartridge  26.15 mL  HEAVY-A-1  ◦ assumed",
        "   mixing tip           upper              1            tips       ◦ assumed",
        " Tray load with border  lower  0.4 cartridge  18.15 mL  HEAVY-A-1  ◦ assumed",
        "   mixing tip           lower              1            tips       ◦ assumed",
        " Wash                   upper  0.2 cartridge  11.15 mL  LIGHT-A-1  ◦ assumed",
        "   mixing tip           upper              1            tips       ◦ assumed",
        " Wash                   lower  0.2 cartridge   8.15 mL  LIGHT-A-1  ◦ assumed",
        "   mixing tip           lower              1            tips       ◦ assumed",
        " Jaw relation record    -      0.1 cartridge   7.15 mL  BITE-1     ◦ assumed",
        "   mixing tip           -                  1            tips       ◦ assumed",
        " Bag                    -                  1            bags       ◦ assumed",
        "",
        "",
        "",
    ]
    assert seen[19:] == [
        " Tray, Line 1, upper M · lot T1-UM-1 · date none stated · operatory 1",
        " expected 1 pcs · left there 4 pcs",
        " Expired or recalled material is not used; the maker's instructions rule.",
        " Scan a label or type a lot number: it picks and confirms that lot",
        " f2 Book out  + - A tenth more or less  l Lot  c Lot read  t Retake  ? Help",
    ]


async def test_plus_and_minus_change_the_amount_by_a_tenth_of_a_cartridge(clinic: Clinic) -> None:
    card = clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        await to_line(pilot, LOAD_UPPER)
        await press(pilot, "plus", "plus", "minus")
        assert "31.15 mL" in line_with(pilot, "Tray load with border  upper")
        await book(pilot)
    assert of_step(used(clinic, card), "load")[0].qty == 3115


@pytest.mark.parametrize(
    ("typed", "qty"),
    [("12.5", 1250), ("12,5", 1250), ("3t", 1500), ("left 4t", 3000), ("left 20", 3000), ("0", 0)],
)
async def test_an_amount_is_typed_as_people_say_it(clinic: Clinic, typed: str, qty: int) -> None:
    """A reline takes one cartridge of 50 mL: what is left of it says what was used."""
    card = clinic.plan("C-1", case_kind="reline", lower=False, upper_size=None, lower_size=None)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "enter")
        await enter(pilot, typed)
        await press(pilot, "enter")
        await book(pilot)
    assert [lot.qty for lot in of_step(used(clinic, card), "wash")] == ([qty] if qty else [])


async def test_an_amount_that_cannot_be_read_is_said_beside_it_and_nothing_changes(clinic: Clinic) -> None:
    clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        await to_line(pilot, LOAD_UPPER)
        await press(pilot, "enter")
        await enter(pilot, "a lot")
        await press(pilot, "enter")
        assert "can't be read" in screen(pilot)
        await press(pilot, "escape")
        assert "26.15 mL" in line_with(pilot, "Tray load with border  upper")


async def test_another_lot_is_chosen_in_issue_order_and_counts_as_read(clinic: Clinic) -> None:
    clinic.lot("HEAVY-A", "HEAVY-2", 3, use_by=FAR + timedelta(days=30))
    card = clinic.plan("C-1")
    async with at_work(clinic.practice, size=LARGE) as pilot:
        await press(pilot, "enter")
        await to_line(pilot, LOAD_UPPER)
        await press(pilot, "l")
        offered = screen(pilot)
        assert offered.index("HEAVY-A-1 · 2028-06-30") < offered.index("HEAVY-2 · 2028-07-30")
        assert "goes first" in line_with(pilot, "HEAVY-A-1 · 2028")
        await enter(pilot, "heavy-2")
        await press(pilot, "enter")
        assert "✓ read" in line_with(pilot, "HEAVY-2")
        assert "HEAVY-A-1 of Heavy body A should go first" in screen(pilot)
        await book(pilot)
    load = of_step(used(clinic, card), "load")
    assert [(lot.lot_number, lot.lot_confirmed) for lot in load] == [("HEAVY-2", True), ("HEAVY-A-1", False)]


async def test_an_expired_lot_is_marked_asked_about_and_booked_only_with_a_reason(clinic: Clinic) -> None:
    clinic.lot("HEAVY-A", "OLD", 1, use_by=TODAY - timedelta(days=1))
    card = clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        await to_line(pilot, LOAD_UPPER)
        await press(pilot, "l")
        assert "! expired · OLD" in screen(pilot)
        await enter(pilot, "old")
        await press(pilot, "enter")
        assert "This lot is expired" in screen(pilot)
        await press(pilot, "enter")
        assert "HEAVY-A-1" in line_with(pilot, "Tray load with border  upper"), "Enter alone keeps the usable lot"
        await press(pilot, "l")
        await enter(pilot, "old")
        await press(pilot, "enter", "y")
        assert "✗ expired" in line_with(pilot, "OLD")
        await book(pilot)
        assert "Please confirm" in screen(pilot)
        assert visits.one(clinic.practice, card.visit_id).state is VisitState.PLANNED
        await enter(pilot, "no other within reach")
        await press(pilot, "enter")
        assert "Booked out: C-1" in screen(pilot)
    late = [lot for lot in used(clinic, card) if lot.late_reason is not None]
    assert [lot.lot_number for lot in late] == ["OLD"]


async def test_saying_no_to_a_late_lot_posts_nothing_and_keeps_the_form(clinic: Clinic) -> None:
    lot_id = clinic.lot("HEAVY-A", "HELD", 1, use_by=TODAY)
    clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        await to_line(pilot, LOAD_UPPER)
        await press(pilot, "l")
        await enter(pilot, "held")
        await press(pilot, "enter")
        holding.hold(clinic.practice, lot_id=lot_id, reason="call from the maker", by=BY)
        before = clinic.left("HEAVY-A")
        await book(pilot)
        assert "held" in screen(pilot)
        await press(pilot, "escape")
        assert "Book out C-1 ·" in screen(pilot)
        assert clinic.left("HEAVY-A") == before


async def test_a_retake_is_one_key_and_takes_material_and_tip_again(clinic: Clinic) -> None:
    card = clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        await to_line(pilot, WASH_UPPER)
        await press(pilot, "plus", "t")
        assert "2nd Wash" in screen(pilot)
        assert "16.15 mL" in line_with(pilot, " Wash"), "what was said before stays"
        await book(pilot)
    washes = [(lot.arch, lot.attempt) for lot in of_step(used(clinic, card), "wash")]
    assert washes == [("maxillary", 1), ("maxillary", 2), ("mandibular", 1)]
    assert sum(lot.qty for lot in used(clinic, card) if lot.item == "Mixing tip, 1:1") == 6


async def test_a_tray_tried_and_not_used_is_thrown_away_and_another_size_fitted(clinic: Clinic) -> None:
    card = clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "z")
        await enter(pilot, "upper m tried")
        await press(pilot, "enter", "enter")
        await enter(pilot, "upper l fitted")
        await press(pilot, "enter")
        assert "thrown away" in line_with(pilot, "Tray tried in vain")
        await book(pilot)
    assert clinic.left("T1-UM") == 4
    assert clinic.left("T1-UL") == 4
    assert visits.one(clinic.practice, card.visit_id).upper_size == "L"


async def test_what_was_noted_as_tried_can_be_taken_back(clinic: Clinic) -> None:
    clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "z")
        await enter(pilot, "upper m tried")
        await press(pilot, "enter", "z")
        await enter(pilot, "take back")
        await press(pilot, "enter")
        assert "Tray tried" not in screen(pilot)


async def test_an_unknown_tray_size_is_asked_before_anything_is_booked(clinic: Clinic) -> None:
    clinic.plan("C-1", upper_size=None, lower_size=None)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        assert "! no size" in line_with(pilot, "Stock tray")
        await press(pilot, "f2")
        assert "Stock tray upper: its size is not said" in screen(pilot)
        await press(pilot, "enter")
        await enter(pilot, "upper m fitted")
        await press(pilot, "enter", "down", "enter")
        await enter(pilot, "lower m fitted")
        await press(pilot, "enter")
        await book(pilot)
        assert "Booked out: C-1" in screen(pilot)


async def test_a_line_left_out_takes_its_tip_with_it_and_comes_back(clinic: Clinic) -> None:
    card = clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        await to_line(pilot, WASH_UPPER)
        await press(pilot, "0")
        assert screen(pilot).count("left out") == 2
        await press(pilot, "0")
        assert screen(pilot).count("left out") == 0
        await press(pilot, "0")
        await book(pilot)
    assert [lot.arch for lot in of_step(used(clinic, card), "wash")] == ["mandibular"]


async def test_only_one_arch_was_done(clinic: Clinic) -> None:
    card = clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        await press(pilot, "o")
        await book(pilot)
    assert {lot.arch for lot in used(clinic, card)} == {"maxillary", None}


async def test_a_scanned_lot_number_picks_and_confirms_its_lot_wherever_the_focus_is(clinic: Clinic) -> None:
    clinic.lot("LIGHT-A", "LIGHT-BATCH-77", 2, use_by=FAR + timedelta(days=5))
    card = clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        type_raw(pilot.app, "LIGHT-BATCH-77\r")
        await pilot.pause(3 * SCAN_GAP)
        await rest(pilot)
        assert screen(pilot).count("LIGHT-BATCH-77") >= 1
        assert "Book out C-1" in screen(pilot)
        await book(pilot)
    washes = of_step(used(clinic, card), "wash")
    assert {(lot.lot_number, lot.lot_confirmed) for lot in washes} == {("LIGHT-BATCH-77", True)}


async def test_a_lot_that_is_not_there_changes_nothing_and_a_typed_one_is_taken_before_the_summary(
    clinic: Clinic,
) -> None:
    clinic.lot("LIGHT-A", "LIGHT-BATCH-77", 2, use_by=FAR + timedelta(days=5))
    card = clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        pilot.app.screen.query_one("#scan").focus()
        type_raw(pilot.app, "NOBODY-KNOWS-IT\r")
        await pilot.pause(3 * SCAN_GAP)
        await rest(pilot)
        assert "NOBODY-KNOWS-IT" in screen(pilot)
        assert "✓ read" not in screen(pilot)
        await enter(pilot, "PO999")  # typed in the label field, not taken
        await press(pilot, "f2")
        assert line_with(pilot, "! No lot").startswith("! No lot in the book has the number 'PO999'")
        assert "a lot that is not in the book" in " ".join(screen(pilot).split())
        assert screen(pilot).splitlines()[-2] == " PO999", "it waits to be put right"
        await press(pilot, *["backspace"] * len("PO999"))
        await enter(pilot, "LIGHT-BATCH-77")
        await press(pilot, "f2", "enter")
    washes = of_step(used(clinic, card), "wash")
    assert {(lot.lot_number, lot.lot_confirmed) for lot in washes} == {("LIGHT-BATCH-77", True)}


async def test_a_lot_that_nobody_had_entered_is_recorded_as_found(clinic: Clinic) -> None:
    card = clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        await to_line(pilot, LOAD_UPPER)
        await press(pilot, "l")
        await enter(pilot, "not in the book")
        await press(pilot, "enter")
        await enter(pilot, "X-1 [b]")
        await press(pilot, "enter")
        await enter(pilot, "2028-05")
        await press(pilot, "enter")
        await book(pilot)
        assert "stock found" in screen(pilot)
        await press(pilot, "y")
        assert "Booked out: C-1" in screen(pilot)
    (found,) = [lot for lot in used(clinic, card) if lot.lot_number == "X-1 [b]"]
    assert (found.qty, found.use_by_read) == (2615, UseByReading.MONTH)


async def test_the_rest_of_a_load_came_from_a_second_lot(clinic: Clinic) -> None:
    clinic.lot("HEAVY-A", "HEAVY-2", 3, use_by=FAR + timedelta(days=30))
    card = clinic.plan("C-1", lower=False)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        await to_line(pilot, 1)
        await press(pilot, "a")
        await enter(pilot, "heavy-2")
        await press(pilot, "enter")
        await enter(pilot, "1t")
        await press(pilot, "enter")
        await book(pilot)
    assert [(lot.lot_number, lot.qty) for lot in of_step(used(clinic, card), "load")] == [
        ("HEAVY-A-1", 2615),
        ("HEAVY-2", 500),
    ]


async def test_something_that_the_form_does_not_expect_can_be_added(clinic: Clinic) -> None:
    card = clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "w")
        await enter(pilot, "bags")
        await press(pilot, "enter")
        await enter(pilot, "2")
        await press(pilot, "enter")
        await book(pilot)
    assert sum(lot.qty for lot in used(clinic, card) if lot.item == "Bag") == 3


async def test_materials_of_two_families_in_one_case_get_a_warning_before_and_in_the_record(clinic: Clinic) -> None:
    other = replace(LIGHT, code="OTHER", name="Light body B", family="polyether")
    catalogue.add_item(clinic.practice, other, by=BY)
    clinic.lot("OTHER", "PE-1", 1, use_by=FAR)
    clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        await to_line(pilot, WASH_UPPER)
        await press(pilot, "l")
        await enter(pilot, "pe-1")
        await press(pilot, "enter")
        assert "different families" in screen(pilot)
        await book(pilot)
        assert "different families" in screen(pilot)


async def test_a_second_enter_posts_nothing_more(clinic: Clinic) -> None:
    clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "f2")
        await pilot.press("enter", "enter", "enter")
        await rest(pilot)
    assert clinic.left("HEAVY-A") == 20_000 - 2615 - 1815


async def test_a_colleagues_booking_is_noticed_and_named(clinic: Clinic) -> None:
    card = clinic.plan("C-1")
    async with at_work(clinic.practice, by="CD") as pilot:
        await press(pilot, "enter")
        clinic.book(card)
        await book(pilot)
        assert "done already by AB" in screen(pilot)
        await press(pilot, "enter")
        assert "done by AB" in line_with(pilot, "C-1")
    assert clinic.left("HEAVY-A") == 20_000 - 2615 - 1815


async def test_a_visit_booked_out_late_happened_on_its_own_day_until_somebody_says_otherwise(clinic: Clinic) -> None:
    yesterday = TODAY - timedelta(days=1)
    card = clinic.plan("C-1", yesterday)
    async with at_work(clinic.practice, size=LARGE) as pilot:
        await press(pilot, "enter")
        assert "Book out C-1 · yesterday" in screen(pilot)
        await press(pilot, "d")
        await enter(pilot, "tomorrow")
        await press(pilot, "enter")
        assert "That day is still to" in screen(pilot)
        await press(pilot, "escape")
        await book(pilot)
    with clinic.practice.reading() as desk:
        from inventory.store.queries import history  # noqa: PLC0415

        assert {one.happened_on for one in history.of_visit(desk.session, card.visit_id)} == {yesterday}


async def test_another_place_starts_from_what_stands_there(clinic: Clinic) -> None:
    clinic.lot("HEAVY-A", "AT-TWO", 2, place="operatory 2", use_by=FAR)
    clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "p")
        await enter(pilot, "2")
        await press(pilot, "enter")
        assert "· operatory 2 ·" in screen(pilot)
        assert "AT-TWO" in line_with(pilot, "Tray load")


async def test_undo_is_offered_after_booking_and_plans_the_visit_again(clinic: Clinic) -> None:
    card = clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "f2", "enter", "u")
        await press(pilot, "enter")
        assert "needed" in screen(pilot), "no undoing without a reason"
        await enter(pilot, "wrong case")
        await press(pilot, "enter")
        assert "✓ ready" in line_with(pilot, "C-1")
    assert visits.one(clinic.practice, card.visit_id).state is VisitState.PLANNED
    assert clinic.left("HEAVY-A") == 20_000


async def test_an_undoing_thought_better_of_leaves_the_booking_and_the_form(clinic: Clinic) -> None:
    clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "f2", "enter", "u", "escape")
        assert "✓ done by AB" in line_with(pilot, "C-1")


async def test_an_undoing_that_is_not_possible_any_more_is_said_and_the_form_is_left(clinic: Clinic) -> None:
    card = clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "f2", "enter", "u")
        correcting.undo_visit(clinic.practice, card.visit_id, reason="wrong case", by="CD", request_key="colleague")
        await enter(pilot, "wrong case")
        await press(pilot, "enter")
        assert "No booking of this visit stands" in screen(pilot)
        await press(pilot, "enter")
        assert "✓ ready" in line_with(pilot, "C-1")


async def test_stock_that_a_colleague_took_meanwhile_makes_the_form_ask_anew_and_keeps_what_was_said(
    clinic: Clinic, monkeypatch: pytest.MonkeyPatch
) -> None:
    clinic.plan("C-1")
    answers = [StockChanged("Somebody else took it.", "Look again."), DEFAULT]
    monkeypatch.setattr(booking, "book_out", Mock(side_effect=answers, wraps=booking.book_out))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        await to_line(pilot, LOAD_UPPER)
        await press(pilot, "plus")
        await book(pilot)
        assert "Somebody else took it" in screen(pilot)
        await press(pilot, "enter")
        assert "31.15 mL" in line_with(pilot, "Tray load with border  upper")
        await book(pilot)
        assert "Booked out: C-1" in screen(pilot)


async def test_text_with_brackets_control_and_wide_signs_is_shown_as_it_is_on_every_way_of_a_visit(
    clinic: Clinic,
) -> None:
    """Items, lots, places and notes may hold anything; nothing of it is read as a style or breaks a line."""
    weird = "[red]漢[/a"
    setting_up.add_place(clinic.practice, PlaceDraft(f"op {weird}", PlaceRole.CHAIR), by=BY)
    catalogue.add_item(clinic.practice, replace(LIGHT, code="ODD", name=f"Odd {weird}"), by=BY)
    clinic.lot("ODD", f"L{weird}\x1b\u202e", 2, use_by=FAR, place=f"op {weird}")
    card = clinic.plan("C-1", place=f"op {weird}", note=f"note {weird}")
    clinic.plan("C-2", TODAY + timedelta(days=1), place=f"op {weird}")
    async with at_work(clinic.practice, size=LARGE) as pilot:
        assert f"note {weird}" in screen(pilot)
        await press(pilot, "enter")
        assert f"· op {weird} ·" in screen(pilot)
        await to_line(pilot, WASH_UPPER)
        await press(pilot, "l")
        await enter(pilot, "漢")
        assert f"L{weird}␛\N{REPLACEMENT CHARACTER}" in screen(pilot)
        await press(pilot, "enter", "p")
        await enter(pilot, "operatory 1")
        await press(pilot, "enter", "f2")
        assert f"Odd {weird}" in screen(pilot)
        await press(pilot, "enter")
        await press(pilot, "enter")
        assert visits.one(clinic.practice, card.visit_id).state is VisitState.DONE
        await press(pilot, "down", "enter")
        assert f"op {weird}" in screen(pilot)
        await press(pilot, "escape", "2", "f", "enter")
        assert f"Odd {weird} · lot L{weird}" in screen(pilot) or f"L{weird}␛" in screen(pilot)
        assert f"Note: note {weird}" in screen(pilot)


async def test_leaving_asks_only_where_something_was_said(clinic: Clinic) -> None:
    clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "escape")
        assert "Weekly check" in screen(pilot)
        await press(pilot, "enter", "c", "escape")
        assert "Leave without saving?" in screen(pilot)
        await press(pilot, "y")
        assert "Weekly check" in screen(pilot)


async def test_a_clinic_day_of_the_assistant(clinic: Clinic) -> None:
    """Four visits: as expected, one retake, one other lot by scan, one cancelled; then the record is looked at."""
    clinic.lot("LIGHT-A", "LIGHT-BATCH-77", 2, use_by=FAR + timedelta(days=5))
    cards = [clinic.plan(f"C-{number}") for number in range(1, 5)]
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "f2", "enter", "enter")
        await press(pilot, "enter")
        await to_line(pilot, WASH_UPPER)
        await press(pilot, "t", "f2", "enter", "enter")
        await press(pilot, "enter")
        type_raw(pilot.app, "LIGHT-BATCH-77\r")
        await pilot.pause(3 * SCAN_GAP)
        await press(pilot, "f2", "enter", "enter")
        await press(pilot, "2", "x")
        await enter(pilot, "ill")
        await press(pilot, "enter")
        await press(pilot, "1", "enter")
    states = [visits.one(clinic.practice, card.visit_id).state for card in cards]
    assert states == [VisitState.DONE] * 3 + [VisitState.CANCELLED]

"""The list of visits: planned, changed, cancelled, undone and done again at the desk."""

from datetime import timedelta
from typing import Any, cast

import pytest
from textual.pilot import Pilot

from inventory.domain.vocabulary import RemakeAskedBy, VisitState
from inventory.service import visit_desk, visits
from inventory.service.practice import Practice
from inventory.service.visits import VisitCard
from tests.clinic import Clinic
from tests.service.catalogue_samples import TODAY
from tests.tui.at_work import LARGE, SMALL, at_work, enter, line_with, press, screen
from tui.screens.base import StockScreen
from tui.widgets.safe_input import SafeInput
from tui.widgets.table import ListTable

YESTERDAY, TOMORROW = TODAY - timedelta(days=1), TODAY + timedelta(days=1)


def only_visit(practice: Practice) -> VisitCard:
    (card,) = visit_desk.visit_list(practice).visits
    return card


async def fill(pilot: Pilot[Any], *answers: str) -> None:
    """Type an answer into each field, Enter to the next one."""
    for answer in answers:
        if answer:
            await enter(pilot, answer)
        await press(pilot, "enter")


async def test_the_list_shows_planned_visits_by_date(clinic: Clinic) -> None:
    clinic.plan("C-2", TODAY)
    clinic.plan("C-1", YESTERDAY)
    clinic.book(clinic.plan("C-3", TODAY))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "2")
        assert screen(pilot).splitlines()[2:7] == [
            "  planned  done  cancelled  all   part of a case reference",
            "",
            " Day        Case  Visit              Arches            Place  State",
            " yesterday  C-1   Final impression…  upper M, lower M  -      ▵ not booked out",
            " today      C-2   Final impression…  upper M, lower M  -      ◦ planned",
        ]
        await press(pilot, "f")
        assert "✓ done by AB" in line_with(pilot, "C-3")
        assert "C-1" not in screen(pilot)


async def test_a_list_without_visits_says_how_to_plan_one(practice: Practice) -> None:
    async with at_work(practice) as pilot:
        await press(pilot, "2")
        assert "No visits here (planned). Plan one with n." in screen(pilot)


async def test_typing_part_of_a_case_reference_narrows_the_list(clinic: Clinic) -> None:
    clinic.plan("KB-204")
    clinic.plan("KB-311")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "2", "slash")
        await enter(pilot, "b-3")
        await pilot.pause(0.3)
        await press(pilot, "enter")
        assert "KB-311" in screen(pilot)
        assert "KB-204" not in screen(pilot)
        assert pilot.app.screen.query_one(ListTable).has_focus


async def test_a_visit_is_planned_with_the_keyboard_alone(practice: Practice) -> None:
    async with at_work(practice) as pilot:
        await press(pilot, "2", "n")
        assert "No patient names" in screen(pilot)
        await fill(pilot, "KB-12", "tomorrow", "stock tray, with", "", "m", "l", "operatory 1", "denture old")
        assert "Final impressions, stock tray, with jaw relation record" in screen(pilot)
        assert "upper M, lower L" in screen(pilot)
        assert only_visit_or_none(practice) is None, "nothing is saved before the summary is confirmed"
        await press(pilot, "enter")
        assert "tomorrow" in line_with(pilot, "KB-12")
    card = only_visit(practice)
    assert (card.case_ref, card.on, card.case_kind) == ("KB-12", TOMORROW, "final_stock_tray")
    assert (card.upper_size, card.lower_size, card.place, card.note) == ("M", "L", "operatory 1", "denture old")


def only_visit_or_none(practice: Practice) -> VisitCard | None:
    return next(iter(visit_desk.visit_list(practice).visits), None)


async def test_f2_saves_from_any_field_and_says_what_is_still_needed(practice: Practice) -> None:
    async with at_work(practice) as pilot:
        await press(pilot, "2", "n")
        await enter(pilot, "KB-12")
        await press(pilot, "f2")
        assert screen(pilot).count("This is needed") == 2
        await enter(pilot, "fri")
        assert "Fri 2027-03-12, in 2 days" in screen(pilot)


async def test_what_looks_like_a_name_is_refused_beside_its_field(practice: Practice) -> None:
    async with at_work(practice) as pilot:
        await press(pilot, "2", "n")
        await enter(pilot, "Somebody")
        await press(pilot, "tab")
        assert "! 'Somebody' is not a reference." in screen(pilot)
        assert line_with(pilot, "Case reference") == "Case reference   Somebody", "what was typed stays in sight"
        assert "Kind of visit" in screen(pilot), "the form is still there"
    assert only_visit_or_none(practice) is None


async def test_only_the_chosen_arch_is_asked_for_its_size_and_only_where_a_stock_tray_is_used(
    practice: Practice,
) -> None:
    async with at_work(practice) as pilot:
        await press(pilot, "2", "n")
        assert "tray size" not in screen(pilot)
        await fill(pilot, "KB-12", "today", "preliminary")
        assert "Upper tray size" in screen(pilot)
        assert "Lower tray size" in screen(pilot)
        await enter(pilot, "upper")
        await press(pilot, "down", "enter")
        assert "Upper tray size" in screen(pilot)
        assert "Lower tray size" not in screen(pilot)


async def test_the_size_of_the_cases_earlier_visit_is_carried_over(clinic: Clinic) -> None:
    clinic.book(clinic.plan("KB-12", YESTERDAY, upper_size="L"))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "2", "n")
        await enter(pilot, "kb")
        assert "│ KB-12" in screen(pilot), "known references are offered while typing"
        await press(pilot, "down", "enter")
        await fill(pilot, "today", "stock tray, with")
        await press(pilot, "f2", "enter")
    (planned,) = visit_desk.visit_list(clinic.practice, state=VisitState.PLANNED).visits
    assert (planned.case_ref, planned.upper_size) == ("KB-12", "L")


async def test_a_planned_visit_is_changed(clinic: Clinic) -> None:
    card = clinic.plan("KB-12", TOMORROW, note="[b]wide 漢字[/]")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "2", "e")
        assert "[b]wide 漢字[/]" in screen(pilot)
        await press(pilot, "enter")
        await enter(pilot, "in 1 week")
        await press(pilot, "f2", "enter")
        assert "2027-03-17" in line_with(pilot, "KB-12")
    changed = visits.one(clinic.practice, card.visit_id)
    assert (changed.on, changed.note) == (TODAY + timedelta(days=7), "[b]wide 漢字[/]")


async def test_a_change_by_a_colleague_is_noticed(clinic: Clinic) -> None:
    card = clinic.plan("KB-12", TOMORROW)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "2", "e")
        visits.cancel(clinic.practice, card.visit_id, version=card.version, reason="ill", by="CD")
        await press(pilot, "f2", "enter")
        assert "is cancelled already" in screen(pilot)


async def test_a_visit_is_cancelled_only_with_a_reason(clinic: Clinic) -> None:
    card = clinic.plan("KB-12")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "2", "x", "enter")
        assert visits.one(clinic.practice, card.visit_id).state is VisitState.PLANNED
        await enter(pilot, "ill")
        await press(pilot, "enter")
        assert "KB-12" not in screen(pilot)
        await press(pilot, "f", "f")
        assert "✗ cancelled" in line_with(pilot, "KB-12")
        await press(pilot, "e")
        assert "Only a planned visit can be changed" in screen(pilot)


async def test_the_record_shows_the_lots_and_whether_somebody_has_read_them(clinic: Clinic) -> None:
    clinic.book(clinic.plan("KB-12", note="[i]soft[/]"))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "2", "f", "enter")
        seen = screen(pilot)
        assert "KB-12 · ✓ done by AB · today" in seen
        assert "upper  Heavy body A        26.15 mL  HEAVY-A-1  ◦ assumed" in seen
        assert "Heavy body A · lot HEAVY-A-1 · use by 2028-06-30" in seen
        assert "2027-03-10 09:00  AB  booked out" in seen
        assert "Note: [i]soft[/]" in seen


async def test_a_booking_is_undone_from_the_list_and_from_the_record(clinic: Clinic) -> None:
    first, second = clinic.plan("KB-1"), clinic.plan("KB-2")
    clinic.book(first)
    clinic.book(second)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "2", "f", "u")
        await enter(pilot, "wrong case")
        await press(pilot, "enter")
        assert visits.one(clinic.practice, second.visit_id).state is VisitState.PLANNED
        await press(pilot, "enter", "u")
        await enter(pilot, "wrong day")
        await press(pilot, "enter")
        assert visits.one(clinic.practice, first.visit_id).state is VisitState.PLANNED
        assert "No visits here (done)" in screen(pilot)


async def test_a_remake_is_a_new_visit_linked_to_the_earlier_one_with_who_asked(clinic: Clinic) -> None:
    first = clinic.plan("KB-12", YESTERDAY, lower=False)
    clinic.book(first)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "2", "f", "enter", "m")
        assert "Remake: do a visit of KB-12 again" in screen(pilot)
        assert "upper" in line_with(pilot, "Arches")
        await press(pilot, "enter")
        await fill(pilot, "tomorrow", "", "", "", "", "laboratory", "")
        await press(pilot, "enter")
        assert "◦ planned" in line_with(pilot, "KB-12")
    (again,) = visit_desk.visit_list(clinic.practice, state=VisitState.PLANNED).visits
    assert (again.remake_of, again.remake_asked_by) == (first.visit_id, RemakeAskedBy.LABORATORY)
    assert (again.on, again.lower, again.case_kind) == (TOMORROW, False, first.case_kind)


async def test_leaving_a_form_with_something_typed_asks_first(practice: Practice) -> None:
    async with at_work(practice) as pilot:
        await press(pilot, "2", "n", "escape")
        assert "planned  done" in screen(pilot)
        await press(pilot, "n")
        await enter(pilot, "KB-1")
        await press(pilot, "escape")
        assert "Leave without saving?" in screen(pilot)
        await press(pilot, "enter")
        assert pilot.app.screen.query_one("#case SafeInput", SafeInput).value == "KB-1"


async def test_a_help_opened_while_a_form_is_saved_does_not_keep_it_open(clinic: Clinic) -> None:
    clinic.plan("KB-12", TOMORROW)
    async with at_work(clinic.practice, size=LARGE) as pilot:
        await press(pilot, "2", "e", "f2")
        await pilot.press("enter", "f1")
        await press(pilot, "escape")
        assert "planned  done" in screen(pilot)


@pytest.mark.parametrize("size", [SMALL, LARGE], ids=str)
@pytest.mark.parametrize(
    ("keys", "footer"),
    [
        (("n",), "esc Back  f2 Save  ? Help"),
        (("enter",), "esc Back  b Book out  e Change  x Cancel the visit  ? Help"),
        (("f", "enter"), "esc Back  u Undo the booking  m Remake  r Record as PDF  l Laboratory  ? Help"),
        (("b",), "f2 Book out  + - A tenth more or less  l Lot  c Lot read  t Retake  ? Help"),
    ],
    ids=["form", "lay-out", "record", "book out"],
)
async def test_every_way_of_a_visit_shows_its_keys_uncut_and_a_help_of_its_own(
    clinic: Clinic, keys: tuple[str, ...], footer: str, size: tuple[int, int]
) -> None:
    clinic.plan("KB-1", TOMORROW)
    clinic.book(clinic.plan("KB-2"))
    async with at_work(clinic.practice, size=size) as pilot:
        await press(pilot, "2", *keys)
        assert screen(pilot).splitlines()[-1].strip() == footer
        title = cast("StockScreen", pilot.app.screen).title_text
        await press(pilot, "f1")
        assert f"Help: {title}" in screen(pilot)

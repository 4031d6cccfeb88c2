"""Today: what waits for somebody, and the shortest way to deal with it."""

from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import cast

import pytest

from inventory.domain.vocabulary import UseByReading, VisitState
from inventory.service import visits
from inventory.service.practice import Practice
from inventory.store.engine import open_store
from tests.clinic import Clinic
from tests.service.catalogue_samples import BY, TODAY
from tests.tui.at_work import LARGE, at_work, line_with, practice_on, press, rest, screen
from tui.app import StockApp
from tui.widgets.table import ListTable

YESTERDAY, TOMORROW = TODAY - timedelta(days=1), TODAY + timedelta(days=1)


def state_of(clinic: Clinic, visit_id: int) -> VisitState:
    return visits.one(clinic.practice, visit_id).state


async def test_one_look_shows_the_visits_with_their_state_and_the_most_urgent_lines(clinic: Clinic) -> None:
    clinic.plan("C-099", YESTERDAY, place="operatory 1")
    clinic.book(clinic.plan("C-100", TODAY))
    clinic.plan("C-101", TODAY)
    clinic.plan("C-102", TOMORROW, case_kind="preliminary")
    clinic.lot("LIGHT-A", "OLD", 2, use_by=TODAY - timedelta(days=30))
    async with at_work(clinic.practice) as pilot:
        seen = screen(pilot)
    assert seen.splitlines()[1:7] == [
        "",
        " Day        Case   Visit          Arches            State",
        " yesterday  C-099  Final impres…  upper M, lower M  ▵ not booked out",
        " today      C-100  Final impres…  upper M, lower M  ✓ done by AB",
        " today      C-101  Final impres…  upper M, lower M  ✓ ready",
        " tomorrow   C-102  Preliminary …  upper M, lower M  ! short of Powder for pre…",
    ]
    assert seen.splitlines()[14:] == [
        "╭─ Weekly check ───────────────────────────────────────────────────────────────╮",
        "│ expired 1 · visit short 1 · not booked out 1 · runs short 1 · rest too small │",
        "│ 1                                                                            │",
        "│  Matter            What                               Do                     │",
        "│  ✗ expired         Light body A, fast, lot OLD, ope…  Don't use it; disca…   │",
        "│  ! visit short     C-102, 2027-03-11                  Order, bring or pla… ▂ │",
        "│  ! not booked out  C-099, 2027-03-09                  Book it out, or can…   │",
        "╰──────────────────────────────────────────────────────────────────────────────╯",
        " Expired or recalled material is not used; the maker's instructions rule.",
        " b Book out  n Plan a visit  w Weekly check  a Read again  ? Help",
    ]


async def test_a_practice_without_visits_says_so_in_words(practice: Practice) -> None:
    async with at_work(practice) as pilot:
        assert "No visits are planned for the next days." in screen(pilot)


async def test_the_cursor_begins_on_the_first_visit_of_today_that_is_to_be_booked_out(clinic: Clinic) -> None:
    clinic.plan("C-1", YESTERDAY)
    clinic.book(clinic.plan("C-2"))
    wanted = clinic.plan("C-3")
    async with at_work(clinic.practice) as pilot:
        assert pilot.app.screen.query_one("#visits", ListTable).current == wanted.visit_id


async def test_a_visit_that_went_as_expected_is_booked_out_with_three_keys_and_one_to_read_the_result(
    clinic: Clinic,
) -> None:
    first, second = clinic.plan("C-1"), clinic.plan("C-2")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "f2", "enter")
        assert state_of(clinic, first.visit_id) is VisitState.DONE
        await press(pilot, "enter")
        assert "done by AB" in line_with(pilot, "C-1")
        await press(pilot, "enter", "f2", "enter", "enter")
        assert state_of(clinic, second.visit_id) is VisitState.DONE


async def test_a_visit_to_come_opens_its_lay_out_list_and_can_be_booked_out_all_the_same(clinic: Clinic) -> None:
    card = clinic.plan("C-1", TOMORROW)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        assert "Lay out C-1 · tomorrow" in screen(pilot)
        assert "1 new cartridge" in line_with(pilot, "HEAVY-A-1")
        await press(pilot, "b", "f2", "enter")
        assert "Please confirm" in screen(pilot), "it is booked out before its day"
        await press(pilot, "y", "enter")
        assert state_of(clinic, card.visit_id) is VisitState.DONE
        assert "Weekly check" in screen(pilot)


async def test_a_visit_done_today_opens_its_record(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-1"))
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        assert "done by AB" in screen(pilot).splitlines()[1]
        assert "HEAVY-A-1" in screen(pilot)


async def test_what_is_missing_at_the_visits_place_is_said_with_where_it_stands(clinic: Clinic) -> None:
    clinic.plan("C-1", TOMORROW, place="operatory 2")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter")
        assert "see operatory 1" in line_with(pilot, "Heavy body A")
        assert "7 articles missing at operatory 2" in screen(pilot)


async def test_a_line_about_a_visit_opens_the_visit(clinic: Clinic) -> None:
    clinic.plan("C-1", YESTERDAY)
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "tab", "enter")
        assert "Book out C-1" in screen(pilot)


async def test_text_with_brackets_control_and_wide_signs_is_shown_as_it_is(clinic: Clinic) -> None:
    clinic.lot("LIGHT-A", "[b]L/9[a/\x1b\u202e漢字", 1, read=UseByReading.NOT_READ)
    visits.plan(
        clinic.practice,
        visits.VisitPlan("C-1", TODAY, "reline", note="[red]漢字 e\u0301"),
        by=BY,
    )
    async with at_work(clinic.practice, size=LARGE) as pilot:
        assert "漢字" in screen(pilot) or "date not read" in screen(pilot)
        await press(pilot, "enter", "l")
        assert "[b]L/9[a/␛\N{REPLACEMENT CHARACTER}漢字" in screen(pilot)


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)], ids=str)
async def test_the_screen_fits_every_size(clinic: Clinic, size: tuple[int, int]) -> None:
    clinic.plan("C-1")
    async with at_work(clinic.practice, size=size) as pilot:
        seen = screen(pilot).splitlines()
        assert len(seen) == size[1]
        assert seen[-1].endswith("? Help")
        assert "Expired or recalled material is not used" in seen[-2]


async def test_what_another_workstation_posts_is_seen_without_a_key(clinic: Clinic, tmp_path: Path) -> None:
    async with at_work(clinic.practice) as pilot:
        app = cast("StockApp", pilot.app)
        app.postings.look()
        await rest(pilot)
        assert "C-77" not in screen(pilot)
        with closing(open_store(str(tmp_path / "clinic.db"))) as store:
            replace(clinic, practice=practice_on(store)).plan("C-77")
        app.postings.look()
        await rest(pilot)
        assert "C-77" in screen(pilot)

"""The application: it shows itself at once, never waits for the store, and loses nothing that was typed."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from importlib import import_module
from typing import Any, cast

import pytest
from textual.pilot import Pilot

from inventory.errors import StoreUnreachable
from inventory.service.clock import Clock
from inventory.service.practice import Practice
from inventory.store.engine import Session, Store
from tests.clinic import Clinic
from tests.service.catalogue_samples import TODAY
from tests.tui.at_work import LARGE, SMALL, at_nine, at_work, enter, line_with, press, rest, screen
from tui import app as app_module
from tui.app import StockApp
from tui.modes import MODES
from tui.screens.base import ModeScreen
from tui.widgets.mode_bar import ModeTab
from tui.widgets.safe_input import SafeInput


async def test_the_first_frame_is_there_before_the_practice_is_opened(practice: Practice) -> None:
    may_open = threading.Event()

    def slow() -> Practice:
        may_open.wait(10)
        return practice

    app = StockApp(slow)
    async with app.run_test(size=SMALL) as pilot:
        await pilot.pause()
        assert "Opening the practice" in screen(pilot)
        assert "1 Today" in screen(pilot)
        may_open.set()
        await rest(pilot)
        assert "Weekly check" in screen(pilot)


async def test_a_store_that_cannot_be_opened_ends_the_screens_with_its_reason() -> None:
    def fails() -> Practice:
        raise StoreUnreachable("There is no such file.", "Check the path.")

    app = StockApp(fails)
    async with app.run_test(size=SMALL) as pilot:
        await rest(pilot)
    with pytest.raises(StoreUnreachable, match="no such file"):
        app.raise_failure()


def test_a_fault_of_the_program_is_handed_on_without_a_traceback_over_the_terminal(
    practice: Practice, capfd: pytest.CaptureFixture[str]
) -> None:
    class Faulty(StockApp):
        def action_help(self) -> None:
            raise ZeroDivisionError

    async def ask_help(pilot: Pilot[Any]) -> None:
        await rest(pilot)
        await press(pilot, "f1")

    app = Faulty(lambda: practice)
    app.run(headless=True, size=SMALL, auto_pilot=ask_help)
    with pytest.raises(ZeroDivisionError):
        app.raise_failure()
    assert "Traceback" not in "".join(capfd.readouterr())


def test_running_the_screens_returns_nothing_to_act_on_when_the_person_quits(
    practice: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def quit_it(pilot: Pilot[Any]) -> None:
        await rest(pilot)
        await pilot.press("q")

    monkeypatch.setattr(
        app_module.StockApp, "run", lambda self: super(StockApp, self).run(headless=True, auto_pilot=quit_it)
    )
    assert app_module.run(lambda: practice, by="AB") == 0


@pytest.mark.parametrize("mode", MODES, ids=lambda mode: mode.name)
async def test_every_digit_leads_to_its_mode_with_help_and_its_keys_uncut(practice: Practice, mode: Any) -> None:
    async with at_work(practice) as pilot:
        await press(pilot, mode.key)
        app, at = pilot.app, pilot.app.screen
        assert isinstance(at, ModeScreen)
        assert app.current_mode == mode.name
        assert f"{mode.key} {mode.title}" in screen(pilot).splitlines()[0]
        footer = screen(pilot).splitlines()[-1]
        assert footer.endswith("? Help")
        shown = [one.binding for one in at.active_bindings.values() if one.binding.show]
        assert len({binding.action for binding in shown}) <= 6
        assert all(binding.description in footer for binding in shown)
        await press(pilot, "f1")
        assert f"Help: {at.title_text}" in screen(pilot)


@pytest.mark.parametrize("mode", MODES, ids=lambda mode: mode.name)
def test_every_verb_of_the_palette_is_an_action_of_its_screen(mode: Any) -> None:
    module, _, name = mode.screen.partition(":")
    for _, action in mode.verbs:
        assert hasattr(getattr(import_module(module), name), f"action_{action}")


async def test_a_digit_typed_into_a_field_is_a_digit(practice: Practice) -> None:
    async with at_work(practice) as pilot:
        await press(pilot, "2", "slash")
        await enter(pilot, "1")
        assert pilot.app.current_mode == "visits"
        assert pilot.app.screen.query_one("#case", SafeInput).value == "1"


async def test_a_click_on_the_bar_goes_there(practice: Practice) -> None:
    async with at_work(practice) as pilot:
        await pilot.click(pilot.app.screen.query(ModeTab)[1])
        await rest(pilot)
        assert pilot.app.current_mode == "visits"


async def test_a_click_on_the_bar_behind_a_question_does_nothing(practice: Practice) -> None:
    async with at_work(practice) as pilot:
        await press(pilot, "f1")
        await pilot.click(offset=(12, 0))
        await rest(pilot)
        assert pilot.app.current_mode == "today"


async def test_the_bar_shows_the_practices_day_who_works_and_that_it_is_a_demo(practice: Practice) -> None:
    async with at_work(practice, demo=True) as pilot:
        assert screen(pilot).splitlines()[0].endswith(" 2027-03-10  AB  demo")


async def test_a_new_day_is_noticed_while_the_screens_stand_open(clinic_store: Store) -> None:
    moments = [datetime(2027, 3, 10, 22, 59, tzinfo=UTC)]
    practice = Practice(clinic_store, Clock(lambda: moments[0]))
    async with at_work(practice) as pilot:
        moments[0] += timedelta(hours=2)
        cast("StockApp", pilot.app)._look_at_clock()
        await rest(pilot)
        assert "2027-03-11" in screen(pilot).splitlines()[0]


async def test_initials_that_nobody_has_are_asked_for_once(clinic: Clinic) -> None:
    for case in ("C-1", "C-2"):
        clinic.plan(case)
    async with at_work(clinic.practice, by="ZZ") as pilot:
        await press(pilot, "enter", "f2", "enter")
        assert "Who are you?" in screen(pilot)
        assert "Nobody here has the initials ZZ." in screen(pilot)
        await enter(pilot, "cd")
        await press(pilot, "enter")
        assert "Posted by CD" in screen(pilot)
        await press(pilot, "enter")
        assert "CD" in screen(pilot).splitlines()[0]
        await press(pilot, "enter", "f2", "enter")
        assert "Posted by CD" in screen(pilot)


async def test_nothing_is_posted_where_nobody_says_who_works(clinic: Clinic) -> None:
    clinic.plan("C-1")
    async with at_work(clinic.practice, by="") as pilot:
        await press(pilot, "enter", "f2", "enter", "escape")
        assert "Book out C-1" in screen(pilot)
        assert clinic.left("HEAVY-A") == 20_000


async def test_quitting_asks_where_something_was_said_and_not_saved(clinic: Clinic) -> None:
    clinic.plan("C-1")
    async with at_work(clinic.practice) as pilot:
        await press(pilot, "enter", "c", "2", "q")
        assert "Leave without saving?" in screen(pilot)
        await press(pilot, "enter")
        assert pilot.app.is_running
        await press(pilot, "1")
        assert "✓ read" in screen(pilot)


async def test_a_theme_is_kept_for_this_workstation(practice: Practice) -> None:
    from inventory import settings  # noqa: PLC0415

    async with at_work(practice) as pilot:
        await press(pilot, "ctrl+p")
        await enter(pilot, "colours")
        await press(pilot, "enter")
        await enter(pilot, "light")
        await press(pilot, "enter")
        assert pilot.app.theme == "light"
    assert settings.load().theme == "light"


async def test_the_palette_plans_a_visit_from_anywhere(practice: Practice) -> None:
    async with at_work(practice) as pilot:
        await press(pilot, "ctrl+p")
        await enter(pilot, "plan a visit")
        await press(pilot, "enter")
        assert pilot.app.current_mode == "visits"
        assert "Case reference" in screen(pilot)


class Watched(Store):
    """A store that remembers which threads worked in it."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self.posted = 0
        self.threads: set[int] = set()

    @property
    def dialect(self) -> str:
        return self._store.dialect

    @contextmanager
    def reading(self) -> Iterator[Session]:
        self.threads.add(threading.get_ident())
        with self._store.reading() as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        self.threads.add(threading.get_ident())
        with self._store.writing() as session:
            yield session


async def test_no_screen_works_in_the_store_on_the_thread_that_answers_keys(clinic: Clinic) -> None:
    for case in ("C-1", "C-2"):
        clinic.plan(case)
    clinic.plan("C-3", TODAY + timedelta(days=1))
    watched = Watched(clinic.practice.store)
    async with at_work(Practice(watched, at_nine()), size=LARGE) as pilot:
        await press(pilot, "enter", "plus", "l", "escape", "c", "t", "z", "escape", "p", "escape", "f2", "enter", "u")
        await enter(pilot, "wrong case")
        await press(pilot, "enter")
        await press(pilot, *(mode.key for mode in MODES))
        await press(pilot, "2", "n", "escape", "down", "down", "enter", "escape", "x")
        await enter(pilot, "ill")
        await press(pilot, "enter", "f", "f", "enter")
        assert "cancelled" in line_with(pilot, "C-3")
    assert len(watched.threads) > 0
    assert threading.get_ident() not in watched.threads

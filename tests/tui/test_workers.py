"""From a screen to the store and back: in a thread, once, and never ending in a traceback."""

import logging
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from textual.app import ComposeResult
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Static

from inventory.errors import BadInput, NeedsConfirmation, PracticeError, StoreUnreachable
from tests.tui.seeing import seen, settle
from tui import workers
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.dialogs.reading import ErrorDialog
from tui.frame import Frame
from tui.workers import run, teller


class Till(Screen[None]):
    def compose(self) -> ComposeResult:
        yield Static("till", id="said")

    def say(self, text: str) -> None:
        self.query_one("#said", Static).update(text)


class Shop(Frame):
    def __init__(self) -> None:
        super().__init__()
        self.till = Till()

    def get_default_screen(self) -> Screen[Any]:
        return self.till


class Gate:
    """Work that waits in its thread until the test lets it go on."""

    def __init__(self, result: str = "done") -> None:
        self.open = threading.Event()
        self.calls = 0
        self.result = result

    def __call__(self) -> str:
        self.calls += 1
        assert self.open.wait(10)
        return self.result


def raising(error: Exception) -> Callable[[], str]:
    def work() -> str:
        raise error

    return work


async def front(pilot: Pilot[Any]) -> Screen[Any]:
    """The screen in front once all work is done."""
    await settle(pilot)
    return pilot.app.screen


async def test_work_runs_in_a_thread_and_its_result_comes_back_to_the_screen() -> None:
    app = Shop()
    async with app.run_test() as pilot:
        ui = threading.get_ident()
        assert run(app.till, threading.get_ident, lambda ident: app.till.say(f"elsewhere: {ident != ui}"))
        await settle(pilot)
        assert "elsewhere: True" in seen(app)


async def test_enter_pressed_twice_starts_the_work_once() -> None:
    app, gate = Shop(), Gate()
    async with app.run_test() as pilot:
        assert run(app.till, gate, app.till.say, name="book")
        assert not run(app.till, gate, app.till.say, name="book")
        gate.open.set()
        await settle(pilot)
        assert gate.calls == 1
        assert run(app.till, gate, app.till.say, name="book")
        await settle(pilot)
        assert gate.calls == 2


async def test_a_later_reading_overtakes_an_earlier_one() -> None:
    app, slow, fast = Shop(), Gate("old"), Gate("new")
    async with app.run_test() as pilot:
        run(app.till, slow, app.till.say, name="read", latest=True)
        await pilot.pause()
        run(app.till, fast, app.till.say, name="read", latest=True)
        fast.open.set()
        await settle(pilot)
        slow.open.set()
        await settle(pilot, 0.05)
        assert "new" in seen(app)


async def test_a_result_for_a_screen_that_was_left_is_dropped() -> None:
    app, gate = Shop(), Gate()
    came: list[str] = []
    async with app.run_test() as pilot:
        other = Till()
        await app.push_screen(other)
        run(other, gate, came.append)
        await pilot.pause()
        await app.pop_screen()
        gate.open.set()
        await settle(pilot, 0.05)
        assert came == []
        assert app.screen is app.till


async def test_a_result_reaches_a_screen_that_is_behind_a_dialog() -> None:
    app, gate = Shop(), Gate()
    came: list[str] = []
    async with app.run_test() as pilot:
        run(app.till, gate, came.append)
        await app.push_screen(ErrorDialog("Wait", "something else"))
        gate.open.set()
        await settle(pilot)
        assert came == ["done"]


async def test_an_error_of_the_practice_is_told_with_what_to_do() -> None:
    app = Shop()
    async with app.run_test() as pilot:
        run(app.till, raising(StoreUnreachable("The disk is full.", "Make room and try again.")))
        assert isinstance(await front(pilot), ErrorDialog)
        for said in ("The store can't be reached", "The disk is full.", "Make room and try again."):
            assert said in seen(app)


async def test_a_screen_may_deal_with_an_error_itself() -> None:
    app = Shop()
    dealt: list[PracticeError] = []

    def beside_the_field(error: PracticeError) -> bool:
        dealt.append(error)
        return isinstance(error, BadInput)

    async with app.run_test() as pilot:
        run(app.till, raising(BadInput("No such lot.")), failed=beside_the_field)
        assert await front(pilot) is app.till
        run(app.till, raising(StoreUnreachable("Gone.")), failed=beside_the_field)
        assert isinstance(await front(pilot), ErrorDialog)
        assert len(dealt) == 2


@pytest.mark.parametrize("where", ["in the thread", "on the screen"])
async def test_any_other_error_is_told_with_the_place_of_the_log(
    where: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> None:
    handler = logging.FileHandler(tmp_path / "stock.log")
    request.addfinalizer(handler.close)
    monkeypatch.setattr(workers.LOG, "handlers", [handler])
    app = Shop()

    def fail(_: object = None) -> str:
        raise ZeroDivisionError

    async with app.run_test(size=(200, 40)) as pilot:
        if where == "in the thread":
            run(app.till, fail)
        else:
            run(app.till, lambda: "fine", fail)
        assert isinstance(await front(pilot), ErrorDialog)
        assert "Something went wrong" in seen(app)
        assert "stock.log" in "".join(seen(app).replace("│", "").split())
        assert "Traceback" not in seen(app)
    assert "ZeroDivisionError" in (tmp_path / "stock.log").read_text()


def test_without_a_log_file_no_place_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers.LOG, "propagate", False)
    assert workers.log_path() == ""


NOT_ASKED = Confirmed()


class Receipt:
    """A service that wants a yes, then a reason, before it does it."""

    def __init__(self) -> None:
        self.calls: list[Confirmed] = []

    def __call__(self, answer: Confirmed = NOT_ASKED) -> str:
        self.calls.append(answer)
        if len(self.calls) == 1:
            raise NeedsConfirmation("The date is past.", "Receive it all the same?")
        if not answer.reason:
            raise NeedsConfirmation("The lot is on hold.", reason_needed=True)
        return f"received: {answer.reason}"


async def test_a_confirmation_is_asked_for_and_the_work_done_again_with_it() -> None:
    app, receive = Shop(), Receipt()
    async with app.run_test() as pilot:
        run(app.till, receive, app.till.say, again=receive, initials="AB")
        assert isinstance(await front(pilot), ConfirmDialog)
        assert "The date is past." in seen(app)
        await pilot.press("tab", "tab", "enter")
        assert isinstance(await front(pilot), ConfirmDialog)
        assert "The lot is on hold." in seen(app)
        await pilot.press(*"sample", "enter", "enter")
        assert await front(pilot) is app.till
        assert receive.calls == [Confirmed(), Confirmed("", "AB"), Confirmed("sample", "AB")]
        assert "received: sample" in seen(app)


async def test_a_no_leaves_everything_as_it_was() -> None:
    app, receive = Shop(), Receipt()
    async with app.run_test() as pilot:
        run(app.till, receive, app.till.say, again=receive)
        await settle(pilot)
        await pilot.press("n")
        assert await front(pilot) is app.till
        assert receive.calls == [Confirmed()]


async def test_a_wish_for_confirmation_that_nothing_can_answer_is_told_as_an_error() -> None:
    app, receive = Shop(), Receipt()
    async with app.run_test() as pilot:
        run(app.till, receive, app.till.say)
        assert isinstance(await front(pilot), ErrorDialog)


async def test_long_work_shows_that_it_is_going_on_and_how_far_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "BUSY_AFTER", 0.01)
    app, gate = Shop(), Gate()
    async with app.run_test(size=(80, 24)) as pilot:
        tell = teller(app.till, "Importing [rows]")

        def work() -> str:
            tell(40, 400)
            return gate()

        run(app.till, work, app.till.say, busy="Importing")
        await pilot.pause(0.1)
        assert "Importing [rows]: 40 of 400 …" in seen(app) or "Importing …" in seen(app)
        await pilot.pause()
        tell(41, 400)
        await pilot.pause(0.05)
        assert seen(app).splitlines()[0].endswith("Importing [rows]: 41 of 400 …")
        gate.open.set()
        await settle(pilot)
        assert "Importing" not in seen(app)
        assert "done" in seen(app)


async def test_quick_work_shows_nothing_of_the_kind() -> None:
    app = Shop()
    async with app.run_test() as pilot:
        run(app.till, lambda: "quick", app.till.say)
        await settle(pilot)
        assert not app.till.query(workers.Busy)

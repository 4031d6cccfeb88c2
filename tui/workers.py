"""The one way from a screen to the store.

A service call may wait for a disk, a lock or a server, so it never runs where keys and painting are handled: `run`
takes it to a thread and brings its result back. Whatever it raises ends in a dialog: errors of the practice with what
to do, a wish for confirmation as a question after which the call is made again, and everything else with the place of
the log. Threads never touch a widget, and a result that comes for a screen that has been left is dropped.
"""

import asyncio
import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from textual.app import App
from textual.screen import Screen
from textual.widgets import Static
from textual.worker import WorkType

from inventory.errors import NeedsConfirmation, PracticeError
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.dialogs.reading import ErrorDialog
from tui.text import clean

Result = TypeVar("Result")
LOG = logging.getLogger(__name__)

BUSY_AFTER = 0.4
"""Seconds after which work says that it is still going on."""


WHOLE = "Whatever was being saved is saved whole or not at all; look before you do it again."


class Busy(Static):
    """What is going on, in the upper right corner, over everything."""


@dataclass(frozen=True)
class _Job(Generic[Result]):
    """One call for a screen and what comes after it."""

    screen: Screen[Any]
    name: str
    function: Callable[[], Result]
    then: Callable[[Result], object]
    again: Callable[[Confirmed], Result] | None
    failed: Callable[[PracticeError], bool] | None
    initials: str | None
    busy: str


def run(
    screen: Screen[Any],
    function: Callable[[], Result],
    then: Callable[[Result], object] = lambda _: None,
    *,
    name: str = "work",
    latest: bool = False,
    again: Callable[[Confirmed], Result] | None = None,
    failed: Callable[[PracticeError], bool] | None = None,
    initials: str | None = None,
    busy: str = "One moment",
) -> bool:
    """Call a service in a thread, then use its result on the screen.

    Args:
        screen: the screen that asks; when it has been left, `then` is not called any more.
        function: the call; runs in a thread and must not touch a widget.
        then: what to do with the result, on the screen.
        name: what the screen is doing. While it is doing that, a second start does nothing (Enter pressed twice).
        latest: for readings: a new start overtakes an older one of the same name, whose result is dropped.
        again: the same call with a person's confirmation; called after `NeedsConfirmation` was answered with yes.
        failed: gets an error of the practice first and may deal with it, e.g. beside a field; True means it has.
        initials: own initials, where the confirmation must be initialled.
        busy: what to say when it takes long.

    Returns:
        Whether the call was started.
    """
    group = f"{id(screen)} {name}"
    if not latest and any(worker.group == group and not worker.is_finished for worker in screen.app.workers):
        return False
    job = _Job(screen, name, function, then, again, failed, initials, busy)

    async def carry_out() -> None:  # made only when it begins: a reading overtaken before that leaves nothing behind
        await _carry_out(job)

    work: WorkType[None] = carry_out
    screen.app.run_worker(work, name=name, group=group, exclusive=latest, exit_on_error=False)
    return True


async def _carry_out(job: _Job[Any]) -> None:
    app = job.screen.app
    badge = app.set_timer(BUSY_AFTER, lambda: show_busy(job.screen, job.busy))
    try:
        result = await asyncio.to_thread(job.function)
        if _is_there(job.screen):
            job.then(result)
    except NeedsConfirmation as error:
        if job.again is None:
            app.push_screen(ErrorDialog.of(error))
        elif _is_there(job.screen):
            _ask(job, error)
    except PracticeError as error:
        dealt_with = job.failed is not None and _is_there(job.screen) and job.failed(error)
        if not dealt_with:
            app.push_screen(ErrorDialog.of(error))
    except Exception as error:  # noqa: BLE001 - the last place where anything can be told to the person
        show_unexpected(app, error)
    finally:
        badge.stop()
        hide_busy(job.screen)


def _ask(job: _Job[Any], error: NeedsConfirmation) -> None:
    """Ask for the confirmation the service wants, and make the call again with it."""
    again = job.again

    def answered(answer: Confirmed | None) -> None:
        if answer is not None and again is not None:
            run(
                job.screen,
                lambda: again(answer),
                job.then,
                name=job.name,
                again=again,
                failed=job.failed,
                initials=job.initials,
                busy=job.busy,
            )

    dialog = ConfirmDialog(error.title, error.message, error.todo, reason=error.reason_needed, initials=job.initials)
    job.screen.app.push_screen(dialog, answered)


def _is_there(screen: Screen[Any]) -> bool:
    """Whether the screen is still part of the application, in front or behind others."""
    return screen.is_attached and screen.is_running


def show_unexpected(app: App[Any], error: Exception) -> None:
    """Tell of an error nobody foresaw; the whole of it goes to the log."""
    LOG.error("unexpected error on a screen", exc_info=error)
    place = log_path()
    app.push_screen(
        ErrorDialog(
            "Something went wrong",
            f"The program met an error it did not expect ({type(error).__name__}). What you see may be out of date.",
            f"{WHOLE} Details are in {place}." if place else WHOLE,
        )
    )


def log_path() -> str:
    """The file the log goes to; empty where it goes to none."""
    logger: logging.Logger | None = LOG
    while logger is not None:
        for handler in logger.handlers:
            if isinstance(handler, logging.FileHandler):
                return handler.baseFilename
        logger = logger.parent if logger.propagate else None
    return ""


def show_busy(screen: Screen[Any], text: str) -> None:
    """Say on the screen that work is going on, or say it in other words."""
    if not _is_there(screen):
        return
    badges = screen.query(Busy)
    shown = f"◦ {clean(text)} …"
    if badges:
        badges.first().update(shown)
    else:
        screen.mount(Busy(shown, markup=False))


def hide_busy(screen: Screen[Any]) -> None:
    """Take the sign away."""
    if _is_there(screen):
        screen.query(Busy).remove()


def teller(screen: Screen[Any], doing: str) -> Callable[[int, int], None]:
    """A function that a thread may call to say how far it is: ``Importing: 40 of 400``."""
    app = screen.app
    loop = asyncio.get_running_loop()

    def tell(done: int, total: int) -> None:
        loop.call_soon_threadsafe(app.call_later, show_busy, screen, f"{doing}: {done} of {total}")

    return tell

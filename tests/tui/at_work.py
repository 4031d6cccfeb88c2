"""The screens at work on a small invented practice, as a person in front of them sees and uses them."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, date, datetime
from typing import Any, cast

from textual.pilot import Pilot

from inventory.service.clock import Clock
from inventory.service.practice import Practice
from inventory.store.engine import Store
from tests.service.catalogue_samples import BY, TODAY
from tests.tui.seeing import lines, type_raw
from tui.app import StockApp
from tui.widgets.safe_input import SCAN_GAP

SMALL, LARGE = (80, 24), (120, 40)
QUIET = 5  # rounds without work: a result may open a screen, whose first look at the store begins some rounds later


def at_nine(on: date = TODAY) -> Clock:
    """A clock that stands at nine in the morning UTC of a day."""
    return Clock(lambda: datetime(on.year, on.month, on.day, 9, tzinfo=UTC))


def practice_on(store: Store, on: date = TODAY) -> Practice:
    return Practice(store, at_nine(on))


@asynccontextmanager
async def at_work(
    practice: Practice | Callable[[], Practice], *, by: str = BY, size: tuple[int, int] = SMALL, **known: Any
) -> AsyncIterator[Pilot[Any]]:
    """The application, opened on the practice and waiting for a key."""
    opened = practice if callable(practice) else lambda: practice
    app = StockApp(opened, by=by, **known)
    async with app.run_test(size=size, notifications=True) as pilot:
        await rest(pilot)
        yield pilot


async def rest(pilot: Pilot[Any]) -> None:
    """Wait until nothing is going on: no work in threads, and nothing that its results set off."""
    quiet = 0
    while quiet < QUIET:
        await pilot.pause(0)
        if all(worker.is_finished for worker in pilot.app.workers):
            quiet += 1
        else:
            quiet = 0
            await pilot.pause(0.005)


async def press(pilot: Pilot[Any], *keys: str) -> None:
    """Press keys one after the other, each after the last one did what it does."""
    for key in keys:
        await pilot.press(key)
        if cast("StockApp", pilot.app)._held:  # letters over a table are held back to tell them from scans
            await pilot.pause(1.5 * SCAN_GAP)
        await rest(pilot)


async def enter(pilot: Pilot[Any], text: str) -> None:
    """Type text into the field that has the focus, then rest."""
    type_raw(pilot.app, text)
    await pilot.pause(1.5 * SCAN_GAP)  # an Enter right behind would make it a scan
    await rest(pilot)


def screen(pilot: Pilot[Any]) -> str:
    """The whole screen as text, blanks at the ends of lines left out."""
    return "\n".join(line.rstrip() for line in lines(pilot.app))


def line_with(pilot: Pilot[Any], text: str) -> str:
    """The first line of the screen that holds a text."""
    found = [line.strip() for line in screen(pilot).splitlines() if text in line]
    assert found, f"no line with {text!r} in\n{screen(pilot)}"
    return found[0]

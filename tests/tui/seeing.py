"""What the tests of the screens see and do: the screen's text, and keys as a terminal sends them."""

import asyncio
from typing import Any

from textual._xterm_parser import XTermParser
from textual.app import App
from textual.pilot import Pilot


def lines(app: App[Any]) -> list[str]:
    """The text of each line of the present screen, as wide as the screen."""
    return [strip.text for strip in app.screen._compositor.render_strips()]


def seen(app: App[Any]) -> str:
    """The whole screen as text."""
    return "\n".join(line.rstrip() for line in lines(app))


def type_raw(app: App[Any], text: str) -> None:
    """Send characters as a terminal does: all at once, parsed by the toolkit's own parser."""
    driver = app._driver
    assert driver is not None
    parser = XTermParser()
    for event in [*parser.feed(text)]:
        driver.process_message(event)


async def settle(pilot: Pilot[Any], seconds: float = 0.0) -> None:
    """Wait until work in threads, and everything it set off, is done."""
    if seconds:
        await asyncio.sleep(seconds)
    await pilot.pause()
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()

"""Work in the browser as a person does: open, book out a visit, load the page again in the middle; nothing is lost.

    python -m tests.browser.look --pictures FOLDER

Starts `serve` on a free port over a small invented practice and a headless Chromium (--chromium names another program),
and fails where something is lost, where the page asks any other host for anything, where its console complains, or
where the access token is not asked for. Pictures of each step are written into the folder. Never a test: it needs the
browser.
"""

import argparse
import asyncio
import contextlib
import os
import sys
import tempfile
from collections.abc import AsyncIterator
from pathlib import Path

from inventory.domain.vocabulary import VisitState
from inventory.service import opening, visits
from inventory.service.verifying import verify
from tests.browser.chromium import Browser, browser
from tests.little_practice import TODAY
from tests.tui.commands import stocked

TOKEN = "a token of the test 0123"  # noqa: S105 - for a server that lives a minute


@contextlib.asynccontextmanager
async def serving(database: Path, *options: str, token: str = "") -> AsyncIterator[str]:
    """Serve a practice and give the page's address."""
    environment = os.environ | {"IMPRESSION_STOCK_DATABASE": str(database), "IMPRESSION_STOCK_TOKEN": token}
    program = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "tui", "serve", "--port", "0", "--today", TODAY.isoformat(), *options,
        stdout=asyncio.subprocess.PIPE, env=environment,
    )  # fmt: skip
    try:
        assert program.stdout is not None
        line = (await program.stdout.readline()).decode()
        yield next(word for word in line.split() if word.startswith("http"))
    finally:
        program.terminate()
        await program.wait()


async def book_out(page: Browser, address: str, folder: Path) -> None:
    """Open the first visit, change an amount, load the page again, then book out."""
    await page.go(address)
    await page.see("Today", "C-1")
    await page.picture(folder / "1-today.png")
    await page.press("Enter")
    await page.see("Book out C-1", "0.5 cartridge")
    await page.picture(folder / "2-form.png")
    await page.press("ArrowDown", "ArrowDown", "+", "+")
    await page.see("0.7 cartridge")
    await page.reload()
    await page.see("Book out C-1", "0.7 cartridge")  # what was typed is still there
    await page.picture(folder / "3-loaded-again.png")
    await page.press("F2")
    await page.see("Heavy", "Back")
    await page.picture(folder / "4-confirm.png")
    await page.press("Enter")
    await page.see("Who are you?")  # nobody's initials are taken from the machine that serves
    await page.press("Enter")
    await page.see("Posted by AB")
    await page.reload()
    await page.see("Posted by AB")
    await page.picture(folder / "5-booked.png")
    await page.press("Enter")
    await page.see("done by AB")


async def quit_and_come_back(page: Browser, folder: Path) -> None:
    """Who ends the screens is told so, and begins anew with a button."""
    await page.press("q")
    await page.wait_for("document.body.classList.contains('-closed')")
    await page.picture(folder / "6-ended.png")
    await page.do("Runtime.evaluate", expression="document.querySelector('#go-on').click()")
    await page.see("Today", "done by AB")


def kept(database: Path) -> None:
    """The visit is booked out once, and the book holds."""
    practice = opening.open_practice(str(database), today=TODAY)
    try:
        (visit,) = visits.of_case(practice, "C-1")
        assert visit.state is VisitState.DONE
        assert verify(practice).clean
    finally:
        practice.store.close()


async def give_token(page: Browser, address: str, folder: Path) -> None:
    """The page asks for the token, refuses a wrong one, and opens with the right one."""
    await page.go(address)
    await page.wait_for("document.querySelector('#token') !== null")
    await page.picture(folder / "7-token.png")
    for token in ("wrong", TOKEN):
        await page.wait_for("(field => field && (field.focus(), !field.value))(document.querySelector('#token'))")
        await page.type(token)
        await page.press("Enter")
    await page.see("Today", "C-2")


async def look(folder: Path, chromium: str) -> None:
    with tempfile.TemporaryDirectory() as store:
        database = stocked(Path(store))
        async with browser(chromium) as page, serving(database) as address:
            await book_out(page, address, folder)
            await quit_and_come_back(page, folder)
            assert {f"http://{host}/" for host in page.hosts} == {address}, page.hosts
            assert not page.said, page.said
        kept(database)
        async with (
            browser(chromium) as page,
            serving(database, "--from-elsewhere", "--listen", "127.0.0.1", token=TOKEN) as address,
        ):
            await give_token(page, address, folder)
            assert {f"http://{host}/" for host in page.hosts} == {address}, page.hosts


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--pictures", type=Path, required=True)
    options.add_argument("--chromium", default="chromium")
    asked = options.parse_args()
    asked.pictures.mkdir(parents=True, exist_ok=True)
    asyncio.run(look(asked.pictures, asked.chromium))
    sys.stdout.write(f"Nothing was lost. Pictures are in {asked.pictures}.\n")

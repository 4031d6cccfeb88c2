"""Killed in the middle of its work, a program leaves no posting half done, and none that it has confirmed undone.

Each posting finds stock, opens a unit and draws from it: three documents that belong together. The program writes down
each one that the store has confirmed; it is killed (SIGKILL) at a random moment, started again, and sends the posting
again that it had not seen confirmed, as a person would.
"""

import os
import random
import signal
import time
from contextlib import closing
from multiprocessing import get_context
from pathlib import Path

from inventory.domain.ledger import Draft, Entry, Opened, Posting, Sealed
from inventory.domain.vocabulary import DocumentKind, MovementKind
from inventory.service.clock import Clock
from inventory.service.practice import Practice
from inventory.service.verifying import verify
from inventory.store.engine import open_store
from inventory.store.ledger import Posted, already_posted, post
from inventory.store.queries import history
from tests.shelves import TODAY, Shelves

KILLS = 12


def book(practice: Practice, number: int, lot: int, place: int) -> Posted:
    """Post one visit's worth: a unit found, opened, and some of it used."""
    stack, unit = Sealed(lot, place), Opened(lot, place, TODAY)
    opening = (Entry(stack, MovementKind.OPENING, -5_000), Entry(unit, MovementKind.OPENING, 5_000))
    documents = (
        Draft(DocumentKind.COUNT, (Entry(stack, MovementKind.COUNT, 5_000),), 0, reason="found"),
        Draft(DocumentKind.OPENING, opening, 1),
        Draft(DocumentKind.USE, (Entry(unit, MovementKind.USE, -700),), 2),
    )
    with practice.writing() as desk:
        return post(desk.session, Posting(f"visit-{number}", "h", 1, desk.now, desk.now, desk.today, documents))


def work(url: str, first: int, lot: int, place: int, confirmed: str) -> None:
    """Book visit after visit, and write down each that is confirmed."""
    practice = Practice(open_store(url), Clock())
    with open(confirmed, "a", buffering=1, encoding="ascii") as notes:  # noqa: PTH123 - line by line
        for number in range(first, first + 10_000):
            book(practice, number, lot, place)
            notes.write(f"{number}\n")


def test_what_was_confirmed_is_there_and_nothing_is_half_or_twice(store_url: str, tmp_path: Path) -> None:
    notes = tmp_path / "confirmed"
    notes.touch()
    fate = random.Random(20260302)  # noqa: S311 - moments of death, nothing secret
    context = get_context("forkserver")
    context.set_forkserver_preload(["inventory.service.verifying", "tests.shelves"])
    with closing(open_store(store_url)) as store:
        shelves = Shelves(store)
        lot, place = shelves.lot(1), shelves.places["Store room"]
        for _ in range(KILLS):
            before = len(notes.read_text().split())
            program = context.Process(target=work, args=(store_url, before, lot, place, str(notes)))
            program.start()
            give_up = time.monotonic() + 60
            while len(notes.read_text().split()) < before + 2 and time.monotonic() < give_up:
                time.sleep(0.001)
            time.sleep(fate.random() * 0.03)
            assert program.pid is not None
            os.kill(program.pid, signal.SIGKILL)
            program.join()
            look(shelves, notes, lot, place)
        assert verify(shelves.practice).clean
        booked = len(notes.read_text().split())
        assert booked >= 2 * KILLS
        assert shelves.stock(lot)["Store room", None] == [5_000]
        assert shelves.stock(lot)["Store room", TODAY] == [4_300] * booked


def look(shelves: Shelves, notes: Path, lot: int, place: int) -> None:
    """After a death: everything confirmed is whole, the next one is whole or not there; send it again."""
    lines = notes.read_text().split("\n")
    notes.write_text("".join(f"{line}\n" for line in lines[:-1] if line))  # a line cut short was not confirmed
    confirmed = [int(line) for line in notes.read_text().split()]
    assert confirmed == list(range(len(confirmed)))
    following = len(confirmed)
    with shelves.practice.reading() as desk:
        for number in (*confirmed[-5:], following, following + 1):
            parts = [document.kind for document in history.of_request(desk.session, f"visit-{number}")]
            whole = [DocumentKind.COUNT, DocumentKind.OPENING, DocumentKind.USE]
            assert parts in ([whole] if number < following else [whole, []] if number == following else [[]])
    with shelves.practice.writing() as desk:
        unseen = already_posted(desk.session, f"visit-{following}", "h") is not None
    assert book(shelves.practice, following, lot, place).again is unseen
    with notes.open("a", encoding="ascii") as more:
        more.write(f"{following}\n")

"""The whole book of a practice at once: copied into another store and believed only after it was compared.

What is copied is compared table by table, number of rows and fingerprint, and passes the same check as `verify`, all
before it is committed: a copy is there whole and right, or not at all. The store that it came from is only read.
"""

from contextlib import closing
from dataclasses import dataclass

from inventory.errors import Conflict, NotAllowed, WrongStore
from inventory.service import verifying
from inventory.service.practice import Practice
from inventory.service.verifying import Verified
from inventory.store import copying
from inventory.store.copying import Content
from inventory.store.engine import Session, Store, open_store


@dataclass(frozen=True, slots=True)
class Copied:
    """A book in its new store: how many rows it has in all tables together, and what its check looked at."""

    rows: int
    verified: Verified


def move(practice: Practice, address: str) -> Copied:
    """Copy a practice to the store in which it is to work from now on; the old one stays as it is.

    Args:
        practice: the practice at work; nobody should be posting.
        address: path or URL of an empty store.

    Raises:
        NotAllowed: that store is not empty, or the book has faults.
        Conflict: somebody posted in the old store meanwhile.
        BadInput, StoreUnreachable, WrongStore, NewerStore: as ``open_store`` says; nothing was written.
    """
    with closing(open_store(address)) as target:
        return copy(practice.store, target, still=True)


def copy(source: Store, target: Store, *, still: bool = False) -> Copied:
    """Copy a whole book into an empty store, in one unit of work.

    Args:
        source: only read.
        target: has to be empty.
        still: refuse where the source changed meanwhile.

    Raises:
        NotAllowed: the target is not empty, or the book has faults.
        Conflict: the source changed.
        WrongStore: what was written is not what was read.
    """
    with source.reading() as old, target.writing() as new:
        for session in (old, new):
            copying.take_time(session)
        if not copying.is_empty(new):
            raise NotAllowed("There is a practice in that store already.", "Name an empty file or an empty database.")
        expected = copying.contents(old)
        copying.copy_book(old, new)
        refuse_other(expected, new)
        verified = verifying.verified(new)
        if not verified.clean:
            raise NotAllowed(
                f"The book has faults ({verified.findings[0].message}), so it was not copied.",
                "Look at all of them with 'verify'; nothing was changed.",
            )
        if still:
            _refuse_changed(source, expected)
        return Copied(rows(expected), verified)


def rows(contents: dict[str, Content]) -> int:
    """How many rows there are in all tables together."""
    return sum(content.rows for content in contents.values())


def refuse_other(expected: dict[str, Content], written: Session) -> None:
    """Compare what was written with what was read.

    Raises:
        WrongStore: it is not the same.
    """
    found = copying.contents(written)
    if other := [table for table, content in expected.items() if found[table] != content]:
        raise WrongStore(
            f"What was written is not what was read ({', '.join(other)}).",
            "Nothing was kept of it; try again, on another disk if it happens twice.",
        )


def _refuse_changed(source: Store, expected: dict[str, Content]) -> None:
    with source.reading() as now:
        if copying.contents(now) != expected:
            raise Conflict(
                "Somebody posted in the old store meanwhile.",
                "Nothing was written; close the program on every workstation, then try again.",
            )

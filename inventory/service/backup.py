"""Back a practice up while people work: always a SQLite file, whichever database the practice uses.

A backup is believed only after it was opened again: its own check finds nothing, and every table has the rows and the
fingerprint that the practice had at that moment. Old backups go only when such a one has just been made, so the last
good one is never among them. Where the practice itself has faults the copy is kept apart, and nothing goes.
"""

import re
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from inventory.errors import BadInput
from inventory.service import verifying, whole_book
from inventory.service.practice import Practice
from inventory.service.verifying import Verified
from inventory.store import copying, files
from inventory.store.copying import Content
from inventory.store.engine import open_store

KEEP = 14  # two weeks of one a day
SUSPECT = "-suspect"
STAMP = "%Y-%m-%dT%H-%M-%SZ"
_STAMPED = r"-\d{4}-\d\d-\d\dT\d\d-\d\d-\d\dZ(-\d+)?\.db"


@dataclass(frozen=True, slots=True)
class BackedUp:
    """A backup as it was written and checked.

    Attributes:
        rows: in all tables together.
        size: of the file, in bytes.
        verified: what its check found; with findings it is kept apart and replaces no other.
        removed: names of older backups that went.
    """

    path: Path
    rows: int
    size: int
    verified: Verified
    removed: tuple[str, ...]


def back_up(practice: Practice, folder: Path, *, keep: int = KEEP) -> BackedUp:
    """Write a backup, check it, and let the oldest go.

    Args:
        practice: the practice at work.
        folder: where this practice's backups are kept; each practice has its own.
        keep: so many stay, the new one among them.

    Raises:
        BadInput: fewer than one would stay.
        StoreUnreachable: the folder can't be written, or its disk is full; what was there stays.
        WrongStore: the store is too damaged to be read, or the copy is not the same as the store.
    """
    if keep < 1:
        raise BadInput("--keep: at least one backup has to stay.", "Give a number from 1 up.")
    now = practice.clock.now_utc()
    name = f"{practice.store.name}-{now.strftime(STAMP)}"
    with files.in_the_making(folder / f"{name}.db") as part:
        files.remove_old_parts(folder, now.timestamp())
        expected = _write(practice, part)
        verified = _checked(part, expected)
        size = part.stat().st_size
        path = files.next_free(folder / f"{name}{'' if verified.clean else SUSPECT}.db")
        files.finish(part, path)
        removed = _rotate(folder, practice.store.name, path, keep) if verified.clean else ()
    return BackedUp(path, whole_book.rows(expected), size, verified, removed)


def _write(practice: Practice, part: Path) -> dict[str, Content]:
    """Write the practice as it is at this moment; returns what that is."""
    with practice.reading() as desk:
        copying.take_time(desk.session)
        expected = copying.contents(desk.session)
        if practice.store.dialect == "sqlite":
            files.copy_pages(desk.session, part)
            return expected
        with closing(open_store(str(part))) as target, target.writing() as written:
            copying.copy_book(desk.session, written)
        return expected


def _checked(part: Path, expected: dict[str, Content]) -> Verified:
    """Open what was written, compare it, and say what its check finds."""
    with closing(open_store(str(part), create=False)) as store, store.reading() as session:
        whole_book.refuse_other(expected, session)
        return verifying.verified(session)


def _rotate(folder: Path, name: str, newest: Path, keep: int) -> tuple[str, ...]:
    """Remove the oldest backups of this name; never the new one, whatever the clock says."""
    ours = re.compile(re.escape(name) + _STAMPED)
    older = sorted(path for path in folder.iterdir() if ours.fullmatch(path.name) and path != newest)
    removed = []
    for path in older[: max(0, len(older) - (keep - 1))]:
        with suppress(OSError):  # one that can't be removed is only one too many
            path.unlink()
            removed.append(path.name)
    return tuple(removed)

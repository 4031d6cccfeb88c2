"""Files that hold a whole book: made beside their place, complete before they get their name, for their owner only.

A file that is half written must never look like a finished one, and an old one must never be lost for a new one: what
is written gets its name by a rename at the end, and what stands in the way is kept under another name.
"""

import errno
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import IO
from urllib.parse import quote

from sqlalchemy.exc import DBAPIError

from inventory.errors import StoreUnreachable, WrongStore
from inventory.store.address import prepare_file
from inventory.store.engine import Session, in_words

BESIDE = ("-wal", "-shm", "-journal")  # what SQLite keeps beside a file that is open
PART = ".part"
_OURS = (b"SQLite format 3\0", b"\2\2")  # the file's first bytes, and those that say that it has a log ahead of it
_OLD_S = 86_400  # a part that was last written a day ago belongs to a program that was stopped


@contextmanager
def in_the_making(path: Path) -> Iterator[Path]:
    """A new file beside the one that it will be; it is removed, unless the block gives it its name.

    Raises:
        StoreUnreachable: the folder can't be made or written, or the disk is full.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}{PART}")
    try:
        _remove(part)
        prepare_file(part)
        yield part
    except OSError as error:
        raise StoreUnreachable(
            f"{path.parent} can't be written: {error.strerror}.", "Check the folder and the space on its disk."
        ) from None
    finally:
        with suppress(OSError):
            _remove(part)


@contextmanager
def folder_in_the_making(path: Path) -> Iterator[Path]:
    """The same for a folder.

    Raises:
        StoreUnreachable: it can't be made or written, or the disk is full.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}{PART}")
    try:
        shutil.rmtree(part, ignore_errors=True)
        part.parent.mkdir(parents=True, mode=0o700, exist_ok=True)
        part.mkdir(mode=0o700)
        yield part
    except OSError as error:
        raise StoreUnreachable(
            f"{path.parent} can't be written: {error.strerror}.", "Check the folder and the space on its disk."
        ) from None
    finally:
        shutil.rmtree(part, ignore_errors=True)


def private_file(path: Path) -> IO[bytes]:
    """A new file that only its owner can read, open for writing."""
    return os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb")


def next_free(path: Path) -> Path:
    """The path, or a numbered one like it where something has that name."""
    free, number = path, 1
    while free.exists():
        number += 1
        free = path.with_stem(f"{path.stem}-{number}")
    return free


def finish(part: Path, path: Path) -> None:
    """Give a complete file its name, which is free."""
    with part.open("rb+") as written:
        os.fsync(written.fileno())
    if path.exists():
        raise FileExistsError(errno.EEXIST, "there is a file of that name by now")
    part.rename(path)
    _sync(path.parent)


def remove_old_parts(folder: Path, now: float) -> None:
    """Remove what programs left that were stopped while they wrote; ``now`` in seconds since 1970."""
    for part in folder.glob(f".*{PART}*"):
        with suppress(OSError):
            if part.stat().st_mtime < now - _OLD_S:
                part.unlink()


def copy_pages(session: Session, path: Path) -> None:
    """Copy the SQLite store that a unit of work reads, as that unit of work sees it, while others go on writing."""
    with in_words(), closing(sqlite3.connect(path)) as target:
        try:
            session.connection().connection.driver_connection.backup(target)  # type: ignore[union-attr]
        except sqlite3.Error as error:
            raise DBAPIError("backup", None, error) from error


def copy_file(source: Path, path: Path) -> None:
    """Copy a SQLite file without changing anything of it or beside it.

    Raises:
        StoreUnreachable: it can't be read.
        WrongStore: it is no SQLite file, a damaged or an empty one.
    """
    waiting = any(_size(_beside(source, end)) for end in BESIDE)  # somebody has it open, or was stopped with it
    access = "mode=ro" if waiting else "immutable=1"
    address = f"file:{quote(str(source.resolve()))}?{access}"
    with in_words(), closing(sqlite3.connect(path)) as target:
        try:
            with closing(sqlite3.connect(address, uri=True)) as opened:
                opened.backup(target)
            if not target.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
                raise WrongStore(f"There is nothing in {source}.", "Name another one.")
        except sqlite3.Error as error:
            raise DBAPIError("backup", None, error) from error


def stands_at(path: Path) -> bool:
    """Whether there is something at a path, or beside it, that a new store there would bury."""
    return any(_size(file) for file in (path, *(_beside(path, end) for end in BESIDE)))


def set_aside(path: Path, aside: Path) -> Path:
    """Keep the store at a path under another name, with what belongs to it.

    Raises:
        StoreUnreachable: somebody works with it.
    """
    _refuse_in_use(path)
    aside = next_free(aside)
    for end in ("", *BESIDE):
        with suppress(FileNotFoundError):
            _beside(path, end).rename(_beside(aside, end))
    _sync(path.parent)
    return aside


def _refuse_in_use(path: Path) -> None:
    """SQLite gives up its log only where nobody else has the file open.

    A file that does not begin as one of ours nobody works with, and SQLite would throw away what stands beside it.
    """
    if not _size(path) or _start(path) != _OURS:
        return
    with closing(sqlite3.connect(path, timeout=1)) as opened:
        try:
            opened.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.OperationalError as error:
            if "locked" in str(error):
                raise StoreUnreachable(
                    f"Somebody is working with {path}.", "Close the program on every workstation, then try again."
                ) from None
        except sqlite3.DatabaseError:
            return


def _start(path: Path) -> tuple[bytes, bytes]:
    with path.open("rb") as file:
        return file.read(16), file.read(4)[2:]


def _beside(path: Path, end: str) -> Path:
    return path.with_name(path.name + end)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0


def _remove(path: Path) -> None:
    for end in ("", *BESIDE):
        _beside(path, end).unlink(missing_ok=True)


def _sync(folder: Path) -> None:
    """Make a rename outlast a power cut, where the system knows how."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)

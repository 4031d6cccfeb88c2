"""Where a store is: a file path or a database URL, as people and settings write it."""

import os
from pathlib import Path

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from inventory.errors import BadInput

_POSTGRESQL = {"postgres", "postgresql", "postgresql+psycopg"}


def parse_address(address: str) -> URL:
    """Turn a path or URL into a database URL.

    Raises:
        BadInput: a URL of another kind of database, or one that can't be read. The address itself is not repeated,
            since it may hold a password.
    """
    if "://" not in address:
        return URL.create("sqlite", database=str(_path(address)))
    try:
        url = make_url(address)
    except (ArgumentError, ValueError):
        raise BadInput(
            "The database address can't be read.", "Give a file path or postgresql://user@host/database."
        ) from None
    if url.drivername in _POSTGRESQL:
        return url.set(drivername="postgresql+psycopg")
    if url.drivername == "sqlite" and url.database and url.database != ":memory:" and not url.query:
        return url
    raise BadInput(
        f"A database of the kind {url.drivername!r} is not supported.",
        "Give a file path or postgresql://user@host/database.",
    )


def _path(address: str) -> Path:
    if not address.strip() or address == ":memory:":
        raise BadInput("The database address names no file.", "Give a file path or postgresql://user@host/database.")
    try:
        return Path(address).expanduser()
    except RuntimeError:  # ~name of a user who does not exist
        raise BadInput(f"There is no home folder for {address!r}.", "Give the whole path.") from None


def prepare_file(path: Path) -> None:
    """Create the folder (0700) and the empty file (0600) of a new store, so that nobody else can read it.

    Raises:
        OSError: the system does not allow it.
    """
    path.parent.mkdir(parents=True, mode=0o700, exist_ok=True)
    if not path.exists():
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))

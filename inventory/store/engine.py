"""Opening a store and working in it: one reading or writing unit of work at a time, errors in words.

Writers on SQLite begin IMMEDIATE: a deferred transaction that reads first and writes later loses updates or meets a
lock that no waiting resolves. Every commit is durable (WAL with synchronous FULL). On PostgreSQL a reading unit of work
is one snapshot (REPEATABLE READ, read only), as it is on SQLite anyway; writers lock what they change.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from uuid import uuid4

from sqlalchemy import URL, Connection, Engine, create_engine, event, text
from sqlalchemy.exc import DataError, DBAPIError, IntegrityError, SQLAlchemyError
from sqlmodel import Session

from inventory.errors import (
    BadInput,
    Conflict,
    NewerStore,
    NotAllowed,
    PracticeError,
    StoreError,
    StoreUnreachable,
    WrongStore,
)
from inventory.store import schema
from inventory.store.address import parse_address, prepare_file

__all__ = ["CHANNEL", "Session", "Store", "in_words", "open_store"]

BUSY_MS = 30_000
_HASTY = ("off", "synchronous_commit")
CHANNEL = "practice_posted"  # on which PostgreSQL tells that something was posted
_TELL = text("SELECT version_num, pg_notify(:channel, :name) FROM alembic_version")
_COUNT_CHANGE = text("UPDATE revision SET number = number + 1 WHERE (SELECT version_num FROM alembic_version) = :head")


class Store:
    """A practice's store, opened and of this program's schema."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self.posted = 0  # writing units of work done here, as far as anybody wants to know
        self.own_name = uuid4().hex
        self._writing = engine.execution_options(immediate=True)
        self._reading = engine
        if engine.dialect.name == "postgresql":
            self._reading = engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)

    @property
    def dialect(self) -> str:
        """``sqlite`` or ``postgresql``."""
        return self._engine.dialect.name

    @property
    def name(self) -> str:
        """What people call it by: the file's name without its ending, or the database's."""
        return Path(self._engine.url.database or "").stem or "practice"

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """One consistent look at the store; nothing can be written."""
        with in_words(), Session(self._reading, autoflush=False) as session:
            yield session
            session.rollback()

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """One writing unit of work: committed whole when the block ends, rolled back whole when it raises.

        Raises:
            NewerStore: a later program has changed the tables since this one opened the store.
        """
        with in_words(), Session(self._writing, autoflush=False, expire_on_commit=False) as session, session.begin():
            yield session
            session.flush()
            if self.dialect == "sqlite":
                ours = session.execute(_COUNT_CHANGE, {"head": schema.HEAD}).rowcount == 1  # type: ignore[attr-defined]
            else:
                ours = (
                    session.execute(_TELL, {"channel": CHANNEL, "name": self.own_name}).scalar_one_or_none()
                    == schema.HEAD
                )
            if not ours:
                raise NewerStore(
                    "A newer program has changed the store meanwhile.",
                    "Nothing was posted; close this program and start the newer one.",
                )
        self.posted += 1

    def outside_transactions(self) -> Connection:
        """A connection of its own on which every statement stands for itself."""
        return self._engine.connect().execution_options(isolation_level="AUTOCOMMIT")

    def revision(self) -> int:
        """A number that grows with every writing unit of work (SQLite); other workstations poll it."""
        with self.reading() as session:
            return int(session.execute(text("SELECT number FROM revision")).scalar_one())

    def close(self) -> None:
        self._engine.dispose()


def open_store(address: str, *, create: bool = True) -> Store:
    """Open the store at a path or URL; create or migrate its schema where needed.

    Args:
        address: file path, ``sqlite:///path`` or ``postgresql://user@host/database``.
        create: whether an absent file may be created.

    Raises:
        BadInput: the address can't be read.
        StoreUnreachable: no such file or server, or no permission.
        WrongStore: not one of our stores, or damaged.
        NewerStore: written by a later version of this program.
    """
    url = parse_address(address)
    if url.get_backend_name() == "sqlite":
        _prepare_sqlite(Path(url.database or ""), create=create)
    engine = _engine(url)
    try:
        with in_words():
            schema.bring_up_to_date(engine)
    except BaseException:
        engine.dispose()
        raise
    return Store(engine)


def _prepare_sqlite(path: Path, *, create: bool) -> None:
    try:
        if path.is_dir():
            raise WrongStore(f"{path} is a folder, not a store.", "Name a file in it, e.g. practice.db.")
        if not create and not (path.exists() and path.stat().st_size):
            raise StoreUnreachable(f"There is no store at {path}.", "Check the path, or start without it.")
        prepare_file(path)
    except (OSError, ValueError) as error:
        said = error.strerror if isinstance(error, OSError) else "no file can have this name"
        raise StoreUnreachable(
            f"The store at {path} can't be created or opened: {said}.", "Check the path and the folder's permissions."
        ) from None


def _engine(url: URL) -> Engine:
    if url.get_backend_name() == "sqlite":
        sharing = {"timeout": BUSY_MS / 1000, "check_same_thread": False}
        engine = create_engine(url, hide_parameters=True, connect_args=sharing)  # no error repeats what was typed
        event.listen(engine, "connect", _set_up_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    patience = f"-c lock_timeout={BUSY_MS} -c idle_in_transaction_session_timeout={2 * BUSY_MS}"
    driver = {"connect_timeout": 10, "options": patience}
    engine = create_engine(url, hide_parameters=True, pool_pre_ping=True, connect_args=driver)
    event.listen(engine, "connect", _set_up_postgresql)
    return engine


def _set_up_sqlite(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # we say BEGIN ourselves
    for pragma in (
        f"busy_timeout = {BUSY_MS}",
        "synchronous = FULL",
        "foreign_keys = ON",
        "recursive_triggers = ON",  # without it INSERT OR REPLACE gets past the append-only guards
    ):
        connection.execute(f"PRAGMA {pragma}")


def _set_up_postgresql(connection: Any, _record: Any) -> None:
    """What is confirmed outlasts the server, also where the server would rather not wait for its disk."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT set_config('synchronous_commit', 'on', false) WHERE %s = current_setting(%s)", _HASTY)
    connection.commit()


def _begin_sqlite(connection: Connection) -> None:
    immediate = connection.get_execution_options().get("immediate")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if immediate else "BEGIN")


@contextmanager
def in_words() -> Iterator[None]:
    """Translate what the database driver raises into errors a person can act on."""
    try:
        yield
    except DBAPIError as error:
        raise _translate(str(error.orig), error) from error
    except UnicodeDecodeError as error:  # SQLite complains with words of a damaged file
        raise WrongStore(_WRONG["malformed"], "Name another one, or restore a backup.") from error
    except (OverflowError, UnicodeEncodeError) as error:  # what the driver of SQLite says before it asks the store
        raise BadInput(*_UNFIT) from error
    except SQLAlchemyError as error:
        raise StoreError(f"The store answered unexpectedly: {error}.", "Nothing was changed; try again.") from error


_UNREACHABLE = {
    "lock timeout": ("The store is busy for too long.", "Nothing was changed; try again in a moment."),
    "locked": ("The store is busy for too long.", "Nothing was changed; try again in a moment."),
    "disk is full": ("The disk is full.", "Nothing was changed; free some space and try again."),
    "readonly": ("The store may only be read.", "Check the file's permissions and its folder's."),
    "unable to open": ("The store can't be opened.", "Check the path and its permissions."),
    "disk i/o": ("The disk does not answer.", "Nothing was changed; check the disk and try again."),
    "resolve host": ("The database server can't be found.", "Check its name in the settings, and the network."),
    "connection": ("The database server can't be reached.", "Nothing was changed; check the server and try again."),
    "password authentication": ("The database server refuses the password.", "Check the address in the settings."),
}  # fmt: skip
_WRONG = {
    "not a database": "The file is not a store of this program.",
    "malformed": "The store is damaged.",
    "no such table": "The database is not a store of this program.",
    "does not exist": "The database does not exist or is not a store of this program.",
}


_REFUSED: tuple[tuple[tuple[str, ...], type[PracticeError], tuple[str, str]], ...] = (
    (("permission denied", "must be owner"), NotAllowed,
     ("Your login at the database server may not do this.", "Ask whoever manages the practice's database.")),
    (("deadlock", "could not serialize"), Conflict,
     ("Somebody else posted at the same moment.", "Nothing was changed; try again.")),
)  # fmt: skip
_UNFIT = ("A number is too large, or a text too long or with characters that can't be kept.", "Check what was typed.")


def _translate(words: str, error: DBAPIError) -> PracticeError:
    lowered = words.lower()
    if isinstance(error, DataError):
        return BadInput(*_UNFIT)
    if isinstance(error, IntegrityError):
        return NotAllowed(f"The store's rules refuse this: {words.splitlines()[0]}.", "Nothing was changed.")
    for signs, kind, said in _REFUSED:
        if any(sign in lowered for sign in signs):
            return kind(*said)
    for sign, message in _WRONG.items():
        if sign in lowered:
            return WrongStore(message, "Name another one, or restore a backup.")
    for sign, (message, todo) in _UNREACHABLE.items():
        if sign in lowered or (sign == "connection" and error.connection_invalidated):
            return StoreUnreachable(message, todo)
    return StoreError(f"The store refused: {words.splitlines()[0]}.", "Nothing was changed.")

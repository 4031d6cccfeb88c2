"""The schema's version: compared at every opening, migrated only when it differs.

Alembic costs more than the rest of the start, so it is imported only when there is something to migrate.
"""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, Engine, inspect, text
from sqlalchemy.exc import DBAPIError

from inventory.errors import NewerStore, WrongStore
from inventory.store import guards

HEAD = "0003"
VERSIONS = ("0001", "0002", "0003")  # every released schema, oldest first
_PATIENCE_S = 30
_MIGRATION_LOCK = 7_141_923  # any number; the same for every program that migrates on one server


def bring_up_to_date(engine: Engine) -> None:
    """Create or migrate the schema and make sure the guards stand; another program's data is not touched.

    Raises:
        WrongStore: not empty and not ours, damaged, or a guard is missing.
        NewerStore: the schema is later than this program knows.
    """
    with engine.connect() as connection:
        with connection.begin():
            version = stored_version(connection)
        _write_ahead(connection)
        with connection.begin():
            if version == HEAD:
                _check_guards(connection)
                return
    _migrate(engine.execution_options(immediate=True))


def stored_version(connection: Connection) -> str | None:
    """Version of the schema in the store; None for an empty database.

    Raises:
        WrongStore: not empty and not ours.
        NewerStore: later than this program knows.
    """
    if connection.dialect.name == "sqlite":
        tables = set(connection.execute(text("SELECT name FROM sqlite_master")).scalars())
    else:
        tables = set(inspect(connection).get_table_names())
    if not tables:
        return None
    versions: list[str] = []
    if {"alembic_version", "document", "holding", "movement"} <= tables:
        versions = list(connection.execute(text("SELECT version_num FROM alembic_version")).scalars())
    if len(versions) != 1:
        raise WrongStore("The database holds other data, not a practice.", "Name another file or an empty database.")
    if versions[0] not in VERSIONS:
        raise NewerStore(
            f"The store has schema {versions[0]}; this program knows {HEAD}.", "Install the newer program."
        )
    return versions[0]


def _write_ahead(connection: Connection) -> None:
    """Keep SQLite's log ahead of the file: readers and the writer don't stop each other. It stays so in the file.

    SQLite waits for nobody here, so where another program is just making the same store this one asks again.
    """
    if connection.dialect.name != "sqlite":
        return
    give_up = time.monotonic() + _PATIENCE_S
    while True:
        try:
            _outside_transaction(connection, "PRAGMA journal_mode = WAL")
        except DBAPIError as error:
            if "locked" not in str(error.orig) or time.monotonic() > give_up:
                raise
            time.sleep(0.02)
        else:
            return


def _check_guards(connection: Connection) -> None:
    if lost := guards.missing(connection):
        raise WrongStore(
            f"The store has lost its guards against changing history ({', '.join(sorted(lost))}).",
            "Don't work on; restore a backup, or have the store looked at.",
        )


def _migrate(engine: Engine) -> None:
    """Run the outstanding migrations in one transaction, one program at a time."""
    from alembic import command  # noqa: PLC0415 - only when there is something to migrate
    from alembic.config import Config  # noqa: PLC0415

    config = Config()
    config.set_main_option("script_location", "inventory.store:migrations")
    config.set_main_option("path_separator", "os")
    with engine.connect() as connection, _links_unchecked(connection), connection.begin():
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _MIGRATION_LOCK})
        if stored_version(connection) != HEAD:  # another program may have been faster
            config.attributes["connection"] = connection
            command.upgrade(config, HEAD)
        guards.install(connection)
        _check_guards(connection)
        _check_links(connection)


def _check_links(connection: Connection) -> None:
    if connection.dialect.name == "sqlite" and connection.execute(text("PRAGMA foreign_key_check")).first():
        raise WrongStore(
            "Rows of the store point at rows that are not there.", "Nothing was changed; restore a backup."
        )


@contextmanager
def _links_unchecked(connection: Connection) -> Iterator[None]:
    """SQLite changes a table by rebuilding it, which must not cascade: foreign keys off, all checked, on again."""
    if connection.dialect.name != "sqlite":
        yield
        return
    _outside_transaction(connection, "PRAGMA foreign_keys = OFF")
    try:
        yield
    finally:
        _outside_transaction(connection, "PRAGMA foreign_keys = ON")


def _outside_transaction(connection: Connection, statement: str) -> None:
    """Tell SQLite something that it only takes between transactions."""
    driver = connection.connection.driver_connection
    assert driver is not None  # noqa: S101 - it is connected
    try:
        driver.execute(statement)
    except sqlite3.Error as error:
        raise DBAPIError(statement, None, error) from error

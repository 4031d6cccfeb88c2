"""The schema's version: compared at every opening, migrated only when it differs.

Alembic costs more than the rest of the start, so it is imported only when there is something to migrate.
"""

from sqlalchemy import Connection, Engine, inspect, text

from inventory.errors import NewerStore, WrongStore
from inventory.store import guards

HEAD = "0001"
VERSIONS = ("0001",)  # every released schema, oldest first
_MIGRATION_LOCK = 7_141_923  # any number; the same for every program that migrates on one server


def bring_up_to_date(engine: Engine) -> None:
    """Create or migrate the schema and make sure the guards stand.

    Raises:
        WrongStore: not empty and not ours, or a guard is missing.
        NewerStore: the schema is later than this program knows.
    """
    with engine.connect() as connection, connection.begin():
        version = stored_version(connection)
        if version == HEAD:
            _check_guards(connection)
            return
    _migrate(engine)


def stored_version(connection: Connection) -> str | None:
    """Version of the schema in the store; None for an empty database."""
    if connection.dialect.name == "sqlite":
        tables = set(connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'table'")).scalars())
    else:
        tables = set(inspect(connection).get_table_names())
    if not tables:
        return None
    if "alembic_version" not in tables or "movement" not in tables:
        raise WrongStore("The database holds other data, not a practice.", "Name another file or an empty database.")
    version = str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one())
    if version not in VERSIONS:
        raise NewerStore(f"The store has schema {version}; this program knows {HEAD}.", "Install the newer program.")
    return version


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
    with engine.connect() as connection:
        if connection.dialect.name == "sqlite":  # a rebuilt table must not cascade; checked again below
            connection.exec_driver_sql("COMMIT") if connection.in_transaction() else None
        with connection.begin():
            if connection.dialect.name == "postgresql":
                connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _MIGRATION_LOCK})
            if stored_version(connection) != HEAD:  # another program may have been faster
                config.attributes["connection"] = connection
                command.upgrade(config, HEAD)
            guards.install(connection)
            _check_guards(connection)

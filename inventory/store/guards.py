"""Guards inside the database: what may never be changed or deleted, whoever asks.

Append-only tables refuse UPDATE and DELETE; records of stock refuse DELETE; what a holding and a lot *are* refuses to
change. PostgreSQL has TRUNCATE too, and refuses it; SQLite has INSERT OR REPLACE, which deletes and is refused where
triggers are recursive, as they are on every connection of this program. Rebuilding a table in a migration silently
drops its triggers, so guards are installed again after each one and looked for at every opening.
"""

from collections.abc import Iterator

from sqlalchemy import Connection, text

APPEND_ONLY = ("change", "count_line", "document", "estimate", "movement")
NEVER_DELETED = (
    "case_kind", "count_round", "delivery", "delivery_line", "hold", "holding", "item", "lot", "notice", "notice_case",
    "notice_scope", "person", "place", "purchase", "purchase_line", "shipment", "supplier", "supply", "tray_trial",
    "visit", "visit_use",
)  # fmt: skip
FROZEN = {
    "holding": ("lot_id", "place_id", "opened_on"),
    "lot": ("item_id", "unit_qty"),
    "notice": ("reference",),
    "notice_scope": ("notice_id", "item_id", "code", "lot_from", "lot_to", "received_from", "received_to"),
    "purchase": ("number", "supplier_id"),
    "purchase_line": ("purchase_id", "supply_id"),
    "shipment": ("visit_id",),
}


def names(dialect: str) -> frozenset[str]:
    """Names of all guards: equal on both stores, and those against TRUNCATE on PostgreSQL."""
    truncates = [_truncate(table) for table in (*APPEND_ONLY, *NEVER_DELETED)] if dialect == "postgresql" else []
    return frozenset([*(name for name, *_ in _guards()), *truncates])


def install(connection: Connection) -> None:
    """Put every guard in place; those that stand are left alone."""
    statements = _sqlite() if connection.dialect.name == "sqlite" else _postgresql()
    for statement in statements:
        connection.execute(text(statement))


def missing(connection: Connection) -> frozenset[str]:
    """Names of guards that are not in place (on PostgreSQL also those that are switched off)."""
    if connection.dialect.name == "sqlite":
        query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    else:
        query = (
            "SELECT t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "WHERE c.relnamespace = current_schema()::regnamespace AND t.tgenabled IN ('O', 'A')"
        )
    return names(connection.dialect.name) - frozenset(connection.execute(text(query)).scalars())


def _truncate(table: str) -> str:
    return f"guard_{table}_truncate"


def _guards() -> Iterator[tuple[str, str, str, str, str]]:
    """Each guard as (name, table, event, condition, message)."""
    for table in APPEND_ONLY:
        yield f"guard_{table}_update", table, "UPDATE", "", f"{table} is append-only"
    for table in (*APPEND_ONLY, *NEVER_DELETED):
        yield f"guard_{table}_delete", table, "DELETE", "", f"{table} keeps every row"
    for table, columns in FROZEN.items():
        changed = " OR ".join(f"OLD.{column} IS DISTINCT FROM NEW.{column}" for column in columns)
        yield f"guard_{table}_frozen", table, "UPDATE", changed, f"what a {table} is never changes"


def _sqlite() -> Iterator[str]:
    for name, table, event, condition, message in _guards():
        # SQLite before 3.39 knows IS DISTINCT FROM as IS NOT
        when = f"WHEN {condition.replace('IS DISTINCT FROM', 'IS NOT')} " if condition else ""
        yield (
            f'CREATE TRIGGER IF NOT EXISTS {name} BEFORE {event} ON "{table}" {when}'
            f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
        )


def _postgresql() -> Iterator[str]:
    yield (
        "CREATE OR REPLACE FUNCTION guard_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION '%', TG_ARGV[0] USING ERRCODE = 'integrity_constraint_violation'; END $$"
    )
    for name, table, event, condition, message in _guards():
        when = f"WHEN ({condition}) " if condition else ""
        yield (
            f'CREATE OR REPLACE TRIGGER {name} BEFORE {event} ON "{table}" FOR EACH ROW {when}'
            f"EXECUTE FUNCTION guard_refuse('{message}')"
        )
    for table in (*APPEND_ONLY, *NEVER_DELETED):
        yield (
            f'CREATE OR REPLACE TRIGGER {_truncate(table)} BEFORE TRUNCATE ON "{table}" FOR EACH STATEMENT '
            f"EXECUTE FUNCTION guard_refuse('{table} keeps every row')"
        )

"""Databases of the test server that were used before, put back as they were: that takes a tenth of a new copy's time.

Beside the tables of a new copy their rows are kept in a schema of their own. When the test ends its connections are
ended, the tables are emptied and filled from there, and the sequences set back. A test that changed anything else (a
guard, a column, a right) leaves a database of another shape: that one is dropped.
"""

from collections import defaultdict
from contextlib import suppress
from itertools import count
from typing import Any

import psycopg
from psycopg import sql
from sqlalchemy import make_url

from tests.postgres import Postgres

SHAPE = """
SELECT md5(string_agg(part, ',' ORDER BY part)) FROM (
    SELECT concat_ws(' ', oid, relname, relkind, relnatts, relchecks, relacl) AS part
    FROM pg_class WHERE relnamespace = 'public'::regnamespace
    UNION ALL SELECT concat_ws(' ', t.oid, tgname, tgenabled) FROM pg_trigger t WHERE NOT tgisinternal
    UNION ALL SELECT concat_ws(' ', attrelid, attname, atttypid, attnotnull, attisdropped) FROM pg_attribute
    WHERE attnum > 0 AND attrelid IN (SELECT oid FROM pg_class WHERE relnamespace = 'public'::regnamespace)
    UNION ALL SELECT concat_ws(' ', oid, conname, convalidated) FROM pg_constraint
    UNION ALL SELECT concat_ws(' ', oid, proname, md5(prosrc)) FROM pg_proc
    WHERE pronamespace = 'public'::regnamespace
) AS parts
"""
OTHERS = "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE datname = %s AND pid <> pg_backend_pid()"


class Restorable:
    """A copy of a template that can be put back as it was when it was made."""

    def __init__(self, server: Postgres, template: str, name: str) -> None:
        self.name, self.url = name, server.copy(template, name)
        plain = make_url(self.url).set(drivername="postgresql").render_as_string(hide_password=False)
        self._connection: psycopg.Connection[tuple[Any, ...]] = psycopg.connect(plain, autocommit=True)
        self._script = self._keep()
        self._shape = self._rows(SHAPE)

    def restore(self) -> bool:
        """Put it back as it was; False where it has another shape now, or does not answer."""
        try:
            self._connection.execute(OTHERS, [self._connection.info.dbname])
            if self._rows(SHAPE) != self._shape:
                return False
            self._connection.execute(self._script)
        except psycopg.Error:
            return False
        return True

    def close(self) -> None:
        self._connection.close()

    def _rows(self, query: Any) -> list[Any]:
        return self._connection.execute(query).fetchall()

    def _keep(self) -> sql.Composed:
        """Keep the rows of all tables; returns what puts them back."""
        self._connection.execute("CREATE SCHEMA kept")
        tables = [name for (name,) in self._rows("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")]
        # guards and references are no hindrance while rows are put back; the setting ends with the transaction
        steps: list[sql.Composable] = [sql.SQL("BEGIN"), sql.SQL("SET LOCAL session_replication_role = replica")]
        for table in map(sql.Identifier, tables):
            steps.append(sql.SQL("DELETE FROM public.{}").format(table))
            made = self._connection.execute(sql.SQL("CREATE TABLE kept.{} AS TABLE public.{}").format(table, table))
            if made.rowcount:
                fill = "INSERT INTO public.{} OVERRIDING SYSTEM VALUE SELECT * FROM kept.{}"
                steps.append(sql.SQL(fill).format(table, table))
        for name, last in self._rows("SELECT sequencename, last_value FROM pg_sequences WHERE schemaname = 'public'"):
            sequence = sql.Literal(f'public."{name}"')
            values = (sql.Literal(last or 1), sql.Literal(last is not None))
            steps.append(sql.SQL("SELECT setval({}, {}, {})").format(sequence, *values))
        return sql.SQL("; ").join([*steps, sql.SQL("COMMIT")])


class Pool:
    """The databases of one worker: those of ended tests serve again."""

    def __init__(self, server: Postgres, prefix: str) -> None:
        self._server, self._prefix, self._numbers = server, prefix, count(1)
        self._free: dict[str, list[Restorable]] = defaultdict(list)

    def take(self, template: str) -> Restorable:
        """A database like the template."""
        if self._free[template]:
            return self._free[template].pop()
        return Restorable(self._server, template, f"{self._prefix}-pool-{next(self._numbers)}")

    def give_back(self, template: str, database: Restorable) -> None:
        if database.restore():
            self._free[template].append(database)
        else:
            database.close()
            with suppress(psycopg.Error):  # a test may have ended the server itself
                self._server.drop(database.name)

    def close(self) -> None:
        for databases in self._free.values():
            for database in databases:
                database.close()

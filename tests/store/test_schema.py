"""The schema: what the migrations make is what the tables say, on both stores."""

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta, timezone
from enum import Enum
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Connection, create_engine, inspect, text
from sqlalchemy import Enum as SqlEnum
from sqlmodel import SQLModel, select

from inventory.domain import vocabulary
from inventory.domain.vocabulary import DocumentKind
from inventory.errors import NotAllowed, PracticeError
from inventory.store.engine import Store, open_store
from inventory.store.schema import HEAD, VERSIONS
from inventory.store.tables import Change, Document, Setting
from tests.plans import GROWS
from tests.shelves import Shelves

# Neither tool can read an index of an expression back from SQLite; that it is used, a test of tracing says.
pytestmark = [
    pytest.mark.filterwarnings("ignore:Skipped unsupported reflection of expression-based index ix_lot_number"),
    pytest.mark.filterwarnings(
        "ignore:autogenerate skipping metadata-specified expression-based index 'ix_lot_number'"
    ),
]


def tables() -> Iterator[Any]:
    yield from SQLModel.metadata.sorted_tables


def test_what_is_migrated_is_what_the_tables_say(empty_store_url: str) -> None:
    with closing(open_store(empty_store_url)) as store, store.reading() as session:
        options = {"compare_type": True, "compare_server_default": True}
        found = compare_metadata(MigrationContext.configure(session.connection(), opts=options), SQLModel.metadata)
    assert found == []


def checks(connection: Connection) -> dict[str, dict[str, str]]:
    inspector = inspect(connection)
    return {
        table.name: {str(one["name"]): one["sqltext"] for one in inspector.get_check_constraints(table.name)}
        for table in tables()
    }


def test_every_rule_of_a_table_is_in_the_database_by_name(store: Store) -> None:
    """Migration tools don't compare CHECKs, so they are compared here."""
    with store.reading() as session:
        migrated = checks(session.connection())
    for table in tables():
        said = {str(one.name) for one in table.constraints if type(one).__name__ == "CheckConstraint" and one.name}
        said = {name if name.startswith("ck_") else f"ck_{table.name}_{name}" for name in said}
        assert set(migrated[table.name]) == said, table.name


def test_the_rules_of_the_tables_say_the_same_as_the_migrations(tmp_path: Path) -> None:
    """Made straight from the tables, and by the migrations: the same rules, word for word."""
    straight = create_engine(f"sqlite:///{tmp_path / 'straight.db'}")
    SQLModel.metadata.create_all(straight)
    with straight.connect() as connection:
        from_tables = checks(connection)
    straight.dispose()
    with closing(open_store(str(tmp_path / "migrated.db"))) as store, store.reading() as session:
        assert checks(session.connection()) == from_tables


def test_every_closed_set_of_words_has_a_rule_with_just_those_words(store: Store) -> None:
    with store.reading() as session:
        rules = {name: rule for table in checks(session.connection()).values() for name, rule in table.items()}
    closed = [column for table in tables() for column in table.columns if isinstance(column.type, SqlEnum)]
    assert len(closed) > 20
    for column in closed:
        rule = rules[f"ck_{column.table.name}_{column.type.name}"]
        assert all(f"'{value}'" in rule for value in column.type.enums), rule
        assert rule.count("'") == 2 * len(column.type.enums), rule


def test_a_word_outside_its_set_is_refused(store: Store) -> None:
    for statement in (
        "INSERT INTO place (name, role, walk_order, active) VALUES ('x', 'cellar', 0, true)",
        "INSERT INTO person (initials, role, active) VALUES ('XY', 'DENTIST', true)",  # the name instead of the value
    ):
        with pytest.raises(NotAllowed), store.writing() as session:
            session.execute(text(statement))


def test_enums_of_the_vocabulary_are_stored_by_value() -> None:
    columns = [column for table in tables() for column in table.columns if isinstance(column.type, SqlEnum)]
    for column in columns:
        kind = column.type.enum_class
        assert issubclass(kind, Enum)
        assert kind.__module__ == vocabulary.__name__
        assert column.type.enums == [str(member.value) for member in kind]


def test_every_foreign_key_leads_an_index(store: Store) -> None:
    with store.reading() as session:
        inspector = inspect(session.connection())
        for table in tables():
            leading = {tuple(index["column_names"])[:1] for index in inspector.get_indexes(table.name)}
            leading |= {tuple(rule["column_names"])[:1] for rule in inspector.get_unique_constraints(table.name)}
            leading.add(tuple(inspector.get_pk_constraint(table.name)["constrained_columns"])[:1])
            for link in inspector.get_foreign_keys(table.name):
                assert tuple(link["constrained_columns"])[:1] in leading, (table.name, link["constrained_columns"])


def test_every_constraint_has_a_name_that_fits(store: Store) -> None:
    """PostgreSQL cuts names at 63 characters; a later migration would not find them."""
    for table in tables():
        for constraint in (*table.constraints, *table.indexes):
            assert constraint.name
            assert len(str(constraint.name)) <= 63


def test_tables_that_grow_are_known_to_the_test_of_query_plans() -> None:
    assert {table.name for table in tables()} >= GROWS


def test_the_last_version_is_the_head() -> None:
    assert VERSIONS[-1] == HEAD


# Instants


NAIVE = datetime(2026, 3, 2, 9)  # noqa: DTZ001 - that is the point


def keep(store: Store, row: SQLModel) -> None:
    with store.writing() as session:
        session.add(row)


def test_an_instant_without_a_zone_is_refused(store: Store) -> None:
    person = Shelves(store).person_id
    document = Document(
        kind=DocumentKind.USE, request_key="k", request_hash="h", person_id=person, recorded_at=NAIVE,
        happened_at=NAIVE, happened_on=NAIVE.date(),
    )  # fmt: skip
    for row in (Change(at=NAIVE, subject="x", subject_id="1", field="f"), document):
        with pytest.raises(PracticeError):
            keep(store, row)


@pytest.mark.parametrize("hours", [-11, 0, 5.75, 14])
def test_an_instant_comes_back_as_the_same_instant_in_utc(store: Store, hours: float) -> None:
    at = datetime(2026, 3, 2, 23, 59, 59, 123456, tzinfo=timezone(timedelta(hours=hours)))
    with store.writing() as session:
        session.add(Change(at=at, subject="x", subject_id="1", field="f"))
    with store.reading() as session:
        found = session.exec(select(Change.at)).one()
    assert found == at
    assert found.tzinfo is UTC


def test_json_settings_come_back_as_they_were(store: Store) -> None:
    value = {"a": [1, "ü", None, True], "b": {"c": 0.5}}
    with store.writing() as session:
        session.add(Setting(key="x", value=value))
    with store.reading() as session:
        assert session.get_one(Setting, "x").value == value

"""Column helpers: what every table declares the same way.

Enumerations are stored by value as text with a named CHECK, since the default stores names without one and fails only
on reading. Quantities and money are 64-bit integers. Instants are aware UTC; SQLite keeps no zone, so they are written
as UTC and read back as UTC.
"""

from datetime import UTC, datetime
from enum import Enum
from typing import Any

from sqlalchemy import BigInteger, DateTime, Dialect, Integer, String, TypeDecorator
from sqlalchemy import Enum as SqlEnum
from sqlmodel import Field, ForeignKey, SQLModel

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}
# Batch migrations can only drop constraints that have names; set before any table is declared.
SQLModel.metadata.naming_convention = NAMING

BigKey = BigInteger().with_variant(Integer, "sqlite")  # SQLite numbers rows itself only for INTEGER PRIMARY KEY


class UtcInstant(TypeDecorator[datetime]):
    """An aware UTC instant; refuses naive ones."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        del dialect
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs a time zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        del dialect
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def key() -> Any:
    """Integer primary key that the store numbers."""
    return Field(default=None, primary_key=True, sa_type=BigKey)


def link(target: str, *, nullable: bool = False, primary: bool = False, index: bool = True) -> Any:
    """Foreign key to ``table.column``; indexed unless it already leads a key or another index."""
    return Field(
        default=None if nullable else ...,
        nullable=nullable,
        primary_key=primary,
        index=index,
        sa_type=BigKey,
        sa_column_args=(ForeignKey(target),),
    )


def words(kind: type[Enum], name: str, *, nullable: bool = False, default: Any = ..., primary: bool = False) -> Any:
    """Closed set of words, stored by value as text with a named CHECK."""
    column = SqlEnum(
        kind,
        values_callable=lambda members: [str(member.value) for member in members],
        native_enum=False,
        create_constraint=True,
        validate_strings=True,
        length=24,
        name=name,
    )
    return Field(
        default=None if nullable and default is ... else default,
        nullable=nullable,
        primary_key=primary,
        sa_type=column,
    )


def short_text(length: int, *, nullable: bool = False, default: Any = ..., unique: bool = False) -> Any:
    """Short text."""
    return Field(
        default=None if nullable and default is ... else default,
        nullable=nullable,
        unique=unique,
        sa_type=String(length),
    )


def whole(*, nullable: bool = False, default: Any = ...) -> Any:
    """64-bit integer: a quantity in base units or money in cents."""
    return Field(
        default=None if nullable and default is ... else default,
        nullable=nullable,
        sa_type=BigInteger,
    )


def instant(*, nullable: bool = False) -> Any:
    """Aware UTC instant."""
    return Field(default=None if nullable else ..., nullable=nullable, sa_type=UtcInstant)

"""The practice itself: settings shared by all workstations, people by initials, places, and who changed what."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, Index
from sqlmodel import Field, SQLModel

from inventory.domain.vocabulary import PlaceRole, Role
from inventory.store.columns import instant, key, link, short_text, words


class Setting(SQLModel, table=True):
    key: str = Field(primary_key=True, max_length=40)
    value: Any = Field(sa_type=JSON, nullable=False)


class Person(SQLModel, table=True):
    """Initials only; a full name is never stored."""

    id: int | None = key()
    initials: str = short_text(8, unique=True)
    role: Role = words(Role, "role")
    active: bool = True


class Place(SQLModel, table=True):
    id: int | None = key()
    name: str = short_text(60, unique=True)
    role: PlaceRole = words(PlaceRole, "role")
    walk_order: int = 0
    active: bool = True


class Change(SQLModel, table=True):
    """Who changed which field, when and why. Append-only."""

    __table_args__ = (Index("ix_change_subject", "subject", "subject_id"), Index("ix_change_at", "at"))

    id: int | None = key()
    at: datetime = instant()
    person_id: int | None = link("person.id", nullable=True)
    subject: str = short_text(40)
    subject_id: str = short_text(80)
    field: str = short_text(40)
    old: str | None = short_text(500, nullable=True)
    new: str | None = short_text(500, nullable=True)
    reason: str | None = short_text(500, nullable=True)


class Revision(SQLModel, table=True):
    """One row, raised by each writing unit of work on SQLite, so that other workstations notice a change cheaply."""

    __table_args__ = (CheckConstraint("id = 1", name="single"),)

    id: int = Field(default=1, primary_key=True)
    number: int = 0

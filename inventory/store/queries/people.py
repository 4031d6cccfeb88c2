"""Who works here, where things stand, and how the practice is set."""

from typing import Any

from sqlmodel import Session, col, select

from inventory.store.tables import Person, Place, Setting


def active_person(session: Session, initials: str) -> Person | None:
    """The active person with these initials."""
    return session.exec(select(Person).where(Person.initials == initials, col(Person.active))).one_or_none()


def active_people(session: Session) -> list[Person]:
    """Everybody who works here, by initials."""
    return list(session.exec(select(Person).where(col(Person.active)).order_by(col(Person.initials))))


def places(session: Session) -> list[Place]:
    """All places in the order in which they are walked."""
    return list(session.exec(select(Place).order_by(col(Place.walk_order), col(Place.name))))


def stored_settings(session: Session) -> dict[str, Any]:
    """The practice's settings that differ from the program's defaults."""
    return {row.key: row.value for row in session.exec(select(Setting))}

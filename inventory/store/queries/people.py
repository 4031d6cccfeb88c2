"""Who works here, where things stand, and how the practice is set."""

from typing import Any

from sqlmodel import Session, col, select

from inventory.store.tables import Person, Place, Setting

HIDDEN = "_"  # how the names of settings begin that nobody is shown


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
    """The practice's settings that differ from the program's defaults; its secrets are not among them."""
    return {row.key: row.value for row in session.exec(select(Setting)) if not row.key.startswith(HIDDEN)}


def secret(session: Session, name: str) -> str | None:
    """A secret of the practice, which no reading shows."""
    row = session.get(Setting, HIDDEN + name)
    return None if row is None else str(row.value)


def keep_secret(session: Session, name: str, value: str) -> None:
    """Keep a secret that the practice has not got yet."""
    session.add(Setting(key=HIDDEN + name, value=value))
    session.flush()

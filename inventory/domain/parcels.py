"""Parcels to the laboratory: how far one is, and by when what is in it has to be poured.

An impression keeps its shape for as long as its maker says. Where several materials were used for it, the one that
keeps it for the shortest time decides. What is not sent near that end wants a decision today, and more so once it is
past: then the laboratory is asked, or the impression is taken again.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from inventory.domain.alerts import Action, Alert, AlertKind
from inventory.domain.vocabulary import LaboratoryAnswer
from inventory.domain.why import Op, Term, derive

HOURS = "hours"


class ParcelState(StrEnum):
    """How far a parcel is."""

    TO_PACK = "to pack"
    PACKED = "packed"
    SENT = "sent"
    RECEIVED = "received"
    REJECTED = "rejected"

    @property
    def unsent(self) -> bool:
        return self in (ParcelState.TO_PACK, ParcelState.PACKED)

    @property
    def open(self) -> bool:
        """Whether something is still to be done or heard."""
        return self.unsent or self is ParcelState.SENT


def state_of(*, packed: bool, sent: bool, answer: LaboratoryAnswer | None) -> ParcelState:
    """How far a parcel is, from what is on record."""
    if answer is not None:
        return ParcelState.RECEIVED if answer is LaboratoryAnswer.RECEIVED else ParcelState.REJECTED
    if sent:
        return ParcelState.SENT
    return ParcelState.PACKED if packed else ParcelState.TO_PACK


def pour_by(taken_at: datetime | None, windows: Iterable[int | None]) -> datetime | None:
    """The moment by which an impression has to be poured; None where no material states a window.

    Args:
        taken_at: when it was taken.
        windows: hours that each material used for it gives, by its leaflet; the shortest decides.
    """
    stated = [hours for hours in windows if hours is not None]
    return taken_at + timedelta(hours=min(stated)) if taken_at is not None and stated else None


@dataclass(frozen=True, slots=True)
class Unsent:
    """What a visit has for the laboratory and nobody has sent; moments in the practice's own time."""

    visit_id: int
    case_ref: str
    case_kind: str
    packed: bool
    taken_at: datetime
    pour_by: datetime

    def hours_left(self, now: datetime) -> int:
        """Whole hours until it has to be poured, rounded down; negative once that is past."""
        return (self.pour_by - now) // timedelta(hours=1)


def span(hours: int) -> str:
    """Hours in words: ``5 hours``, from two days on in days."""
    count, unit = (hours, "hour") if hours < 48 else (hours // 24, "day")
    return f"{count} {unit}{'s' if count != 1 else ''}"


def not_sent(parcels: Iterable[Unsent], now: datetime, warn_hours: int) -> Iterator[Alert]:
    """Impressions that are not on their way although their end is near or past.

    Args:
        parcels: what is not sent.
        now: the present moment.
        warn_hours: how long before the end a line is shown.
    """
    for one in parcels:
        left = one.hours_left(now)
        if left >= warn_hours:
            continue
        moment = f"{one.pour_by:%Y-%m-%d %H:%M}"
        window = (one.pour_by - one.taken_at) // timedelta(hours=1)
        terms = [
            Term("from taking the impression until it has to be poured, by the material's leaflet", window, HOURS),
            Term("passed since it was taken", window - left, HOURS, Op.MINUS),
        ]
        why = derive(f"Case {one.case_ref}: taken {one.taken_at:%Y-%m-%d %H:%M}", terms, "left", HOURS)
        past = one.pour_by <= now
        what = f"was to be poured by {moment}" if past else f"to be poured by {moment}, in {span(left)}"
        todo = "Ask the laboratory, or take it again." if past else "Send it, or say that it was sent."
        yield Alert(
            kind=AlertKind.NOT_SENT, subject=one.case_ref, where=one.case_kind,
            what=f"{what}; {'packed, ' if one.packed else ''}not sent", todo=todo, action=Action.SEND, why=(why,),
            due=one.pour_by.date(), visit_id=one.visit_id,
        )  # fmt: skip

"""Put a lot on hold so that it is never proposed, and release it again; both with a reason and initials."""

from dataclasses import dataclass
from datetime import datetime

from inventory.errors import AlreadyDone, BadInput, NotFound
from inventory.service.practice import Desk, Practice
from inventory.store.queries.stock import open_hold
from inventory.store.tables import Hold, Lot


@dataclass(frozen=True, slots=True)
class HoldMade:
    """A hold as it stands: its id, the lot and when it began."""

    hold_id: int
    lot_id: int
    lot_number: str
    at: datetime


def hold(practice: Practice, *, lot_id: int, reason: str, by: str) -> HoldMade:
    """Put a lot on hold at every place.

    Raises:
        BadInput: no reason given, or unknown initials.
        NotFound: no such lot.
        AlreadyDone: the lot is on hold already.
    """
    _ask_reason(reason)
    with practice.writing() as desk:
        person_id = desk.person(by)
        lot = _lot(desk, lot_id)
        if open_hold(desk.session, lot_id) is not None:
            raise AlreadyDone(f"Lot {lot.number} is on hold already.", "Nothing more to do.")
        made = Hold(lot_id=lot_id, reason=reason.strip(), person_id=person_id, at=desk.now)
        hold_id = desk.add(made)
        desk.log_change(person_id, "lot", lot_id, {"hold": ("no", "yes")}, reason.strip())
        return HoldMade(hold_id, lot_id, lot.number, made.at)


def release(practice: Practice, *, lot_id: int, reason: str, by: str) -> None:
    """Release a lot from its hold.

    Raises:
        BadInput: no reason given, or unknown initials.
        NotFound: no such lot.
        AlreadyDone: the lot is not on hold.
    """
    _ask_reason(reason)
    with practice.writing() as desk:
        person_id = desk.person(by)
        lot = _lot(desk, lot_id)
        held = open_hold(desk.session, lot_id)
        if held is None:
            raise AlreadyDone(f"Lot {lot.number} is not on hold.", "Nothing more to do.")
        held.released_at, held.released_by_id, held.release_reason = desk.now, person_id, reason.strip()
        desk.log_change(person_id, "lot", lot_id, {"hold": ("yes", "no")}, reason.strip())


def _lot(desk: Desk, lot_id: int) -> Lot:
    lot = desk.session.get(Lot, lot_id)
    if lot is None:
        raise NotFound(f"There is no lot {lot_id}.", "Look it up in the list of lots.")
    return lot


def _ask_reason(reason: str) -> None:
    if not reason.strip():
        raise BadInput("A reason is missing.", "Say in a few words why.")

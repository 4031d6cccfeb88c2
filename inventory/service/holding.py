"""Put a lot on hold so that it is never proposed, and release it again; both with a reason and initials."""

from dataclasses import dataclass
from datetime import datetime

from inventory.domain.words import clean
from inventory.errors import AlreadyDone, NotFound
from inventory.service.practice import Desk, Practice
from inventory.store.queries.stock import notice, open_hold
from inventory.store.tables import Hold, Lot, Notice


@dataclass(frozen=True, slots=True)
class HoldMade:
    """A hold as it stands: its id, the lot and when it began."""

    hold_id: int
    lot_id: int
    lot_number: str
    at: datetime


def hold(practice: Practice, *, lot_id: int, reason: str, by: str, recall: str = "") -> HoldMade:
    """Put a lot on hold at every place.

    Args:
        practice: the practice at work.
        lot_id: which lot.
        reason: why, in a few words.
        by: initials.
        recall: reference of the recall notice that names the lot, where there is one.

    Raises:
        BadInput: no reason given, or unknown initials.
        NotFound: no such lot.
        AlreadyDone: the lot is on hold already.
    """
    reason = clean(reason, "reason", 500)
    with practice.writing() as desk:
        person_id = desk.person(by)
        lot = _lot(desk, lot_id)
        if open_hold(desk.session, lot_id) is not None:
            raise AlreadyDone(f"Lot {lot.number} is on hold already.", "Nothing more to do.")
        notice_id = _notice(desk, recall) if recall.strip() else None
        made = Hold(lot_id=lot_id, notice_id=notice_id, reason=reason, person_id=person_id, at=desk.now)
        hold_id = desk.add(made)
        desk.log_change(person_id, "lot", lot_id, {"hold": ("no", "yes")}, reason)
        return HoldMade(hold_id, lot_id, lot.number, made.at)


def release(practice: Practice, *, lot_id: int, reason: str, by: str) -> None:
    """Release a lot from its hold.

    Raises:
        BadInput: no reason given, or unknown initials.
        NotFound: no such lot.
        AlreadyDone: the lot is not on hold.
    """
    reason = clean(reason, "reason", 500)
    with practice.writing() as desk:
        person_id = desk.person(by)
        lot = _lot(desk, lot_id)
        held = open_hold(desk.session, lot_id)
        if held is None:
            raise AlreadyDone(f"Lot {lot.number} is not on hold.", "Nothing more to do.")
        held.released_at, held.released_by_id, held.release_reason = desk.now, person_id, reason
        desk.log_change(person_id, "lot", lot_id, {"hold": ("yes", "no")}, reason)


def _notice(desk: Desk, reference: str) -> int:
    """The recall notice of this reference, noted today where it is new."""
    reference = clean(reference, "recall reference", 80)
    found = notice(desk.session, reference)
    return desk.add(Notice(reference=reference, notice_on=desk.today)) if found is None else found


def _lot(desk: Desk, lot_id: int) -> Lot:
    lot = desk.session.get(Lot, lot_id, with_for_update={"key_share": True})  # whoever else holds it waits here
    if lot is None:
        raise NotFound(f"There is no lot {lot_id}.", "Look it up in the list of lots.")
    return lot

"""Put a lot on hold so that it is never proposed, and release it again; both with a reason and initials.

A lot may be on hold for several reasons at once: a doubt of the practice's own, and each recall notice that names it.
It is free when all of them are released. A lot that a notice names is released only by somebody who says why the notice
does not concern it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory.domain.words import clean
from inventory.errors import AlreadyDone, NeedsConfirmation, NotFound
from inventory.service.practice import Desk, Practice
from inventory.store.queries import history
from inventory.store.queries import notices as notice_query
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
        AlreadyDone: the lot is on hold already: for this notice, or, where none is named, for anything.
    """
    reason = clean(reason, "reason", 500)
    with practice.writing() as desk:
        person_id = desk.person(by)
        lot = _lot(desk, lot_id)
        notice = _notice(desk, person_id, recall) if recall.strip() else None
        held = history.open_holds(desk.session, [lot_id])
        if held and (notice is None or any(one.notice_id == notice.id for one in held)):
            raise AlreadyDone(f"Lot {lot.number} is on hold already.", "Nothing more to do.")
        made = put_on_hold(desk, person_id, lot_id, reason, notice, held=bool(held))
        return HoldMade(made.id or 0, lot_id, lot.number, made.at)


def release(practice: Practice, *, lot_id: int, reason: str, by: str, confirmed: bool = False) -> None:
    """Release a lot from all its holds.

    Args:
        practice: the practice at work.
        lot_id: which lot.
        reason: why it may be used again; for a lot that a notice names, why the notice does not concern it.
        by: initials.
        confirmed: somebody said yes although a recall notice names the lot.

    Raises:
        BadInput: no reason given, or unknown initials.
        NotFound: no such lot.
        NeedsConfirmation: a recall notice names the lot.
        AlreadyDone: the lot is not on hold.
    """
    reason = clean(reason, "reason", 500)
    with practice.writing() as desk:
        person_id = desk.person(by)
        lot = _lot(desk, lot_id)
        held = history.open_holds(desk.session, [lot_id])
        if not held:
            raise AlreadyDone(f"Lot {lot.number} is not on hold.", "Nothing more to do.")
        named = {one.notice_id for one in held if one.notice_id is not None}
        if named and not confirmed:
            references = sorted(desk.session.get_one(Notice, number).reference for number in named)
            others = [one.reason for one in held if one.notice_id is None]
            also = f" It is also on hold because: {'; '.join(others)}." if others else ""
            raise NeedsConfirmation(
                f"Lot {lot.number} is named by recall notice {', '.join(references)}.{also}",
                "Recalled material is not used. Release the lot only if it is not concerned, and say why it isn't.",
                reason_needed=True,
            )
        let_go(desk, person_id, held, reason)


def put_on_hold(
    desk: Desk, person_id: int, lot_id: int, reason: str, notice: Notice | None, *, held: bool = False
) -> Hold:
    """Write a hold within a unit of work, and log it; ``held``: the lot is on hold for something else already."""
    made = Hold(lot_id=lot_id, notice_id=notice.id if notice else None, reason=reason, person_id=person_id, at=desk.now)
    desk.add(made)
    changes: dict[str, tuple[object, object]] = {"hold": ("yes" if held else "no", "yes")}
    if notice is not None:
        changes["recall notice"] = (None, notice.reference)
    desk.log_change(person_id, "lot", lot_id, changes, reason)
    return made


def let_go(desk: Desk, person_id: int, holds: Sequence[Hold], reason: str) -> None:
    """Release holds within a unit of work, and log it; a lot may stay on hold for something else."""
    for one in holds:
        one.released_at, one.released_by_id, one.release_reason = desk.now, person_id, reason
    desk.session.flush()
    for lot_id in {one.lot_id for one in holds}:
        left = "yes" if history.open_holds(desk.session, [lot_id]) else "no"
        changes: dict[str, tuple[object, object]] = {"hold": ("yes", left)}
        for one in holds:
            if one.lot_id == lot_id and one.notice_id is not None:
                changes["recall notice"] = (desk.session.get_one(Notice, one.notice_id).reference, None)
        desk.log_change(person_id, "lot", lot_id, changes, reason)


def open_again(desk: Desk, person_id: int, notice: Notice, reason: str) -> None:
    """A closed notice that has work again is open again."""
    if notice.state == "closed":
        desk.log_change(person_id, "notice", notice.id, {"state": ("closed", "open")}, reason)
        notice.state = "open"
        desk.session.flush()


def _notice(desk: Desk, person_id: int, reference: str) -> Notice:
    """The recall notice of this reference, noted today where it is new."""
    reference = clean(reference, "recall reference", 80)
    found = notice_query.by_reference(desk.session, reference)
    if found is None:
        found = Notice(reference=reference, notice_on=desk.today)
        desk.add(found)
        desk.log_change(person_id, "notice", found.id, {"reference": (None, reference)})
    open_again(desk, person_id, found, "a lot was put on hold for it")
    return found


def _lot(desk: Desk, lot_id: int) -> Lot:
    lot = desk.session.get(Lot, lot_id, with_for_update={"key_share": True})  # whoever else holds it waits here
    if lot is None:
        raise NotFound(f"There is no lot {lot_id}.", "Look it up in the list of lots.")
    return lot

"""What is done with the lots of a recall notice: set aside, counted, returned or destroyed, each under the notice.

The same postings as any other stock makes, so that they are undone and told in the same way; only stock of the notice's
own lots is taken. What is missing is a count correction; what left the house needs proof.
"""

from collections.abc import Sequence
from dataclasses import replace

from inventory.domain.vocabulary import PlaceRole
from inventory.errors import BadInput, NotFound
from inventory.service import moving, notice_work
from inventory.service.moving import Moved, Part, Slip
from inventory.service.practice import Practice
from inventory.store.queries import notices as query
from inventory.store.queries.stock import stands_of


def found(practice: Practice, reference: str, parts: Sequence[Part], slip: Slip, *, to_place: str = "") -> Moved:
    """Carry what was found of a notice's lots to where stock is set aside.

    Args:
        practice: the practice at work.
        reference: of the notice.
        parts: stock by its holding, all of it where no amount is named.
        slip: who, when, and the request's key.
        to_place: where to; the first place for what is set aside where not given.

    Raises:
        BadInput: stock of another lot, a place where nothing is set aside, or as `moving.transfer`.
        NotFound: no such notice, stock or place.
        StockChanged: less is there than asked for: say what is missing.
    """
    slip = _slip(practice, reference, parts, slip)
    return moving.transfer(practice, parts, _place(practice, to_place), slip)


def counted(practice: Practice, reference: str, holding_id: int, content: int, slip: Slip) -> Moved:
    """Say how much of a lot is really there, in base units: 0 where all of it is missing.

    Raises:
        BadInput: stock of another lot, or an impossible content.
        NotFound: no such notice or stock.
    """
    slip = _slip(practice, reference, [Part(holding_id)], slip)
    return moving.correct_count(practice, holding_id, content, slip)


def returned(practice: Practice, reference: str, parts: Sequence[Part], slip: Slip) -> Moved:
    """Send stock of a notice's lots back, with proof (credit note, return number).

    Raises:
        BadInput: stock of another lot, no proof, or as `moving.return_to_supplier`.
        NotFound: no such notice or stock.
        StockChanged: less is there than asked for.
    """
    return moving.return_to_supplier(practice, parts, _slip(practice, reference, parts, slip))


def destroyed(practice: Practice, reference: str, parts: Sequence[Part], slip: Slip) -> Moved:
    """Destroy stock of a notice's lots, with proof (a certificate of destruction).

    Raises:
        BadInput: stock of another lot, no proof, or as `moving.discard`.
        NotFound: no such notice or stock.
        StockChanged: less is there than asked for.
    """
    return moving.discard(practice, parts, _slip(practice, reference, parts, slip))


def _slip(practice: Practice, reference: str, parts: Sequence[Part], slip: Slip) -> Slip:
    """The slip with its notice and, where none was given, a reason; only the notice's own lots may be meant."""
    with practice.reading() as desk:
        notice = notice_work.found(desk, reference)
        members = {one.lot_id for one in query.memberships(desk.session, notice_ids=[notice.id or 0])}
        there = stands_of(desk.session, [part.holding_id for part in parts])
        for part in parts:
            if part.holding_id not in there:
                raise NotFound(f"There is no stock {part.holding_id}.", "Look it up in the notice's list.")
            stand = there[part.holding_id]
            if stand.lot_id not in members:
                raise BadInput(
                    f"Stock {part.holding_id} is of lot {stand.lot_number}, which is no lot of notice "
                    f"{notice.reference}.",
                    "Look at the notice's list; if it is concerned, add a line that names it.",
                )
        reason = slip.reason.strip() or f"recall notice {notice.reference}"
        return replace(slip, notice_id=notice.id, reason=reason)


def _place(practice: Practice, name: str) -> str:
    with practice.reading() as desk:
        if not name.strip():
            names = query.set_aside_places(desk.session)
            if not names:
                raise NotFound(
                    "No place is there for what is set aside.",
                    "Add one in the settings, of the role set_aside.",
                )
            return names[0]
        place = desk.place(name)
        if place.role is not PlaceRole.SET_ASIDE:
            raise BadInput(f"place: {place.name} is no place where stock is set aside.", "Choose one that is.")
        return place.name

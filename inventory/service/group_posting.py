"""The two halves of a transfer between practices: each posts its own by hand, under one reference.

No practice's program writes into another's book. The one that gives posts what went out as a return, the one that gets
posts what came as a receipt; both documents carry the reference (`document.group_ref`), by which the group's view finds
a half whose other one is missing. A transfer within a practice sums to nothing, so it is no kind for either half.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from inventory.domain.ledger import Draft, Entry, Posting, Sealed, request_hash
from inventory.domain.use_by import in_date
from inventory.domain.vocabulary import DocumentKind, MovementKind, PlaceRole
from inventory.domain.words import STANDING, clean, item_and_lot
from inventory.errors import BadInput, NeedsConfirmation, NotAllowed, NotFound, StockChanged
from inventory.service import booked_late, recalling
from inventory.service.happened import check_stood
from inventory.service.lots import NONE_STATED, LotWords, UseBy, check_dates, save_lots
from inventory.service.moving import Moved, Part, Slip
from inventory.service.practice import Desk, Practice
from inventory.store.ledger import already_posted, lock_lots
from inventory.store.queries import catalogue, group, history
from inventory.store.queries.receiving import one_at_a_time
from inventory.store.queries.stock import Stand, stands_of
from inventory.store.tables import Item

MOST_UNITS = 10_000


@dataclass(frozen=True, slots=True)
class Taken:
    """Sealed units of a lot that came from another practice; ``place`` empty: the store room."""

    item: str
    units: int
    lot: str
    use_by: UseBy
    place: str = ""


def send(practice: Practice, parts: Sequence[Part], reference: str, to: str, slip: Slip) -> Moved:
    """Post what goes out to another practice: whole sealed units of lots that may be used.

    Args:
        practice: the practice that gives.
        parts: how much of which stock.
        reference: the transfer's, the same at both practices.
        to: the practice that gets it, in a word.
        slip: who and when.

    Raises:
        BadInput: nothing named, not whole units, an opened unit, a day to come; unknown initials.
        NotAllowed: on hold, recalled or expired; the reference was sent under before.
        StockChanged: less is there than asked for.
    """
    reference, to = clean(reference, "reference", 64), clean(to, "to", 60)
    with practice.writing() as desk:
        content = _hash("send", slip, {"parts": parts, "reference": reference, "to": to})
        if (before := _before(desk, slip, content)) is not None:
            return before
        _refuse_again(desk, reference, DocumentKind.RETURN)
        on = _day(desk, slip)
        sources = _sources(desk, parts)
        entries = tuple(
            Entry(part.holding_id, MovementKind.RETURN, -_amount(desk, part, source, on), lot_confirmed=True)
            for part, source in zip(parts, sources, strict=True)
        )
        draft = _draft(DocumentKind.RETURN, entries, f"sent to {to}", slip, reference)
        return _post(desk, draft, content, slip, on)


def take(practice: Practice, taken: Sequence[Taken], reference: str, sender: str, slip: Slip) -> Moved:
    """Post what came from another practice, read from its packages; lots that a recall notice names go on hold.

    Args:
        practice: the practice that gets it.
        taken: what came.
        reference: the transfer's, the same at both practices.
        sender: the practice that gave it, in a word.
        slip: who and when.

    Raises:
        BadInput: nothing named, no whole number of units, a date that can't be, a day to come; unknown initials.
        NotFound: no such item or place.
        NotAllowed: the reference was taken under before.
        NeedsConfirmation: a use-by date has passed.
    """
    reference, sender = clean(reference, "reference", 64), clean(sender, "from", 60)
    with practice.writing() as desk:
        content = _hash("take", slip, {"taken": taken, "reference": reference, "from": sender})
        if (before := _before(desk, slip, content)) is not None:
            return before
        _refuse_again(desk, reference, DocumentKind.RECEIPT)
        on, person_id = _day(desk, slip), desk.person(slip.by)
        items = [_item(desk, one, on) for one in taken]
        if late := [one.lot for one in taken if not in_date(one.use_by.day, on)]:
            _ask(slip, f"The use-by date of lot {', '.join(late)} has passed.")
        lots = save_lots(desk, person_id, [_lot(one, item) for one, item in zip(taken, items, strict=True)], on)
        entries = tuple(
            Entry(Sealed(lot.lot_id, _place(desk, one)), MovementKind.RECEIPT, one.units * lot.unit_qty,
                  lot_confirmed=True)
            for one, lot in zip(taken, lots, strict=True)
        )  # fmt: skip
        draft = _draft(DocumentKind.RECEIPT, entries, f"from {sender}", slip, reference)
        moved = _post(desk, draft, content, slip, on)
        recalling.hold_named(desk, person_id, {lot.lot_id for lot in lots}, came_on=on)
        return moved


def _before(desk: Desk, slip: Slip, content: str) -> Moved | None:
    """The first result of a request that comes again."""
    if not 0 < len(slip.request_key.strip()) <= 64:
        raise BadInput("request key: 1 to 64 characters.", "Start the form again.")
    posted = already_posted(desk.session, slip.request_key, content)
    return None if posted is None else _moved(desk, posted.documents[0], again=True)


def _refuse_again(desk: Desk, reference: str, kind: DocumentKind) -> None:
    one_at_a_time(desk.session, f"transfer {reference}")  # two forms of the same transfer must not both find it free
    if any(half.kind is kind for half in group.halves(desk.session, reference)):
        raise NotAllowed(
            f"This practice has posted its half of {reference} already.",
            "Undo it first if it was wrong, or take another reference.",
        )


def _sources(desk: Desk, parts: Sequence[Part]) -> list[Stand]:
    ids = [part.holding_id for part in parts]
    if not ids or len(set(ids)) < len(ids):
        raise BadInput("Nothing is named, or the same stock twice.", "Name each stock once.")
    lock_lots(desk.session, sorted({one.lot_id for one in stands_of(desk.session, ids).values()}))
    found = stands_of(desk.session, ids)
    if missing := [number for number in ids if number not in found]:
        raise NotFound(f"There is no holding {missing[0]}.", "Look it up in the list of lots.")
    return [found[number] for number in ids]


def _amount(desk: Desk, part: Part, source: Stand, on: date) -> int:
    """How much of some stock goes, in base units, checked."""
    item = desk.session.get_one(Item, source.item_id)
    what = f"{item_and_lot(item.name, source.lot_number)}, {source.place_name}"
    check_stood(on, source, what)
    qty = source.on_hand if part.qty is None else part.qty
    if source.opened_on is not None or qty <= 0 or qty % source.unit_qty:
        raise BadInput(f"{what}: only whole sealed units go to another practice.", "Name a number of sealed units.")
    if source.blocked is not None or not in_date(source.last_day, on):
        raise NotAllowed(f"{what} may not be used, so no other practice gets it.", "Set it aside or discard it.")
    if qty > source.on_hand:
        raise StockChanged(f"{what}: less is there than asked for.", "Look at the present stock.")
    return qty


def _item(desk: Desk, one: Taken, on: date) -> Item:
    item = catalogue.item_by_code(desk.session, one.item.strip().upper())
    if item is None:
        raise NotFound(f"There is no item {one.item!r}.", "Look it up with 'items', or add it first.")
    if not 1 <= one.units <= MOST_UNITS:
        raise BadInput(f"units: {one.units} is not from 1 to {MOST_UNITS}.", "Correct it.")
    if fault := check_dates(one.use_by, None, on):
        raise BadInput(f"use-by: {fault}.", "Look at the label again.")
    return item


def _lot(one: Taken, item: Item) -> LotWords:
    if not item.has_lots:
        return LotWords(item.id or 0, STANDING, NONE_STATED, item.unit_qty)
    return LotWords(item.id or 0, clean(one.lot, "lot", 60), one.use_by, item.unit_qty)


def _place(desk: Desk, one: Taken) -> int:
    return desk.place(one.place).id or 0 if one.place.strip() else desk.place_of_role(PlaceRole.STORE)


def _ask(slip: Slip, message: str) -> None:
    if not slip.confirmed:
        raise NeedsConfirmation(message, "Look at the label again, then confirm.")


def _day(desk: Desk, slip: Slip) -> date:
    on = slip.on or desk.today
    if on > desk.today:
        raise BadInput(f"date: {on} is still to come.", "Give the day it happened.")
    return on


def _draft(kind: DocumentKind, entries: tuple[Entry, ...], words: str, slip: Slip, reference: str) -> Draft:
    reason = clean(slip.reason, "reason", 400, needed=False)
    proof = clean(slip.proof, "proof", 200, needed=False) or reference
    return Draft(kind, entries, reason=f"{words}: {reason}" if reason else words, proof=proof, group_ref=reference)


def _post(desk: Desk, draft: Draft, content: str, slip: Slip, on: date) -> Moved:
    if not draft.entries:
        raise BadInput("Nothing is named.", "Name what came.")
    posting = Posting(slip.request_key, content, desk.person(slip.by), desk.now, desk.moment(on), on, (draft,))
    return _moved(desk, booked_late.post(desk, posting).documents[0], again=False)


def _moved(desk: Desk, document_id: int, *, again: bool) -> Moved:
    return Moved(document_id, history.lines(desk.session, [document_id])[document_id], again)


def _hash(verb: str, slip: Slip, request: dict[str, object]) -> str:
    said = {"by": slip.by, "on": slip.on, "reason": slip.reason, "proof": slip.proof}
    return request_hash(f"group {verb}", {**request, **said})

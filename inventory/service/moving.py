"""Change stock outside a visit: open a unit, carry stock elsewhere, throw it away, send it back, put a count right.

Everything here names a *holding*: the sealed stack of a lot at a place, or one opened unit. Sealed stock moves by whole
units; an opened unit moves whole. Expired, held and recalled stock can always be put aside, thrown away or sent back;
opening it, or carrying it to a chair, is what leads to its use in a mouth, so that needs a yes and a reason. It is not
refused outright: if it really happened the book has to be able to say so.

Every verb takes ``request_key``: the same key with the same content posts once and gives the first result again.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from typing import Any

from inventory.domain.ledger import Draft, Entry, Opened, Posting, Sealed, request_hash
from inventory.domain.quantity import show
from inventory.domain.use_by import in_date
from inventory.domain.vocabulary import BaseUnit, DocumentKind, LateReason, MovementKind, PlaceRole
from inventory.domain.words import clean, item_and_lot
from inventory.errors import BadInput, NeedsConfirmation, NotAllowed, NotFound, StockChanged
from inventory.service import booked_late
from inventory.service.happened import check_received, check_stood
from inventory.service.practice import Desk, Practice
from inventory.store.ledger import already_posted, lock_lots
from inventory.store.queries import history, notices
from inventory.store.queries.history import Line
from inventory.store.queries.stock import Stand, stand
from inventory.store.tables import Item, Lot, Place

REST_REASON = "rest too small for any step"
USED_UP_REASON = "used up"


@dataclass(frozen=True, slots=True)
class Part:
    """Some of one holding, in base units; ``qty`` None: all that is there."""

    holding_id: int
    qty: int | None = None


@dataclass(frozen=True, slots=True)
class Slip:
    """What every change of stock says beside the stock itself.

    Attributes:
        request_key: made by the form or command, at most 64 characters.
        by: initials.
        on: the practice-local day it happened; None: today.
        reason: in a few words; some verbs ask for it.
        proof: number of a credit note, a certificate of destruction and the like.
        confirmed: the person has said yes to something unusual.
        notice_id: of the recall notice it is done for; found by itself where the stock is on hold for one.
    """

    request_key: str
    by: str
    on: date | None = None
    reason: str = ""
    proof: str = ""
    confirmed: bool = False
    notice_id: int | None = None


@dataclass(frozen=True, slots=True)
class Moved:
    """What was posted: the document (None where nothing differed), its movements, ``again`` for a request repeated."""

    document_id: int | None
    lines: tuple[Line, ...]
    again: bool = False

    @property
    def opened_id(self) -> int | None:
        """The opened unit that this made or moved."""
        return next((line.holding_id for line in self.lines if line.opened_on is not None and line.qty > 0), None)


def open_unit(practice: Practice, holding_id: int, slip: Slip, *, to_place: str | None = None) -> Moved:
    """Open one sealed unit, where it stands or at another place; the day it happened is its opened-on date.

    Raises:
        BadInput: not a sealed stack, a day to come or before the stock was
            there, unknown place or initials.
        NeedsConfirmation: the lot is expired, on hold or recalled (with a reason).
        StockChanged: nothing sealed is left there.
    """
    request = {"holding": holding_id, "to": to_place}
    with practice.writing() as desk:
        if (before := _before(desk, "open", request, slip)) is not None:
            return before
        on = _day(desk, slip)
        (source,) = _sources(desk, [Part(holding_id)], on)
        if source.opened_on is not None:
            raise BadInput(f"{_named(desk, source)} is open already.", "Choose a sealed one.")
        place = desk.place(to_place) if to_place else desk.session.get_one(Place, source.place_id)
        _check_place(place)
        late = _ask_late(desk, source, slip, "opened")
        opened = Opened(source.lot_id, _id(place), on)
        entries = (
            Entry(source.holding_id, MovementKind.OPENING, -source.unit_qty, late_reason=late),
            Entry(opened, MovementKind.OPENING, source.unit_qty, late_reason=late),
        )
        return _post(desk, "open", request, slip, Draft(DocumentKind.OPENING, entries, **_words(slip)))


def transfer(practice: Practice, parts: Sequence[Part], to_place: str, slip: Slip) -> Moved:
    """Carry stock to another place, all in one document: sealed units, pieces, or an opened unit with what is in it.

    A reusable tray goes to reprocessing and comes back the same way; a single-use one never does.

    Raises:
        BadInput: not whole units, an opened unit in part, nothing to carry, a day to come or before the stock was
            there, unknown place or initials.
        NeedsConfirmation: expired, held or recalled stock would go to a chair (with a reason).
        NotAllowed: a single-use article would go to reprocessing.
        StockChanged: less is there than asked for.
    """
    request = {"parts": parts, "to": to_place}
    with practice.writing() as desk:
        if (before := _before(desk, "transfer", request, slip)) is not None:
            return before
        place = desk.place(to_place)
        _check_place(place)
        entries: list[Entry] = []
        for number, (part, source) in enumerate(
            zip(parts, _sources(desk, parts, _day(desk, slip)), strict=True), start=1
        ):
            _check_way(desk, source, place)
            late = _ask_late(desk, source, slip, "taken to a chair") if place.role is PlaceRole.CHAIR else None
            qty = _amount(desk, part, source, whole=True)
            target = (
                Sealed(source.lot_id, _id(place))
                if source.opened_on is None
                else Opened(source.lot_id, _id(place), source.opened_on, number)
            )
            entries.append(Entry(source.holding_id, MovementKind.TRANSFER, -qty, late_reason=late))
            entries.append(Entry(target, MovementKind.TRANSFER, qty, late_reason=late))
        return _post(desk, "transfer", request, slip, Draft(DocumentKind.TRANSFER, tuple(entries), **_words(slip)))


def discard(practice: Practice, parts: Sequence[Part], slip: Slip) -> Moved:
    """Throw stock away, with a reason; recalled stock with proof too (a certificate of destruction), for its notice.

    Raises:
        BadInput: no reason, no proof for recalled stock, not whole units, a day to come or before the stock was
            there, unknown initials.
        StockChanged: less is there than asked for.
    """
    return _take_away(practice, parts, slip, DocumentKind.DISCARD)


def return_to_supplier(practice: Practice, parts: Sequence[Part], slip: Slip) -> Moved:
    """Send stock back to who sold it, with a reason and a proof (credit note or return number).

    Raises:
        BadInput: no reason or proof, not whole units, a day to come or before the stock was
            there, unknown initials.
        StockChanged: less is there than asked for.
    """
    return _take_away(practice, parts, slip, DocumentKind.RETURN)


def write_off_rest(practice: Practice, holding_id: int, slip: Slip) -> Moved:
    """Write off what is left in an opened unit because it serves no step: waste, lost while working.

    Raises:
        BadInput: not an opened unit, or empty; a day to come or before it was opened; unknown initials.
    """
    return _empty(practice, holding_id, slip, MovementKind.WASTE, REST_REASON)


def use_up(practice: Practice, holding_id: int, slip: Slip) -> Moved:
    """Book an opened unit as used to the end: "bottle empty", for what is kept by count only.

    Raises:
        BadInput: not an opened unit, or empty; a day to come or before it was opened; unknown initials.
    """
    return _empty(practice, holding_id, slip, MovementKind.USE, USED_UP_REASON)


def correct_count(
    practice: Practice, target: int | Sealed, content: int, slip: Slip, *, book_said: int | None = None
) -> Moved:
    """Put a balance right: what is really there, in base units, at the end of the day it was counted (now, for today).

    Args:
        practice: the practice.
        target: a holding, or a lot at a place where none of it is on the book yet.
        content: what was counted; whole units where sealed.
        slip: with a reason.
        book_said: what the book showed to whoever counted; if it says something else by now, nothing is posted.

    Returns:
        The count correction; without a document where the book was right.

    Raises:
        BadInput: no reason, an impossible content, a day to come or before the stock was
            there, unknown holding, lot, place or initials.
        StockChanged: the book changed since it was shown, or more was used since the count than was counted.
    """
    request = {"target": target, "content": content, "book_said": book_said}
    with practice.writing() as desk:
        if (before := _before(desk, "count", request, slip)) is not None:
            return before
        _ask_reason(slip)
        on = _day(desk, slip)
        expected = _expected(desk, target, content, on, book_said)
        if content == expected:
            desk.person(slip.by)
            return Moved(None, ())
        entries = (Entry(target, MovementKind.COUNT, content - expected, lot_confirmed=True),)
        return _post(desk, "count", request, slip, Draft(DocumentKind.COUNT, entries, **_words(slip)))


def _expected(desk: Desk, target: int | Sealed, content: int, on: date, book_said: int | None) -> int:
    """What the book expects at the end of a day, the counted content checked against what is possible."""
    if isinstance(target, Sealed):
        lot = desk.session.get(Lot, target.lot_id)
        if lot is None or desk.session.get(Place, target.place_id) is None:
            raise NotFound("There is no such lot or place.", "Look it up in the list of lots.")
        check_received(on, lot.first_received_on, f"lot {lot.number}")
        _check_content(content, lot.unit_qty, opened=False)
        lock_lots(desk.session, [target.lot_id])
        standing = history.sealed_at(desk.session, target.lot_id, target.place_id)
        holding_id, on_hand = standing or (None, 0)
    else:
        (source,) = _sources(desk, [Part(target)], on)
        _check_content(content, source.unit_qty, opened=source.opened_on is not None)
        holding_id, on_hand = source.holding_id, source.on_hand
    if book_said is not None and book_said != on_hand:
        raise StockChanged("The book changed while this was counted.", "Look at what it says now, and count again.")
    if holding_id is None or on == desk.today:  # now: also where a clock set back makes an entry look later than now
        return on_hand
    return on_hand - history.moved_after(desk.session, holding_id, on)


def _check_content(content: int, unit_qty: int, *, opened: bool) -> None:
    if content < 0:
        raise BadInput("count: less than nothing can't be there.", "Type what was counted, from 0 up.")
    if opened and content > unit_qty:
        raise BadInput("count: an opened unit can't hold more than a full one.", "Count sealed units apart.")
    if not opened and content % unit_qty:
        raise BadInput("count: sealed stock is counted in whole units.", "Open the unit first if one is begun.")


def _take_away(practice: Practice, parts: Sequence[Part], slip: Slip, kind: DocumentKind) -> Moved:
    request = {"parts": parts}
    with practice.writing() as desk:
        if (before := _before(desk, kind, request, slip)) is not None:
            return before
        _ask_reason(slip)
        sources = _sources(desk, parts, _day(desk, slip))
        if not slip.proof.strip() and (kind is DocumentKind.RETURN or any(source.recalled for source in sources)):
            raise BadInput(
                "proof: it is missing.", "Name the credit note, the return number or the certificate of destruction."
            )
        entries = tuple(
            Entry(source.holding_id, MovementKind(kind), -_amount(desk, part, source), lot_confirmed=True)
            for part, source in zip(parts, sources, strict=True)
        )
        return _post(desk, kind, request, slip, Draft(kind, entries, **_words(slip)))


def _empty(practice: Practice, holding_id: int, slip: Slip, kind: MovementKind, reason: str) -> Moved:
    request = {"holding": holding_id}
    verb = f"empty, {kind}"
    with practice.writing() as desk:
        if (before := _before(desk, verb, request, slip)) is not None:
            return before
        (source,) = _sources(desk, [Part(holding_id)], _day(desk, slip))
        if source.opened_on is None:
            raise BadInput(f"{_named(desk, source)} is sealed.", "Choose an opened unit, or discard sealed ones.")
        entries = (Entry(source.holding_id, kind, -_amount(desk, Part(holding_id), source), lot_confirmed=True),)
        words = _words(slip)
        words["reason"] = words["reason"] or reason
        return _post(desk, verb, request, slip, Draft(DocumentKind.USE, entries, **words))


def _before(desk: Desk, verb: str, request: dict[str, Any], slip: Slip) -> Moved | None:
    """The first result of a request that comes again."""
    if not slip.request_key.strip() or len(slip.request_key) > 64:
        raise BadInput("request key: 1 to 64 characters.", "Start the form again.")
    posted = already_posted(desk.session, slip.request_key, _hash(verb, request, slip))
    if posted is None:
        return None
    return _moved(desk, posted.documents[0], again=True)


def _post(desk: Desk, verb: str, request: dict[str, Any], slip: Slip, draft: Draft) -> Moved:
    if not draft.entries:
        raise BadInput("Nothing was chosen.", "Choose what to move.")
    draft = replace(draft, notice_id=slip.notice_id or _notice_of(desk, draft))
    on = _day(desk, slip)
    at = desk.moment(on)
    if draft.kind is DocumentKind.COUNT and on != desk.today:  # of what was there at the end of that day
        at = datetime.combine(on, time(23, 59, 59), tzinfo=desk.zone)
    posting = Posting(
        request_key=slip.request_key,
        request_hash=_hash(verb, request, slip),
        person_id=desk.person(slip.by),
        recorded_at=desk.now,
        happened_at=at,
        happened_on=on,
        documents=(draft,),
    )
    return _moved(desk, booked_late.post(desk, posting).documents[0], again=False)


def _notice_of(desk: Desk, draft: Draft) -> int | None:
    """The recall notice for which what is moved is on hold: what became of it is told by its documents."""
    if draft.kind in (DocumentKind.OPENING, DocumentKind.USE):
        return None
    holdings = {entry.target for entry in draft.entries if isinstance(entry.target, int)}
    lots = {entry.target.lot_id for entry in draft.entries if not isinstance(entry.target, int)}
    return notices.notice_of(desk.session, holdings, lots)


def _moved(desk: Desk, document_id: int, *, again: bool) -> Moved:
    return Moved(document_id, history.lines(desk.session, [document_id])[document_id], again)


def _hash(verb: str, request: dict[str, Any], slip: Slip) -> str:
    said: dict[str, Any] = {"by": slip.by, "on": slip.on, "reason": slip.reason, "proof": slip.proof}
    if slip.notice_id is not None:
        said["notice"] = slip.notice_id
    return request_hash(verb, {**request, **said})


def _words(slip: Slip) -> dict[str, Any]:
    reason = clean(slip.reason, "reason", 500, needed=False)
    proof = clean(slip.proof, "proof", 200, needed=False)
    return {"reason": reason or None, "proof": proof or None}


def _ask_reason(slip: Slip) -> None:
    if not slip.reason.strip():
        raise BadInput("reason: it is missing.", "Say in a few words why.")


def _day(desk: Desk, slip: Slip) -> date:
    on = slip.on or desk.today
    if on > desk.today:
        raise BadInput(f"date: {on} is still to come.", "Give the day it happened.")
    return on


def _sources(desk: Desk, parts: Sequence[Part], on: date) -> list[Stand]:
    """The holdings named, read after they were locked; each was there on that day."""
    ids = [part.holding_id for part in parts]
    if len(set(ids)) < len(ids):
        raise BadInput("The same stock is named twice.", "Name it once, with the whole amount.")
    lots = {found.lot_id for holding_id in ids if (found := stand(desk.session, holding_id)) is not None}
    lock_lots(desk.session, sorted(lots))
    sources = [stand(desk.session, holding_id) for holding_id in ids]
    if None in sources:
        raise NotFound(f"There is no holding {ids[sources.index(None)]}.", "Look it up in the list of lots.")
    there = [source for source in sources if source is not None]
    for source in there:
        check_stood(on, source, _named(desk, source))
    return there


def _amount(desk: Desk, part: Part, source: Stand, *, whole: bool = False) -> int:
    """How much of a holding is meant; ``whole``: an opened unit only as it is."""
    qty = source.on_hand if part.qty is None else part.qty
    if source.on_hand == 0 or qty > source.on_hand:
        raise StockChanged(
            f"{_named(desk, source)}: {_shown(desk, source, source.on_hand)} left"
            f"{'' if part.qty is None else f', not {_shown(desk, source, qty)}'}.",
            "Look at the present stock, or correct the count first.",
        )
    if qty <= 0:
        raise BadInput("amount: nothing to move.", "Type an amount above 0.")
    if source.opened_on is None and qty % source.unit_qty:
        raise BadInput("amount: sealed stock moves by whole units.", "Open the unit first, or type whole units.")
    if whole and source.opened_on is not None and qty != source.on_hand:
        raise BadInput("amount: an opened unit moves as it is.", "Leave the amount out.")
    return qty


def _ask_late(desk: Desk, source: Stand, slip: Slip, deed: str) -> LateReason | None:
    """Why this stock should not get nearer to a mouth, if so; only after a yes and a reason."""
    late = source.blocked or (None if in_date(source.last_day, _day(desk, slip)) else LateReason.EXPIRED)
    if late is None or (slip.confirmed and slip.reason.strip()):
        return late
    state = {
        LateReason.EXPIRED: f"past its last day of use, {source.last_day}",
        LateReason.HELD: "on hold",
        LateReason.RECALLED: "recalled",
    }[late]
    raise NeedsConfirmation(
        f"{_named(desk, source)} is {state}; once {deed}, somebody may use it.",
        f"Put it aside instead, or confirm and say why it has to be {deed}.",
        reason_needed=True,
    )


def _check_place(place: Place) -> None:
    if not place.active:
        raise BadInput(f"place: {place.name} is not in use any more.", "Choose another place.")


def _check_way(desk: Desk, source: Stand, place: Place) -> None:
    if source.place_id == place.id:
        raise BadInput(f"{_named(desk, source)} stands at {place.name} already.", "Choose another place.")
    if place.role is PlaceRole.REPROCESSING and not _item(desk, source).reusable:
        raise NotAllowed(
            f"{_named(desk, source)} is for single use and can't be reprocessed.", "Discard what was tried in a mouth."
        )


def _item(desk: Desk, source: Stand) -> Item:
    return desk.session.get_one(Item, source.item_id)


def _named(desk: Desk, source: Stand) -> str:
    return f"{item_and_lot(_item(desk, source).name, source.lot_number)}, {source.place_name}"


def _shown(desk: Desk, source: Stand, qty: int) -> str:
    base = _item(desk, source).base
    units, rest = divmod(qty, source.unit_qty)
    if base is BaseUnit.PIECE or source.opened_on is not None or rest:
        return show(qty, base)
    return f"{units} sealed"


def _id(place: Place) -> int:
    assert place.id is not None  # noqa: S101 - read from the store
    return place.id

"""Undo what was posted by mistake: a new document that turns every sign of the old one, once, with a reason.

Nothing is deleted, so an undoing is possible only while the stock it takes back is still there: a delivery while all of
it stands, an opening while its unit is untouched. What stands in the way is named, so that it can be undone first. A
visit's booking is undone as one thing, from whichever of its documents: what it used is given back and the visit is
planned again as it had been, with the tray sizes and the place of the plan; but a cartridge that was opened stays open,
and stock that was found stays found.

An undoing happened when its document happened, for what it says is that the document never did. A count after that day
found what was really there, whether the document was right or not; so where a holding was counted since, the undoing
also posts the opposite count movement, and the balance stays what was counted.
"""

from dataclasses import dataclass

from inventory.domain.ledger import Draft, Entry, Posting, fold, request_hash, turned
from inventory.domain.quantity import show
from inventory.domain.vocabulary import DocumentKind, MovementKind, VisitState
from inventory.domain.words import clean, item_and_lot
from inventory.errors import AlreadyDone, NotAllowed, NotFound
from inventory.service import on_order
from inventory.service.booked_late import COUNT_AGAIN
from inventory.service.booking import PLANNED_FIELDS
from inventory.service.practice import Desk, Practice
from inventory.service.tracing import told
from inventory.store import ledger
from inventory.store.queries import counting, history
from inventory.store.queries import visits as query
from inventory.store.queries.history import Line, Posted
from inventory.store.tables import Visit


@dataclass(frozen=True, slots=True)
class Undone:
    """What was undone: the documents, the reversals (and counts put back in force), what they moved.

    ``kept`` says in words what of the same request still stands and why; ``visit_id`` is the visit planned again.
    """

    undone: tuple[int, ...]
    documents: tuple[int, ...]
    lines: tuple[Line, ...]
    visit_id: int | None
    kept: tuple[str, ...]
    again: bool = False


def undo(practice: Practice, document_id: int, *, reason: str, by: str, request_key: str) -> Undone:
    """Undo a document; any document of a visit's booking undoes what the visit used.

    Raises:
        BadInput: no reason given, or unknown initials.
        NotFound: no such document.
        NotAllowed: it is an undoing itself, or what it brought is not there any more; the message says what was done
            since.
        AlreadyDone: it was undone before.
    """
    reason = clean(reason, "reason", 500)
    hashed = request_hash("undo", {"document": document_id, "reason": reason, "by": by})
    with practice.writing() as desk:
        person_id = desk.person(by)
        if (before := ledger.already_posted(desk.session, request_key, hashed)) is not None:
            return _undone(desk, before)
        chosen = history.documents(desk.session, [document_id]).get(document_id)
        if chosen is None:
            raise NotFound(f"There is no entry {document_id}.", "Look it up in the history.")
        order_id = on_order.of_delivery(desk, chosen.delivery_id)
        drafts = _drafts(desk, _to_undo(desk, chosen), reason)
        posted = ledger.post(
            desk.session,
            Posting(request_key, hashed, person_id, desk.now, chosen.happened_at, chosen.happened_on, drafts),
        )
        result = _undone(desk, posted)
        if result.visit_id is not None:
            _plan_again(desk, result.visit_id, person_id, reason)
        if order_id is not None:
            on_order.bring_up_to_date(desk, order_id, person_id, reason)
        return result


def undo_visit(practice: Practice, visit_id: int, *, reason: str, by: str, request_key: str) -> Undone:
    """Undo the booking of a visit that stands.

    Raises:
        NotFound: no such visit.
        AlreadyDone: no booking of it stands.
        BadInput, NotAllowed: as for `undo`.
    """
    with practice.reading() as desk:
        if desk.session.get(Visit, visit_id) is None:
            raise NotFound(f"There is no visit {visit_id}.", "Look it up in the list of visits.")
        before = history.of_request(desk.session, request_key)
        booked = history.of_visit(desk.session, visit_id)
    standing = [one for one in booked if _is_booking(one) and one.reversed_by_id is None]
    repeated = [one.reverses_id for one in before if one.reverses_id is not None]
    if not standing and not repeated:
        raise AlreadyDone("No booking of this visit stands.", "Nothing more to do.")
    chosen = repeated[0] if repeated else standing[-1].document_id
    assert chosen is not None  # noqa: S101 - taken from those that are not
    return undo(practice, chosen, reason=reason, by=by, request_key=request_key)


def _is_booking(document: Posted) -> bool:
    return document.visit_id is not None and document.kind in (DocumentKind.USE, DocumentKind.TRANSFER)


def _to_undo(desk: Desk, chosen: Posted) -> list[Posted]:
    """The documents to turn: the one chosen, or what the visit used and where its trays went."""
    if chosen.kind is DocumentKind.REVERSAL:
        raise NotAllowed("An undoing can't be undone.", "Enter again what really happened.")
    _lock(desk, history.of_request(desk.session, chosen.request_key))
    request = history.of_request(desk.session, chosen.request_key)
    standing = [one for one in request if _is_booking(one) and one.reversed_by_id is None]
    moved_on = [one for one in standing if one.kind is DocumentKind.TRANSFER and _hindrance(desk, one)]
    if standing != moved_on:
        return [one for one in standing if one not in moved_on]
    (fresh,) = (one for one in request if one.document_id == chosen.document_id)
    if fresh.reversed_by_id is not None:
        undoing = history.documents(desk.session, [fresh.reversed_by_id])[fresh.reversed_by_id]
        raise AlreadyDone(
            f"This was undone already, by {undoing.by} on {undoing.recorded_at.astimezone(desk.zone):%Y-%m-%d}.",
            "Nothing more to do.",
        )
    return [fresh]


def _lock(desk: Desk, documents: list[Posted]) -> None:
    found = history.lines(desk.session, [one.document_id for one in documents])
    ledger.lock_lots(desk.session, sorted({line.lot_id for lines in found.values() for line in lines}))


def _drafts(desk: Desk, documents: list[Posted], reason: str) -> tuple[Draft, ...]:
    """The reversals, and the count movements that keep later counts in force."""
    drafts: list[Draft] = []
    for document in documents:
        if hindrance := _hindrance(desk, document):
            raise NotAllowed(*hindrance)
        entries = turned(ledger.entries_of(desk.session, document.document_id))
        drafts.append(
            Draft(
                DocumentKind.REVERSAL, entries, len(drafts), reason=reason, reverses_id=document.document_id,
                visit_id=document.visit_id, delivery_id=document.delivery_id,
            )
        )  # fmt: skip
    for document in documents:
        counted = _counted(desk, document)
        back = [
            Entry(holding_id, MovementKind.COUNT, -qty)
            for holding_id, qty in _deltas(desk, document).items()
            if holding_id in counted
        ]
        if back:
            drafts.append(
                Draft(DocumentKind.COUNT, tuple(back), len(drafts), reason=COUNT_AGAIN, visit_id=document.visit_id)
            )
    return tuple(drafts)


def _deltas(desk: Desk, document: Posted) -> dict[int, int]:
    """What undoing a document changes at each holding, counts apart."""
    entries = turned(ledger.entries_of(desk.session, document.document_id))
    deltas = fold((entry.target, entry.qty) for entry in entries if isinstance(entry.target, int))
    return {holding_id: delta for holding_id, delta in deltas.items() if delta}


def _counted(desk: Desk, document: Posted) -> set[int]:
    deltas = _deltas(desk, document)
    return counting.counted_after(desk.session, list(deltas), document.happened_at)


def _hindrance(desk: Desk, document: Posted) -> tuple[str, str] | None:
    """Why a document can't be undone now and what to do, in words; None where it can."""
    if told_late := _relied_on(desk, document):
        return told_late
    lines = history.lines(desk.session, [document.document_id])[document.document_id]
    counted = _counted(desk, document)
    for holding_id, delta in _deltas(desk, document).items():
        line = next(line for line in lines if line.holding_id == holding_id)
        since = history.standing_since(desk.session, [holding_id], document.document_id)
        after = line.on_hand + (0 if holding_id in counted else delta)
        touched = document.kind is DocumentKind.OPENING and line.opened_on is not None and since
        if after < 0 or touched:
            left = f"{show(line.on_hand, line.base)} of {show(abs(delta), line.base)} left at {line.place}"
            return (
                f"{item_and_lot(line.item_name, line.lot_number)}: {left}{_since(since)}.",
                "Undo that first, or correct the count instead.",
            )
        if line.opened_on is not None and after > line.unit_qty:
            what = item_and_lot(line.item_name, line.lot_number)
            return f"{what}: this would make it more than a full unit{_since(since)}.", "Correct its count first."
    return None


def _relied_on(desk: Desk, document: Posted) -> tuple[str, str] | None:
    """A count is not undone any more once something was booked late and left what it had counted."""
    if document.kind is not DocumentKind.COUNT or document.visit_id is not None or document.reason == COUNT_AGAIN:
        return None
    holdings = counting.corrected_in(desk.session, document.document_id)
    late = [
        one for one in history.standing_since(desk.session, holdings, document.document_id) if one.reason == COUNT_AGAIN
    ]
    if not late:
        return None
    return (
        f"What happened before this count was booked after it, and left what it had counted{_since(late)}.",
        "Count again instead: a newer count puts everything right.",
    )


def _since(documents: list[Posted]) -> str:
    if not documents:
        return ""
    more = f" and {len(documents) - 3} more" if len(documents) > 3 else ""
    return f"; since then: {', '.join(told(document) for document in documents[:3])}{more}"


def _undone(desk: Desk, posted: ledger.Posted) -> Undone:
    made = history.documents(desk.session, list(posted.documents.values()))
    lines = history.lines(desk.session, list(made))
    undone = history.documents(desk.session, [one.reverses_id for one in made.values() if one.reverses_id is not None])
    booking = [one for one in undone.values() if _is_booking(one)]
    kept: tuple[str, ...] = ()
    if booking:
        rest = history.of_request(desk.session, booking[0].request_key)
        kept = tuple(_kept(one) for one in rest if one.reversed_by_id is None)
    return Undone(
        undone=tuple(undone),
        documents=tuple(made),
        lines=tuple(line for number in made for line in lines[number]),
        visit_id=booking[0].visit_id if booking else None,
        kept=kept,
        again=posted.again,
    )


def _kept(document: Posted) -> str:
    if document.reason == COUNT_AGAIN:
        return "What was counted since stays in force."
    return {
        DocumentKind.OPENING: "What was opened stays open.",
        DocumentKind.COUNT: "Stock that was found stays found.",
        DocumentKind.TRANSFER: "The trays stay where they are now: they have moved on since.",
    }.get(document.kind, f"{told(document)} stands.")


def _plan_again(desk: Desk, visit_id: int, person_id: int, reason: str) -> None:
    """Plan a visit again, as it was planned before it was booked out."""
    visit = desk.session.get_one(Visit, visit_id, with_for_update=True, populate_existing=True)
    if visit.state is VisitState.DONE:
        changes: dict[str, tuple[object, object]] = {"state": ("done", "planned")}
        for field, old in query.before_booking(desk.session, visit_id, PLANNED_FIELDS).items():
            planned = int(old) if old is not None and field == "place_id" else old
            changes[field] = (getattr(visit, field), planned)
            setattr(visit, field, planned)
        visit.state = VisitState.PLANNED
        visit.version += 1
        desk.log_change(person_id, "visit", visit_id, changes, reason)

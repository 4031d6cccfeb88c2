"""The only writer of movements: one posting, whole, with its balances, in the caller's unit of work.

Everything is asked before anything is written: the request key, the laws, whether the stock suffices. What is posted
together is locked together and in one order, by holding, so that two workstations never wait for each other.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import case, insert, select, text, update
from sqlmodel import Session, col

from inventory.domain.ledger import Draft, Entry, Line, Opened, Posting, Sealed, broken_laws, fold, turned
from inventory.domain.vocabulary import DocumentKind
from inventory.errors import AlreadyDone, KeyReused, NotAllowed, StockChanged
from inventory.store.tables import Document, Holding, Lot, Movement


@dataclass(frozen=True, slots=True)
class Posted:
    """Identifiers of the documents of a posting by part; ``again`` where the request had been posted before."""

    documents: dict[int, int]
    again: bool = False


@dataclass(frozen=True, slots=True)
class _Held:
    id: int
    lot_id: int
    item_id: int
    opened_on: date | None
    on_hand: int
    unit_qty: int


def already_posted(session: Session, request_key: str, request_hash: str) -> Posted | None:
    """The first result of a request that comes again; None for a new one.

    Raises:
        KeyReused: the key came with other content.
    """
    if session.get_bind().dialect.name == "postgresql":  # two same requests at once wait here for each other
        session.execute(text("SELECT pg_advisory_xact_lock(hashtextextended(:key, 0))"), {"key": request_key})
    rows = session.execute(
        select(col(Document.part), col(Document.id), col(Document.request_hash)).where(
            col(Document.request_key) == request_key
        )
    ).all()
    if not rows:
        return None
    if any(row.request_hash != request_hash for row in rows):
        raise KeyReused(
            "This form was posted already with other figures.",
            "Look at the history; undo that posting if it was wrong, and start a new form.",
        )
    return Posted({row.part: row.id for row in rows}, again=True)


def lock_lots(session: Session, lot_ids: Collection[int]) -> None:
    """Keep others from changing the stock of these lots until the unit of work ends.

    For decisions that rest on a balance: read it after this. SQLite's writers are alone anyway.
    """
    if session.get_bind().dialect.name == "postgresql":
        holdings = select(col(Holding.id)).where(col(Holding.lot_id).in_(lot_ids)).order_by(col(Holding.id))
        session.execute(holdings.with_for_update()).all()


def entries_of(session: Session, document_id: int) -> tuple[Entry, ...]:
    """The movements of a document, as they were posted."""
    rows = session.execute(
        select(
            col(Movement.holding_id), col(Movement.kind), col(Movement.qty), col(Movement.arch), col(Movement.step),
            col(Movement.attempt), col(Movement.lot_confirmed), col(Movement.late_reason),
        )
        .where(col(Movement.document_id) == document_id)
        .order_by(col(Movement.line))
    )  # fmt: skip
    return tuple(Entry(*row) for row in rows)


def post(session: Session, posting: Posting) -> Posted:
    """Write documents and movements and change the balances; all or nothing.

    Raises:
        KeyReused: the request key came with other content.
        StockChanged: a holding has less than the posting takes from it.
        AlreadyDone: the document to be undone was undone before.
        NotAllowed: a law of the ledger is broken.
    """
    if (before := already_posted(session, posting.request_key, posting.request_hash)) is not None:
        return before
    if not posting.documents:
        raise NotAllowed("There is nothing to post.", "Nothing was changed.")
    targets = _resolve(session, [entry.target for draft in posting.documents for entry in draft.entries])
    held = _lock(session, sorted(set(targets.values())))
    for draft in posting.documents:
        _check(session, draft, targets, held)
    deltas = _deltas(posting.documents, targets)
    _check_stock(session, deltas, held)
    documents = _write_documents(session, posting)
    _write_movements(session, posting.documents, documents, targets, held)
    _change_balances(session, deltas)
    return Posted(documents)


def _resolve(session: Session, targets: Iterable[int | Sealed | Opened]) -> dict[int | Sealed | Opened, int]:
    """Find the holding of each target; make those that don't exist yet."""
    found: dict[int | Sealed | Opened, int] = {}
    for target in sorted(dict.fromkeys(targets), key=_making_order):
        if isinstance(target, int):
            found[target] = target
        elif isinstance(target, Opened):
            found[target] = _new_holding(session, target.lot_id, target.place_id, target.opened_on)
        else:
            found[target] = _sealed(session, target)
    return found


def _making_order(target: int | Sealed | Opened) -> tuple[int, int]:
    """Stacks are made in one order, so that two workstations that make the same ones don't wait for each other."""
    return (0, target) if isinstance(target, int) else (target.lot_id, target.place_id)


def _sealed(session: Session, target: Sealed) -> int:
    where = (
        col(Holding.lot_id) == target.lot_id,
        col(Holding.place_id) == target.place_id,
        col(Holding.opened_on).is_(None),
    )
    found = session.execute(select(col(Holding.id)).where(*where)).scalar_one_or_none()
    if found is not None:
        return int(found)
    if session.get_bind().dialect.name == "postgresql":  # another workstation may be making the same stack
        key = f"holding {target.lot_id} {target.place_id}"
        session.execute(text("SELECT pg_advisory_xact_lock(hashtextextended(:key, 0))"), {"key": key})
        found = session.execute(select(col(Holding.id)).where(*where)).scalar_one_or_none()
    return int(found) if found is not None else _new_holding(session, target.lot_id, target.place_id, None)


def _new_holding(session: Session, lot_id: int, place_id: int, opened_on: date | None) -> int:
    values = {"lot_id": lot_id, "place_id": place_id, "opened_on": opened_on, "on_hand": 0}
    return int(session.execute(insert(Holding).values(values).returning(col(Holding.id))).scalar_one())


def _lock(session: Session, ids: Sequence[int]) -> dict[int, _Held]:
    """Read the holdings in a fixed order, locked on PostgreSQL (SQLite's writers are alone already)."""
    query = (
        select(
            col(Holding.id), col(Holding.lot_id), col(Lot.item_id), col(Holding.opened_on),
            col(Holding.on_hand), col(Lot.unit_qty),
        )
        .join(Lot, col(Lot.id) == col(Holding.lot_id))
        .where(col(Holding.id).in_(ids))
        .order_by(col(Holding.id))
        .with_for_update(of=Holding)
    )  # fmt: skip
    held = {row.id: _Held(*row) for row in session.execute(query)}
    if len(held) < len(ids):
        raise NotAllowed("A posting names a holding that does not exist.", "Start again from the present stock.")
    return held


def _check(session: Session, draft: Draft, targets: dict[int | Sealed | Opened, int], held: dict[int, _Held]) -> None:
    lines = [_line(entry, held[targets[entry.target]]) for entry in draft.entries]
    if faults := broken_laws(draft.kind, lines):
        raise NotAllowed(f"The ledger refuses this: {'; '.join(faults)}.", "Nothing was changed.")
    if draft.reverses_id is not None:
        _check_reversal(session, draft, draft.reverses_id)


def _check_reversal(session: Session, draft: Draft, undone_id: int) -> None:
    undone = session.execute(select(col(Document.kind)).where(col(Document.id) == undone_id)).scalar_one_or_none()
    if undone in (None, DocumentKind.REVERSAL):
        raise NotAllowed("Only a posting can be undone, not an undoing.", "Enter again what really happened.")
    if draft.entries != turned(entries_of(session, undone_id)):
        raise NotAllowed("The ledger refuses this: an undoing that differs from its posting.", "Nothing was changed.")
    if session.execute(select(col(Document.id)).where(col(Document.reverses_id) == undone_id)).first() is not None:
        raise AlreadyDone("This posting was undone before.", "Nothing more to do; the history shows by whom.")


def _line(entry: Entry, held: _Held) -> Line:
    return Line(held.id, held.lot_id, held.opened_on is None, held.unit_qty, entry.kind, entry.qty)


def _write_documents(session: Session, posting: Posting) -> dict[int, int]:
    rows = [
        {
            "kind": draft.kind,
            "request_key": posting.request_key,
            "part": draft.part,
            "request_hash": posting.request_hash,
            "person_id": posting.person_id,
            "recorded_at": posting.recorded_at,
            "happened_at": posting.happened_at,
            "happened_on": posting.happened_on,
            "reason": draft.reason,
            "proof": draft.proof,
            "reverses_id": draft.reverses_id,
            "visit_id": draft.visit_id,
            "delivery_id": draft.delivery_id,
            "count_round_id": draft.count_round_id,
            "notice_id": draft.notice_id,
            "group_ref": draft.group_ref,
        }
        for draft in posting.documents
    ]
    ids = session.execute(insert(Document).returning(col(Document.id), sort_by_parameter_order=True), rows).scalars()
    return {draft.part: int(number) for draft, number in zip(posting.documents, ids, strict=True)}


def _write_movements(
    session: Session,
    drafts: Iterable[Draft],
    documents: dict[int, int],
    targets: dict[int | Sealed | Opened, int],
    held: dict[int, _Held],
) -> None:
    rows = [
        {
            "document_id": documents[draft.part],
            "line": number,
            "holding_id": targets[entry.target],
            "item_id": held[targets[entry.target]].item_id,
            "kind": entry.kind,
            "qty": entry.qty,
            "arch": entry.arch,
            "step": entry.step,
            "attempt": entry.attempt,
            "lot_confirmed": entry.lot_confirmed,
            "late_reason": entry.late_reason,
        }
        for draft in drafts
        for number, entry in enumerate(draft.entries, start=1)
    ]
    # with nulls written out all rows have the same columns, and go in one statement
    session.execute(insert(Movement).execution_options(render_nulls=True), rows)


def _deltas(drafts: Iterable[Draft], targets: dict[int | Sealed | Opened, int]) -> dict[int, int]:
    """What the posting as a whole changes at each holding; holdings that end as they were are left out."""
    changed = fold((targets[entry.target], entry.qty) for draft in drafts for entry in draft.entries)
    return {holding_id: delta for holding_id, delta in changed.items() if delta}


def _check_stock(session: Session, deltas: dict[int, int], held: dict[int, _Held]) -> None:
    short = [holding_id for holding_id, delta in deltas.items() if held[holding_id].on_hand + delta < 0]
    if short:
        lots = session.execute(
            select(col(Lot.number)).where(col(Lot.id).in_({held[holding_id].lot_id for holding_id in short}))
        ).scalars()
        raise StockChanged(
            f"There is not enough left of lot {', '.join(sorted(lots))}: somebody else may have just used it.",
            "Look at the new proposal, or record the stock that was found.",
        )


def _change_balances(session: Session, deltas: dict[int, int]) -> None:
    """One guarded statement: it changes every balance, or fewer than asked and the posting fails."""
    if not deltas:
        return
    after = col(Holding.on_hand) + case(deltas, value=col(Holding.id))
    result = session.execute(
        update(Holding)
        .where(col(Holding.id).in_(sorted(deltas)), after >= 0)
        .values(on_hand=after)
        .execution_options(synchronize_session=False)
    )
    if result.rowcount != len(deltas):  # type: ignore[attr-defined]
        raise StockChanged("The stock changed while this was posted.", "Look at the new proposal.")

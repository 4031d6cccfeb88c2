"""The only writer of movements: one posting, whole, with its balances, in the caller's unit of work."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import case, insert, select, text, update
from sqlmodel import Session, col

from inventory.domain.ledger import Draft, Entry, Line, Opened, Posting, Sealed, broken_laws
from inventory.errors import KeyReused, NotAllowed, StockChanged
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


def post(session: Session, posting: Posting) -> Posted:
    """Write documents and movements and change the balances; all or nothing.

    Raises:
        KeyReused: the request key came with other content.
        StockChanged: a holding has less than the posting takes from it.
        NotAllowed: a law of the ledger is broken.
    """
    if (before := already_posted(session, posting.request_key, posting.request_hash)) is not None:
        return before
    targets = _resolve(session, [entry.target for draft in posting.documents for entry in draft.entries])
    held = _lock(session, sorted(set(targets.values())))
    for draft in posting.documents:
        _check(draft, targets, held)
    documents = _write_documents(session, posting)
    deltas = _write_movements(session, posting.documents, documents, targets, held)
    _change_balances(session, deltas, held)
    return Posted(documents)


def _resolve(session: Session, targets: Iterable[int | Sealed | Opened]) -> dict[int | Sealed | Opened, int]:
    """Find the holding of each target; make those that don't exist yet."""
    found: dict[int | Sealed | Opened, int] = {}
    for target in dict.fromkeys(targets):
        if isinstance(target, int):
            found[target] = target
        elif isinstance(target, Opened):
            found[target] = _new_holding(session, target.lot_id, target.place_id, target.opened_on)
        else:
            found[target] = _sealed(session, target)
    return found


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


def _check(draft: Draft, targets: dict[int | Sealed | Opened, int], held: dict[int, _Held]) -> None:
    lines = [_line(entry, held[targets[entry.target]]) for entry in draft.entries]
    if faults := broken_laws(draft.kind, lines):
        raise NotAllowed(f"The ledger refuses this: {'; '.join(faults)}.", "Nothing was changed.")


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
) -> dict[int, int]:
    rows = []
    deltas: dict[int, int] = defaultdict(int)
    for draft in drafts:
        for number, entry in enumerate(draft.entries, start=1):
            holding = held[targets[entry.target]]
            deltas[holding.id] += entry.qty
            rows.append(
                {
                    "document_id": documents[draft.part],
                    "line": number,
                    "holding_id": holding.id,
                    "item_id": holding.item_id,
                    "kind": entry.kind,
                    "qty": entry.qty,
                    "arch": entry.arch,
                    "step": entry.step,
                    "attempt": entry.attempt,
                    "lot_confirmed": entry.lot_confirmed,
                    "late_reason": entry.late_reason,
                }
            )
    session.execute(insert(Movement), rows)
    return {holding_id: delta for holding_id, delta in deltas.items() if delta}


def _change_balances(session: Session, deltas: dict[int, int], held: dict[int, _Held]) -> None:
    """One guarded statement: it changes every balance, or fewer than asked and the posting fails."""
    short = [holding_id for holding_id, delta in deltas.items() if held[holding_id].on_hand + delta < 0]
    if not short and deltas:
        after = col(Holding.on_hand) + case(deltas, value=col(Holding.id))
        result = session.execute(
            update(Holding)
            .where(col(Holding.id).in_(sorted(deltas)), after >= 0)
            .values(on_hand=after)
            .execution_options(synchronize_session=False)
        )
        if result.rowcount == len(deltas):  # type: ignore[attr-defined]
            return
        short = sorted(deltas)
    if short:
        lots = session.execute(
            select(col(Lot.number)).where(col(Lot.id).in_({held[holding_id].lot_id for holding_id in short}))
        ).scalars()
        raise StockChanged(
            f"There is not enough left of lot {', '.join(sorted(lots))}: somebody else may have just used it.",
            "Look at the new proposal, or record the stock that was found.",
        )

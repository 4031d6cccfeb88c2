"""Does the whole book hold together? Each function reads everything once and gives what does not fit.

These are the only queries that read the ledger from end to end; they run when somebody asks for a check.
"""

from collections.abc import Iterator
from datetime import datetime
from itertools import groupby
from typing import Any

from sqlalchemy import and_, case, func, or_, select, text
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from inventory.domain.ledger import STAYS, Line, broken_laws
from inventory.domain.vocabulary import DocumentKind, MovementKind, VisitState
from inventory.store import guards as guards_of
from inventory.store.tables import Document, Hold, Holding, Item, Lot, Movement, Place, Visit


def balances(session: Session) -> list[Any]:
    """Holdings whose balance is not the sum of their movements: holding, item, base, lot, place, on hand, sum."""
    total = func.coalesce(func.sum(col(Movement.qty)), 0)
    query = (
        select(
            col(Holding.id), col(Item.name), col(Item.base), col(Lot.number), col(Place.name), col(Holding.on_hand),
            total,
        )
        .join(Lot, col(Lot.id) == col(Holding.lot_id))
        .join(Item, col(Item.id) == col(Lot.item_id))
        .join(Place, col(Place.id) == col(Holding.place_id))
        .outerjoin(Movement, col(Movement.holding_id) == col(Holding.id))
        .group_by(
            col(Holding.id), col(Item.name), col(Item.base), col(Lot.number), col(Place.name), col(Holding.on_hand)
        )
        .having(total != col(Holding.on_hand))
        .order_by(col(Holding.id))
    )  # fmt: skip
    return list(session.execute(query).all())


def wrong_contents(session: Session) -> list[Any]:
    """Sealed stacks of broken units and opened units fuller than full: holding, lot, place, opened on."""
    sealed = and_(col(Holding.opened_on).is_(None), col(Holding.on_hand) % col(Lot.unit_qty) != 0)
    opened = and_(col(Holding.opened_on).is_not(None), col(Holding.on_hand) > col(Lot.unit_qty))
    query = (
        select(col(Holding.id), col(Lot.number), col(Place.name), col(Holding.opened_on))
        .join(Lot, col(Lot.id) == col(Holding.lot_id))
        .join(Place, col(Place.id) == col(Holding.place_id))
        .where(or_(sealed, opened))
        .order_by(col(Holding.id))
    )
    return list(session.execute(query).all())


def unlawful(session: Session) -> Iterator[tuple[int, str]]:
    """Documents that break a law of the ledger, as (document, what is wrong)."""
    query = (
        select(
            col(Document.id), col(Document.kind), col(Holding.id), col(Holding.lot_id), col(Holding.opened_on),
            col(Lot.unit_qty), col(Movement.kind), col(Movement.qty),
        )
        .outerjoin(Movement, col(Movement.document_id) == col(Document.id))
        .outerjoin(Holding, col(Holding.id) == col(Movement.holding_id))
        .outerjoin(Lot, col(Lot.id) == col(Holding.lot_id))
        .order_by(col(Document.id), col(Movement.line))
        .execution_options(yield_per=2_000)
    )  # fmt: skip
    for (document_id, kind), rows in groupby(session.execute(query), key=lambda row: (row[0], row[1])):
        lines = [Line(row[2], row[3], row[4] is None, row[5], row[6], row[7]) for row in rows if row[2] is not None]
        for fault in broken_laws(kind, lines):
            yield document_id, fault


def wrong_items(session: Session) -> list[Any]:
    """Movements that name another item than their lot's: movement, document."""
    query = (
        select(col(Movement.id), col(Movement.document_id))
        .join(Holding, col(Holding.id) == col(Movement.holding_id))
        .join(Lot, col(Lot.id) == col(Holding.lot_id))
        .where(col(Lot.item_id) != col(Movement.item_id))
        .order_by(col(Movement.id))
    )
    return list(session.execute(query).all())


def wrong_reversals(session: Session) -> list[int]:
    """Reversals that do not mirror their document line by line, or that undo a reversal."""
    undone, theirs, ours = aliased(Document), aliased(Movement), aliased(Movement)
    mirrored = and_(
        col(ours.document_id) == col(Document.id), col(ours.line) == col(theirs.line),
        col(ours.holding_id) == col(theirs.holding_id), col(ours.kind) == col(theirs.kind),
        col(ours.qty) == -col(theirs.qty),
    )  # fmt: skip
    lines = func.count(col(theirs.id))
    own_lines = (
        select(func.count()).select_from(Movement).where(col(Movement.document_id) == col(Document.id))
    ).scalar_subquery()
    query = (
        select(col(Document.id))
        .join(undone, col(undone.id) == col(Document.reverses_id))
        .outerjoin(theirs, col(theirs.document_id) == col(undone.id))
        .outerjoin(ours, mirrored)
        .group_by(col(Document.id), col(undone.kind))
        .having(
            or_(
                lines != func.count(col(ours.id)),
                lines != own_lines,
                col(undone.kind) == DocumentKind.REVERSAL,
            )
        )
        .order_by(col(Document.id))
    )
    return list(session.execute(query).scalars())


def lost_or_made(session: Session) -> list[Any]:
    """Lots of which more or less is there than what came less what went: lot, number, came, went, on hand.

    Came: receipts and count corrections. Went: used, purged, wasted, discarded, returned. Openings and transfers only
    move stock about.
    """
    came_in = col(Movement.kind).in_((MovementKind.RECEIPT, MovementKind.COUNT))
    stays = col(Movement.kind).in_(STAYS)
    moved = (
        select(
            col(Holding.lot_id).label("lot_id"),
            func.sum(case((came_in, col(Movement.qty)), else_=0)).label("came"),
            func.sum(case((or_(came_in, stays), 0), else_=-col(Movement.qty))).label("went"),
        )
        .join(Holding, col(Holding.id) == col(Movement.holding_id))
        .group_by(col(Holding.lot_id))
        .subquery()
    )
    there = (
        select(col(Holding.lot_id).label("lot_id"), func.sum(col(Holding.on_hand)).label("on_hand"))
        .group_by(col(Holding.lot_id))
        .subquery()
    )
    came, went = func.coalesce(moved.c.came, 0), func.coalesce(moved.c.went, 0)
    query = (
        select(col(Lot.id), col(Lot.number), col(Item.base), came, went, there.c.on_hand)
        .join(Item, col(Item.id) == col(Lot.item_id))
        .join(there, there.c.lot_id == col(Lot.id))
        .outerjoin(moved, moved.c.lot_id == col(Lot.id))
        .where(came != went + there.c.on_hand)
        .order_by(col(Lot.id))
    )
    return list(session.execute(query).all())


def held_twice(session: Session) -> list[Any]:
    """Lots with more than one open hold for the same cause (by hand, or one notice): lot, number."""
    query = (
        select(col(Lot.id), col(Lot.number))
        .join(Hold, col(Hold.lot_id) == col(Lot.id))
        .where(col(Hold.released_at).is_(None))
        .group_by(col(Lot.id), col(Lot.number), col(Hold.notice_id))
        .having(func.count() > 1)
        .order_by(col(Lot.id))
    )
    return list(session.execute(query).all())


def wrong_visits(session: Session) -> list[Any]:
    """Visits done without a booking that stands, and visits with one that are not done: visit, case, state."""
    undoing = aliased(Document)
    stands = (
        select(col(Document.id))
        .outerjoin(undoing, col(undoing.reverses_id) == col(Document.id))
        .where(
            col(Document.visit_id) == col(Visit.id),
            col(Document.kind).in_((DocumentKind.USE, DocumentKind.TRANSFER)),
            col(undoing.id).is_(None),
        )
    )
    only_use = stands.where(col(Document.kind) == DocumentKind.USE)
    done = col(Visit.state) == VisitState.DONE
    query = (
        select(col(Visit.id), col(Visit.case_ref), col(Visit.state))
        .where(or_(and_(done, ~stands.exists()), and_(~done, only_use.exists())))
        .order_by(col(Visit.id))
    )
    return list(session.execute(query).all())


def mixed_requests(session: Session) -> list[str]:
    """Request keys under which different contents were posted."""
    query = (
        select(col(Document.request_key))
        .group_by(col(Document.request_key))
        .having(func.count(col(Document.request_hash).distinct()) > 1)
    )
    return list(session.execute(query).scalars())


def lost_guards(session: Session) -> list[str]:
    """Guards against changing history that are not in place."""
    return sorted(guards_of.missing(session.connection()))


def file_faults(session: Session) -> list[str]:
    """What SQLite itself finds wrong with its file: pages, indexes, rules, links to rows that are not there."""
    if session.get_bind().dialect.name != "sqlite":
        return []
    said = [str(line) for line in session.execute(text("PRAGMA integrity_check")).scalars()]
    links = session.execute(text("PRAGMA foreign_key_check")).all()
    return [line for line in said if line != "ok"] + [f"{row[0]} {row[1]} points at no {row[2]}" for row in links]


def newest_entry(session: Session) -> datetime | None:
    """When the newest document was recorded; None in an empty book."""
    query = select(col(Document.recorded_at)).order_by(col(Document.id).desc()).limit(1)
    found: datetime | None = session.execute(query).scalar_one_or_none()
    return found


def size(session: Session) -> tuple[int, int, int]:
    """How much there is to check: documents, movements, holdings."""
    tables = (col(Document.id), col(Movement.id), col(Holding.id))
    documents, movements, holdings = (int(session.execute(select(func.count(one))).scalar_one()) for one in tables)
    return documents, movements, holdings

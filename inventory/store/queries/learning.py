"""What learning reads: estimates of needs, what attempts took, what else moved an article, and entered amounts."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import func, select
from sqlmodel import Session, col

from inventory.domain.vocabulary import Arch, DocumentKind, EstimateSource, MovementKind, VisitState
from inventory.store.tables import Document, Estimate, Holding, Item, Lot, Movement, Need, Visit, VisitUse


@dataclass(frozen=True, slots=True)
class EstimateRow:
    """One estimate of a need, in base units."""

    need_id: int
    source: EstimateSource
    mean_qty: int
    sd_qty: int
    retake_ppm: int
    weight: int
    as_of: datetime


@dataclass(frozen=True, slots=True)
class EnteredRow:
    """One attempt whose amount a person changed: what was entered, tip volume and purge included, in base units."""

    need_id: int
    item_id: int
    visit_id: int
    case_ref: str
    document_id: int
    happened_at: datetime
    happened_on: date
    step: str | None
    arch: Arch | None
    attempt: int
    actual_qty: int


@dataclass(frozen=True, slots=True)
class AttemptRow:
    """What one attempt of a need took from an article as booked, tip volume and purge included, in base units.

    ``need_id`` is None for what the form did not expect.
    """

    need_id: int | None
    item_id: int
    document_id: int
    happened_at: datetime
    step: str | None
    arch: Arch | None
    attempt: int
    actual_qty: int
    expected_qty: int


@dataclass(frozen=True, slots=True)
class FlowRow:
    """What is known to have come or gone of an article at a moment, in base units; what went is negative."""

    item_id: int
    happened_at: datetime
    qty: int


@dataclass(frozen=True, slots=True)
class RestRow:
    """An opened unit whose rest was written off, or that was discarded; ``booked_qty`` is what the book believed."""

    item_id: int
    happened_at: datetime
    discarded: bool
    booked_qty: int
    unit_qty: int


def estimates(session: Session) -> dict[int, list[EstimateRow]]:
    """By need: its estimates, oldest first."""
    query = select(
        col(Estimate.need_id), col(Estimate.source), col(Estimate.mean_qty), col(Estimate.sd_qty),
        col(Estimate.retake_ppm), col(Estimate.weight), col(Estimate.as_of),
    ).order_by(col(Estimate.id))  # fmt: skip
    found: dict[int, list[EstimateRow]] = defaultdict(list)
    for row in session.execute(query):
        found[row.need_id].append(EstimateRow(*row))
    return dict(found)


def entered(session: Session, since: date) -> list[EnteredRow]:
    """Attempts since a day whose booked amount is not the expected one, newest first; undone bookings left out.

    What one attempt took from several lots of an article is one amount; one that took nothing was not made.
    """
    reversed_ids = select(col(Document.reverses_id)).where(col(Document.reverses_id).is_not(None))
    grouped = (
        col(VisitUse.need_id), col(VisitUse.item_id), col(VisitUse.visit_id), col(Visit.case_ref),
        col(VisitUse.document_id), col(Document.happened_at), col(Document.happened_on), col(VisitUse.step),
        col(VisitUse.arch), col(VisitUse.attempt),
    )  # fmt: skip
    actual, expected = func.sum(col(VisitUse.actual_qty)), func.sum(col(VisitUse.expected_qty))
    query = (
        select(*grouped, actual)
        .join(Visit, col(Visit.id) == col(VisitUse.visit_id))
        .join(Document, col(Document.id) == col(VisitUse.document_id))
        .join(Need, col(Need.id) == col(VisitUse.need_id))
        .join(Item, col(Item.id) == col(VisitUse.item_id))
        .where(
            col(Visit.state) == VisitState.DONE,
            col(Visit.on) >= since,
            col(Item.kind) == col(Need.kind),  # not the mixing tip of the need
            col(VisitUse.document_id).not_in(reversed_ids),
        )
        .group_by(*grouped)
        .having(actual != expected, actual > 0)
        .order_by(col(Document.happened_at).desc(), col(VisitUse.document_id).desc(), col(VisitUse.need_id))
    )
    found = []
    for *values, total in session.execute(query):
        row: list[Any] = [*values, int(total)]  # PostgreSQL sums 64-bit integers into a decimal
        found.append(EnteredRow(*row))
    return found


def attempts(session: Session, item_ids: Collection[int], since: datetime) -> list[AttemptRow]:
    """What visits took from some articles after a moment, attempt by attempt; undone bookings left out."""
    reversed_ids = select(col(Document.reverses_id)).where(col(Document.reverses_id).is_not(None))
    grouped = (
        col(VisitUse.need_id), col(VisitUse.item_id), col(VisitUse.document_id), col(Document.happened_at),
        col(VisitUse.step), col(VisitUse.arch), col(VisitUse.attempt),
    )  # fmt: skip
    actual = func.sum(col(VisitUse.actual_qty))
    query = (
        select(*grouped, actual, func.sum(col(VisitUse.expected_qty)))
        .join(Document, col(Document.id) == col(VisitUse.document_id))
        .join(Visit, col(Visit.id) == col(VisitUse.visit_id))
        .where(
            col(VisitUse.item_id).in_(item_ids),
            col(Document.happened_at) > since,
            col(Visit.state) == VisitState.DONE,
            col(VisitUse.document_id).not_in(reversed_ids),
        )
        .group_by(*grouped)
        .having(actual > 0)
        .order_by(col(Document.happened_at), col(VisitUse.document_id))
    )
    found = []
    for *values, taken, expected in session.execute(query):
        row: list[Any] = [*values, int(taken), int(expected)]
        found.append(AttemptRow(*row))
    return found


def flows(session: Session, item_ids: Collection[int], since: datetime) -> list[FlowRow]:
    """What came and went of some articles after a moment, as far as it is really known: no attempt, no count, no rest.

    Openings and transfers only move it. What was undone cancels itself: both happened at the same moment.
    """
    known = (MovementKind.RECEIPT, MovementKind.RETURN)
    sealed = (MovementKind.WASTE, MovementKind.DISCARD)
    kind, opened = col(Movement.kind), col(Holding.opened_on).is_not(None)
    grouped = (col(Movement.item_id), col(Document.happened_at))
    query = (
        select(*grouped, func.sum(col(Movement.qty)))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .join(Holding, col(Holding.id) == col(Movement.holding_id))
        .where(
            col(Movement.item_id).in_(item_ids),
            col(Document.happened_at) > since,
            kind.in_(known) | (kind.in_(sealed) & ~opened),
        )
        .group_by(*grouped)
    )
    return [FlowRow(item_id, at, int(qty)) for item_id, at, qty in session.execute(query)]


def rests(session: Session, item_ids: Collection[int], since: datetime) -> list[RestRow]:
    """Opened units of some articles of which what was left was written off or thrown away after a moment."""
    reversed_ids = select(col(Document.reverses_id)).where(col(Document.reverses_id).is_not(None))
    query = (
        select(
            col(Movement.item_id), col(Document.happened_at), col(Movement.kind) == MovementKind.DISCARD,
            -col(Movement.qty), col(Lot.unit_qty),
        )
        .join(Document, col(Document.id) == col(Movement.document_id))
        .join(Holding, col(Holding.id) == col(Movement.holding_id))
        .join(Lot, col(Lot.id) == col(Holding.lot_id))
        .where(
            col(Movement.item_id).in_(item_ids),
            col(Document.happened_at) > since,
            col(Movement.kind).in_((MovementKind.WASTE, MovementKind.DISCARD)),
            col(Movement.qty) < 0,
            col(Holding.opened_on).is_not(None),
            col(Document.kind) != DocumentKind.REVERSAL,
            col(Document.id).not_in(reversed_ids),
        )
        .order_by(col(Movement.id))
    )  # fmt: skip
    return [RestRow(*row) for row in session.execute(query)]


def names(session: Session, item_ids: Collection[int]) -> dict[int, str]:
    """Names of items, given up ones too."""
    query = select(col(Item.id), col(Item.name)).where(col(Item.id).in_(item_ids))
    return {row[0]: row[1] for row in session.execute(query)}


Purged = tuple[int, int, str | None, Arch | None, int | None]


def purged(session: Session, document_ids: Collection[int]) -> dict[Purged, int]:
    """What stayed in tips and was purged, by document, item, step, arch and attempt, in base units."""
    grouped = (
        col(Movement.document_id), col(Movement.item_id), col(Movement.step), col(Movement.arch),
        col(Movement.attempt),
    )  # fmt: skip
    query = (
        select(*grouped, -func.sum(col(Movement.qty)))
        .where(col(Movement.document_id).in_(set(document_ids)), col(Movement.kind) == MovementKind.PURGE)
        .group_by(*grouped)
    )
    return {tuple(row[:-1]): int(row[-1]) for row in session.execute(query)}

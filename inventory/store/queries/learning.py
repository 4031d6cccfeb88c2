"""What learning reads: every estimate of a need, and what people entered where the form expected otherwise."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import func, select
from sqlmodel import Session, col

from inventory.domain.vocabulary import Arch, EstimateSource, MovementKind, VisitState
from inventory.store.tables import Document, Estimate, Item, Movement, Need, Visit, VisitUse


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

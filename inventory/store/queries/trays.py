"""What became of trays at visits: for the size mix, and to see which sizes lie on the shelf."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlmodel import Session, col

from inventory.domain.vocabulary import Arch, TrialOutcome
from inventory.store.tables import Document, TrayTrial, Visit


@dataclass(frozen=True, slots=True)
class Trial:
    """One tray at one visit."""

    visit_id: int
    on: date
    arch: Arch
    item_id: int
    outcome: TrialOutcome


def trials(session: Session, since: date) -> list[Trial]:
    """What became of trays since a day; bookings undone left out."""
    undone = select(col(Document.reverses_id)).where(col(Document.reverses_id).is_not(None))
    query = (
        select(
            col(TrayTrial.visit_id), col(Visit.on), col(TrayTrial.arch), col(TrayTrial.item_id), col(TrayTrial.outcome)
        )
        .join(Visit, col(Visit.id) == col(TrayTrial.visit_id))
        .where(
            col(Visit.on) >= since, col(TrayTrial.document_id).is_(None) | col(TrayTrial.document_id).not_in(undone)
        )
        .order_by(col(TrayTrial.id))
    )  # fmt: skip
    return [Trial(*row) for row in session.execute(query)]


def last_fitted(session: Session) -> dict[int, date]:
    """The day on which each tray article was last fitted, whenever that was; bookings undone left out."""
    undone = select(col(Document.reverses_id)).where(col(Document.reverses_id).is_not(None))
    query = (
        select(col(TrayTrial.item_id), func.max(col(Visit.on)))
        .join(Visit, col(Visit.id) == col(TrayTrial.visit_id))
        .where(
            col(TrayTrial.outcome) == TrialOutcome.FITTED,
            col(TrayTrial.document_id).is_(None) | col(TrayTrial.document_id).not_in(undone),
        )
        .group_by(col(TrayTrial.item_id))
    )
    return {row[0]: row[1] for row in session.execute(query)}

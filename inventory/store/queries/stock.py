"""What stands where: holdings with their lot, item and place; lots on hold."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from sqlalchemy import Select, exists, literal_column, select
from sqlmodel import Session, col

from inventory.domain.use_by import effective_use_by
from inventory.domain.vocabulary import LateReason, PlaceRole, UseByReading
from inventory.store.tables import Hold, Holding, Item, Lot, Place


@dataclass(frozen=True, slots=True)
class Stand:
    """One holding as it stands, with what decides whether and when it is used. Quantities in the item's base unit."""

    holding_id: int
    lot_id: int
    item_id: int
    place_id: int
    place_name: str
    place_role: PlaceRole
    opened_on: date | None
    on_hand: int
    lot_number: str
    number_is_ours: bool
    use_by: date | None
    use_by_read: UseByReading
    unit_qty: int
    first_received_on: date
    opened_days: int | None
    held: bool
    recalled: bool

    @property
    def last_day(self) -> date | None:
        """Effective use-by: the lot's date or the end of the opened life, whichever is earlier."""
        return effective_use_by(self.use_by, self.opened_on, self.opened_days)

    @property
    def blocked(self) -> LateReason | None:
        """Why the lot may not be used, its date apart."""
        if self.recalled:
            return LateReason.RECALLED
        return LateReason.HELD if self.held else None


@cache  # a statement is costly to build and never changes
def _stands() -> Select[*tuple[Any, ...]]:
    open_hold = (col(Hold.lot_id) == col(Lot.id)) & col(Hold.released_at).is_(None)
    return (
        select(
            col(Holding.id), col(Lot.id), col(Lot.item_id), col(Place.id), col(Place.name), col(Place.role),
            col(Holding.opened_on), col(Holding.on_hand), col(Lot.number), col(Lot.number_is_ours), col(Lot.use_by),
            col(Lot.use_by_read), col(Lot.unit_qty), col(Lot.first_received_on), col(Item.opened_days),
            exists().where(open_hold), exists().where(open_hold & col(Hold.notice_id).is_not(None)),
        )
        .select_from(Holding)
        .join(Lot, col(Lot.id) == col(Holding.lot_id))
        .join(Item, col(Item.id) == col(Lot.item_id))
        .join(Place, col(Place.id) == col(Holding.place_id))
    )  # fmt: skip


def stands(
    session: Session,
    item_ids: Collection[int] | None = None,
    lot_id: int | None = None,
    lot_ids: Collection[int] | None = None,
) -> list[Stand]:
    """Every holding with something in it: of all items, of some, of one lot, or of some lots."""
    # in the order of the index of what is filled: every unit ever opened leaves an empty holding, which is not read
    query = _stands().where(col(Holding.on_hand) > literal_column("0")).order_by(col(Holding.lot_id), col(Holding.id))
    if item_ids is not None:
        query = query.where(col(Lot.item_id).in_(item_ids))
    if lot_id is not None:
        query = query.where(col(Lot.id) == lot_id)
    if lot_ids is not None:
        query = query.where(col(Lot.id).in_(lot_ids))
    return sorted((Stand(*row) for row in session.execute(query)), key=lambda stand: stand.holding_id)


def stands_of(session: Session, holding_ids: Collection[int]) -> dict[int, Stand]:
    """Some holdings by number, empty or not."""
    found = (Stand(*row) for row in session.execute(_stands().where(col(Holding.id).in_(set(holding_ids)))))
    return {stand.holding_id: stand for stand in found}


def stand(session: Session, holding_id: int) -> Stand | None:
    """One holding, empty or not."""
    row = session.execute(_stands().where(col(Holding.id) == holding_id)).one_or_none()
    return None if row is None else Stand(*row)


def lot(session: Session, item_id: int, number: str, use_by: date | None) -> Lot | None:
    """The lot of an item with this number and date."""
    dated = col(Lot.use_by).is_(None) if use_by is None else col(Lot.use_by) == use_by
    query = select(Lot).where(col(Lot.item_id) == item_id, col(Lot.number) == number, dated)
    return session.execute(query).scalar_one_or_none()

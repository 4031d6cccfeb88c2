"""What the lists of stock need beside the holdings themselves: their items, what they cost, the run of tray sizes."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import or_, select
from sqlmodel import Session, col

from inventory.domain.vocabulary import Arch
from inventory.store.tables import DeliveryLine, Item, Supply, TraySize


@dataclass(frozen=True, slots=True)
class Price:
    """What a pack cost or costs, in cents, and the units in it."""

    pack_cents: int
    units_per_pack: int


def items(session: Session, with_stock: Collection[int]) -> dict[int, Item]:
    """Every active item, and those no longer active of which some is left, by name."""
    query = (
        select(Item).where(or_(col(Item.active), col(Item.id).in_(with_stock))).order_by(col(Item.name), col(Item.id))
    )
    return {item.id: item for item in session.execute(query).scalars() if item.id is not None}


def costs(session: Session, lot_ids: Collection[int]) -> dict[int, Price]:
    """What was last paid for each of some lots; lots that came without a price are left out."""
    query = (
        select(col(DeliveryLine.lot_id), col(DeliveryLine.pack_cents), col(DeliveryLine.units_per_pack))
        .where(col(DeliveryLine.lot_id).in_(lot_ids), col(DeliveryLine.pack_cents).is_not(None))
        .order_by(col(DeliveryLine.id))
    )
    return {lot_id: Price(cents, units) for lot_id, cents, units in session.execute(query)}


def prices(session: Session, today: date) -> dict[int, Price]:
    """Today's price of each item: the preferred supply's newest, else any other's newest."""
    query = (
        select(col(Supply.item_id), col(Supply.pack_cents), col(Supply.units_per_pack))
        .where(col(Supply.valid_from) <= today)
        .order_by(col(Supply.preferred), col(Supply.valid_from), col(Supply.id))  # the last one of each item counts
    )
    return {item_id: Price(cents, units) for item_id, cents, units in session.execute(query)}


def tray_sizes(session: Session) -> dict[tuple[str, Arch], list[str]]:
    """The practice's run of sizes, smallest first, by tray line and arch."""
    found: dict[tuple[str, Arch], list[str]] = {}
    query = select(TraySize).order_by(col(TraySize.line), col(TraySize.position), col(TraySize.label))
    for row in session.execute(query).scalars():
        found.setdefault((row.line, row.arch), []).append(row.label)
    return found

"""Purchase orders with their lines, what deliveries brought for them, and how long past ones took."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import func, select
from sqlmodel import Session, col

from inventory.domain.vocabulary import BaseUnit, OrderState
from inventory.store.tables import (
    Delivery,
    DeliveryLine,
    Document,
    Item,
    PackContent,
    Person,
    Purchase,
    PurchaseLine,
    Supplier,
    Supply,
)

OPEN = (OrderState.SENT, OrderState.PART)


@dataclass(frozen=True, slots=True)
class OrderRow:
    """A purchase order without its lines."""

    order_id: int
    number: str
    supplier_id: int
    supplier: str
    state: OrderState
    written_on: date
    sent_on: date | None
    expected_on: date | None
    fee_cents: int | None
    by: str
    version: int


@dataclass(frozen=True, slots=True)
class OrderLineRow:
    """A line of an order, with the item it brings; ``came_units`` are those that deliveries brought for it, sound."""

    order_id: int
    line_id: int
    supply_id: int
    catalogue_no: str
    item_id: int
    code: str
    name: str
    base: BaseUnit
    unit_qty: int
    unit_name: str
    packs: int
    units_per_pack: int
    pack_cents: int
    cancelled_packs: int
    why: Any
    came_units: int


def orders(
    session: Session,
    *,
    states: Collection[OrderState] = (),
    number: str = "",
    order_id: int | None = None,
    supplier_id: int | None = None,
    limit: int | None = None,
) -> list[OrderRow]:
    """Orders that fit, newest first."""
    query = (
        select(
            col(Purchase.id), col(Purchase.number), col(Purchase.supplier_id), col(Supplier.name),
            col(Purchase.state), col(Purchase.written_on), col(Purchase.sent_on), col(Purchase.expected_on),
            col(Purchase.fee_cents), col(Person.initials), col(Purchase.version),
        )
        .join(Supplier, col(Supplier.id) == col(Purchase.supplier_id))
        .join(Person, col(Person.id) == col(Purchase.person_id))
        .order_by(col(Purchase.id).desc())
    )  # fmt: skip
    if states:
        query = query.where(col(Purchase.state).in_(states))
    if number:
        query = query.where(col(Purchase.number) == number.strip().upper())
    if order_id is not None:
        query = query.where(col(Purchase.id) == order_id)
    if supplier_id is not None:
        query = query.where(col(Purchase.supplier_id) == supplier_id)
    return [OrderRow(*row) for row in session.execute(query.limit(limit))]


def order_lines(session: Session, order_ids: Collection[int]) -> dict[int, tuple[OrderLineRow, ...]]:
    """The lines of these orders, as they were written."""
    came = _came(session, order_ids)
    query = (
        select(
            col(PurchaseLine.purchase_id), col(PurchaseLine.id), col(Supply.id), col(Supply.catalogue_no),
            col(Item.id), col(Item.code), col(Item.name), col(Item.base), col(Item.unit_qty), col(Item.unit_name),
            col(PurchaseLine.packs), col(PurchaseLine.units_per_pack), col(PurchaseLine.pack_cents),
            col(PurchaseLine.cancelled_packs), col(PurchaseLine.why),
        )
        .join(Supply, col(Supply.id) == col(PurchaseLine.supply_id))
        .join(Item, col(Item.id) == col(Supply.item_id))
        .where(col(PurchaseLine.purchase_id).in_(order_ids))
        .order_by(col(PurchaseLine.id))
    )  # fmt: skip
    found: dict[int, list[OrderLineRow]] = defaultdict(list)
    for row in session.execute(query):
        cells: tuple[Any, ...] = (*row, came.get(row[1], 0))
        found[row[0]].append(OrderLineRow(*cells))
    return {number: tuple(lines) for number, lines in found.items()}


def _came(session: Session, order_ids: Collection[int]) -> dict[int, int]:
    """Units that deliveries which stand brought for each line."""
    undone = select(col(Document.reverses_id)).where(col(Document.reverses_id).is_not(None))
    query = (
        select(col(PurchaseLine.id), func.sum(col(DeliveryLine.settles_units)))
        .join(DeliveryLine, col(DeliveryLine.purchase_line_id) == col(PurchaseLine.id))
        .where(col(PurchaseLine.purchase_id).in_(order_ids), col(DeliveryLine.document_id).not_in(undone))
        .group_by(col(PurchaseLine.id))
    )
    return {line_id: int(units) for line_id, units in session.execute(query)}


def further_articles(session: Session, supply_ids: Collection[int]) -> dict[int, tuple[tuple[int, int], ...]]:
    """What else is in the packs of these supplies, as (item, units)."""
    found: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for row in session.execute(select(PackContent).where(col(PackContent.supply_id).in_(supply_ids))).scalars():
        found[row.supply_id].append((row.item_id, row.units))
    return {supply_id: tuple(parts) for supply_id, parts in found.items()}


def first_arrivals(session: Session, since: date) -> list[tuple[int, date, date]]:
    """Orders sent since a day of which something came: supplier, day sent, day its first delivery came."""
    undone = select(col(Document.reverses_id)).where(col(Document.reverses_id).is_not(None))
    query = (
        select(col(Purchase.supplier_id), col(Purchase.sent_on), func.min(col(Delivery.received_on)))
        .join(Delivery, col(Delivery.purchase_id) == col(Purchase.id))
        .join(DeliveryLine, col(DeliveryLine.delivery_id) == col(Delivery.id))
        .where(
            col(Purchase.state).in_((OrderState.PART, OrderState.RECEIVED)),
            col(Purchase.sent_on) >= since,
            col(DeliveryLine.document_id).not_in(undone),
        )
        .group_by(col(Purchase.id), col(Purchase.supplier_id), col(Purchase.sent_on))
    )
    return [(supplier_id, sent_on, came_on) for supplier_id, sent_on, came_on in session.execute(query)]


def how_many(session: Session) -> int:
    """How many orders were ever written."""
    return int(session.execute(select(func.count()).select_from(Purchase)).scalar_one())


def of_delivery(session: Session, delivery_id: int) -> int | None:
    """The order that a delivery came for."""
    query = select(col(Delivery.purchase_id)).where(col(Delivery.id) == delivery_id)
    found: int | None = session.execute(query).scalar_one_or_none()
    return found

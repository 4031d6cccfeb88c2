"""Lots by number, what deliveries brought and whether a receipt was undone, for whoever receives or reads a label."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import islice
from typing import Any

from sqlalchemy import ColumnElement, exists, func, insert, select, text, tuple_
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from inventory.domain.vocabulary import UseByReading
from inventory.store.tables import (
    Delivery,
    DeliveryLine,
    Document,
    Hold,
    Holding,
    Item,
    Lot,
    Person,
    Purchase,
    Supplier,
)

LotKey = tuple[int, str]  # item, number
LotsByKey = Mapping[LotKey, list["LotRow"]]

_LOT: tuple[Any, ...] = (
    col(Lot.id), col(Lot.item_id), col(Lot.number), col(Lot.use_by), col(Lot.use_by_read), col(Lot.unit_qty),
    col(Lot.number_is_ours),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class LotRow:
    """A lot as far as a receipt asks: its key, its date and the content of its units.

    ``recall``: what recall notices say of it, in words, where a service asked them.
    """

    lot_id: int
    item_id: int
    number: str
    use_by: date | None
    use_by_read: UseByReading
    unit_qty: int
    number_is_ours: bool
    recall: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class DeliveryRow:
    """A delivery; ``undone`` where its receipt was reversed."""

    delivery_id: int
    supplier_id: int
    supplier: str
    received_on: date
    slip_no: str | None
    by: str
    undone: bool
    order: str | None


@dataclass(frozen=True, slots=True)
class DeliveryLineRow:
    """What a delivery brought of one lot, in sealed units."""

    delivery_id: int
    document_id: int
    item_id: int
    item: str
    name: str
    lot: LotRow
    units: int
    damaged_units: int
    units_per_pack: int
    pack_cents: int | None


def one_at_a_time(session: Session, *names: str) -> None:
    """Let nobody else do what goes by these names until the unit of work ends; SQLite's writers are alone anyway."""
    if session.get_bind().dialect.name == "postgresql":
        for name in sorted(set(names)):  # in a fixed order, or two could wait for each other
            session.execute(text("SELECT pg_advisory_xact_lock(hashtextextended(:name, 0))"), {"name": name})


def lots_named(session: Session, keys: Collection[LotKey]) -> LotsByKey:
    """The lots of each item and number, whatever their dates."""
    found: dict[LotKey, list[LotRow]] = defaultdict(list)
    for some in _batches(keys):
        query = select(*_LOT).where(tuple_(col(Lot.item_id), col(Lot.number)).in_(some)).order_by(col(Lot.id))
        for row in session.execute(query):
            found[row.item_id, row.number].append(LotRow(*row))
    return found


def held_lots(session: Session, lot_ids: Collection[int]) -> set[int]:
    """Which of these lots are on hold."""
    query = select(col(Hold.lot_id)).where(col(Hold.lot_id).in_(lot_ids), col(Hold.released_at).is_(None))
    return set(session.execute(query).scalars())


def holdings_of(session: Session, lot_ids: Collection[int]) -> set[tuple[int, int, bool]]:
    """Which holdings of these lots were ever in the book, as (lot, place, opened)."""
    found: set[tuple[int, int, bool]] = set()
    for some in _batches(lot_ids):
        query = select(col(Holding.lot_id), col(Holding.place_id), col(Holding.opened_on)).where(
            col(Holding.lot_id).in_(some)
        )
        found.update((row.lot_id, row.place_id, row.opened_on is not None) for row in session.execute(query))
    return found


def stacks(session: Session, wanted: Collection[tuple[int, int]]) -> dict[tuple[int, int], int]:
    """The sealed stack of each lot at each place; those that don't exist yet are made, empty, many at once."""
    found: dict[tuple[int, int], int] = {}
    for some in _batches(wanted):
        query = select(col(Holding.id), col(Holding.lot_id), col(Holding.place_id)).where(
            tuple_(col(Holding.lot_id), col(Holding.place_id)).in_(some), col(Holding.opened_on).is_(None)
        )
        found.update({(row.lot_id, row.place_id): row.id for row in session.execute(query)})
        new = [key for key in some if key not in found]
        if new:
            rows = [{"lot_id": lot_id, "place_id": place_id, "on_hand": 0} for lot_id, place_id in new]
            made = insert(Holding).returning(col(Holding.id), sort_by_parameter_order=True)
            found.update(zip(new, session.execute(made, rows).scalars(), strict=True))
    return found


def lives_at_delivery(session: Session, item_ids: Collection[int]) -> dict[int, list[int]]:
    """Days from delivery to use-by of every dated delivery of these items."""
    query = (
        select(col(Lot.item_id), col(Lot.use_by), col(Delivery.received_on))
        .join(DeliveryLine, col(DeliveryLine.lot_id) == col(Lot.id))
        .join(Delivery, col(Delivery.id) == col(DeliveryLine.delivery_id))
        .where(col(Lot.item_id).in_(item_ids), col(Lot.use_by).is_not(None), ~_reversed(DeliveryLine.document_id))
    )
    found: dict[int, list[int]] = defaultdict(list)
    for item_id, use_by, received_on in session.execute(query):
        found[item_id].append((use_by - received_on).days)
    return found


def deliveries(
    session: Session,
    *,
    supplier_id: int | None = None,
    slip_no: str | None = None,
    since: date | None = None,
    until: date | None = None,
    delivery_id: int | None = None,
    limit: int | None = None,
) -> list[DeliveryRow]:
    """Deliveries that fit, newest first."""
    receipt = select(func.min(col(DeliveryLine.document_id))).where(col(DeliveryLine.delivery_id) == col(Delivery.id))
    query = (
        select(
            col(Delivery.id), col(Delivery.supplier_id), col(Supplier.name), col(Delivery.received_on),
            col(Delivery.slip_no), col(Person.initials), _reversed(Document.id), col(Purchase.number),
        )
        .join(Supplier, col(Supplier.id) == col(Delivery.supplier_id))
        .join(Document, col(Document.id) == receipt.scalar_subquery())
        .join(Person, col(Person.id) == col(Document.person_id))
        .outerjoin(Purchase, col(Purchase.id) == col(Delivery.purchase_id))
        .order_by(col(Delivery.received_on).desc(), col(Delivery.id).desc())
    )  # fmt: skip
    for wanted, condition in (
        (supplier_id, col(Delivery.supplier_id).__eq__),
        (slip_no, col(Delivery.slip_no).__eq__),
        (since, col(Delivery.received_on).__ge__),
        (until, col(Delivery.received_on).__le__),
        (delivery_id, col(Delivery.id).__eq__),
    ):
        if wanted is not None:
            query = query.where(condition(wanted))
    return [DeliveryRow(*row) for row in session.execute(query.limit(limit))]


def delivery_lines(session: Session, delivery_ids: Collection[int]) -> list[DeliveryLineRow]:
    """What these deliveries brought, line by line."""
    query = (
        select(
            col(DeliveryLine.delivery_id), col(DeliveryLine.document_id), col(Item.code), col(Item.name),
            col(DeliveryLine.units), col(DeliveryLine.damaged_units), col(DeliveryLine.units_per_pack),
            col(DeliveryLine.pack_cents), *_LOT,
        )
        .join(Lot, col(Lot.id) == col(DeliveryLine.lot_id))
        .join(Item, col(Item.id) == col(Lot.item_id))
        .where(col(DeliveryLine.delivery_id).in_(delivery_ids))
        .order_by(col(DeliveryLine.id))
    )  # fmt: skip
    return [
        DeliveryLineRow(delivery, document, lot[1], code, name, LotRow(*lot), units, damaged, per_pack, cents)
        for delivery, document, code, name, units, damaged, per_pack, cents, *lot in session.execute(query)
    ]


def delivery_of(session: Session, document_id: int) -> int:
    """The delivery whose receipt a document is."""
    query = select(col(Document.delivery_id)).where(col(Document.id) == document_id)
    return int(session.execute(query).scalar_one() or 0)


def _reversed(document_id: Any) -> ColumnElement[bool]:
    undo = aliased(Document)
    return exists().where(undo.reverses_id == document_id)


def _batches(keys: Iterable[Any]) -> Iterable[tuple[Any, ...]]:
    """So many at once that no store meets its limit of parameters."""
    left = iter(dict.fromkeys(keys))
    while some := tuple(islice(left, 500)):
        yield some

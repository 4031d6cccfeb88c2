"""What planning reads: how items are bought, what deliveries brought, how often visits and openings happened."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Select, func, select
from sqlmodel import Session, col

from inventory.domain.vocabulary import Arch, DocumentKind, MovementKind, TrialOutcome, VisitState
from inventory.store.tables import (
    Delivery,
    DeliveryLine,
    Document,
    Item,
    ItemFits,
    Lot,
    Movement,
    PackContent,
    PriceBreak,
    Supplier,
    Supply,
    TrayTrial,
    Visit,
    VisitUse,
)


@dataclass(frozen=True, slots=True)
class Bought:
    """The preferred way to buy an item: units and price of a pack, the supplier's terms, what else is in the pack."""

    item_id: int
    supply_id: int
    catalogue_no: str
    units_per_pack: int
    pack_cents: int
    supplier_id: int
    supplier: str
    lead_days: int
    order_weekdays: str
    minimum_cents: int
    fee_cents: int
    free_from_cents: int | None
    breaks: tuple[tuple[int, int], ...]
    further: tuple[tuple[int, int], ...]


def _reversed() -> Select[int | None]:
    """Numbers of the documents that were undone."""
    return select(col(Document.reverses_id)).where(col(Document.reverses_id).is_not(None))


def items(session: Session, numbers: Collection[int] | None = None) -> dict[int, Item]:
    """Items by number: all active ones, or those asked for."""
    wanted = col(Item.active) if numbers is None else col(Item.id).in_(set(numbers))
    return {row.id or 0: row for row in session.execute(select(Item).where(wanted)).scalars()}


def fits(session: Session) -> dict[int, tuple[int, ...]]:
    """Which tips and adhesives go with which material, by material."""
    found: dict[int, list[int]] = defaultdict(list)
    for row in session.execute(select(ItemFits).order_by(col(ItemFits.fitting_id))).scalars():
        found[row.material_id].append(row.fitting_id)
    return {material: tuple(fitting) for material, fitting in found.items()}


def preferred_supplies(session: Session, today: date) -> dict[int, Bought]:
    """How each item is bought today: the preferred supply in force, else the one in force longest known."""
    breaks: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for price in session.execute(select(PriceBreak).order_by(col(PriceBreak.from_packs))).scalars():
        breaks[price.supply_id].append((price.from_packs, price.pack_cents))
    further: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for content in session.execute(select(PackContent)).scalars():
        further[content.supply_id].append((content.item_id, content.units))
    query = (
        select(Supply, Supplier)
        .join(Supplier, col(Supplier.id) == col(Supply.supplier_id))
        .where(col(Supply.valid_from) <= today, col(Supplier.active))
        .order_by(col(Supply.preferred), col(Supply.valid_from), col(Supply.id))
    )
    found: dict[int, Bought] = {}
    for supply, supplier in session.execute(query):  # the last one of each item wins: preferred, then newest
        found[supply.item_id] = Bought(
            supply.item_id, supply.id, supply.catalogue_no, supply.units_per_pack, supply.pack_cents,
            supplier.id, supplier.name, supplier.lead_days, supplier.order_weekdays, supplier.minimum_cents,
            supplier.fee_cents, supplier.free_from_cents, tuple(breaks[supply.id]), tuple(further[supply.id]),
        )  # fmt: skip
    return found


def lives_at_delivery(session: Session) -> dict[int, tuple[int, ...]]:
    """Days between delivery and use-by of every dated delivery, by item."""
    query = (
        select(col(Lot.item_id), col(Lot.use_by), col(Delivery.received_on))
        .select_from(DeliveryLine)
        .join(Lot, col(Lot.id) == col(DeliveryLine.lot_id))
        .join(Delivery, col(Delivery.id) == col(DeliveryLine.delivery_id))
        .where(col(Lot.use_by).is_not(None), col(DeliveryLine.document_id).not_in(_reversed()))
    )
    found: dict[int, list[int]] = defaultdict(list)
    for item_id, use_by, received_on in session.execute(query):
        found[item_id].append((use_by - received_on).days)
    return {item_id: tuple(days) for item_id, days in found.items()}


def unit_costs(session: Session) -> dict[int, tuple[int, int]]:
    """Last price paid for each lot, as (cents of a pack, units in a pack)."""
    query = select(DeliveryLine).where(col(DeliveryLine.pack_cents).is_not(None)).order_by(col(DeliveryLine.id))
    return {
        row.lot_id: (row.pack_cents, row.units_per_pack)
        for row in session.execute(query).scalars()
        if row.pack_cents is not None
    }


def taken_back(session: Session) -> dict[int, str]:
    """By lot: the supplier who brought it last, where that one takes back what has a short life."""
    query = (
        select(col(DeliveryLine.lot_id), col(Supplier.name), col(Supplier.takes_short_dated))
        .join(Delivery, col(Delivery.id) == col(DeliveryLine.delivery_id))
        .join(Supplier, col(Supplier.id) == col(Delivery.supplier_id))
        .order_by(col(DeliveryLine.id))
    )
    brought = {lot_id: name if takes else "" for lot_id, name, takes in session.execute(query)}
    return {lot_id: name for lot_id, name in brought.items() if name}


def visit_counts(session: Session, since: date) -> list[tuple[int, date, VisitState, bool, bool]]:
    """Past visits as (case kind, day, state, upper, lower): of a booked one the arches that were done, not planned."""
    query = select(
        col(Visit.id), col(Visit.case_kind_id), col(Visit.on), col(Visit.state), col(Visit.upper), col(Visit.lower)
    ).where(col(Visit.on) >= since)
    done = _arches_done(session, since)
    found = []
    for number, kind, on, state, upper, lower in session.execute(query):
        if state is VisitState.DONE and number in done:
            upper, lower = (arch in done[number] for arch in (Arch.MAXILLARY, Arch.MANDIBULAR))  # noqa: PLW2901
        found.append((kind, on, state, upper, lower))
    return found


def _arches_done(session: Session, since: date) -> dict[int, set[Arch]]:
    """By visit: the arches that something was used for, undone bookings left out."""
    query = (
        select(col(VisitUse.visit_id), col(VisitUse.arch))
        .join(Visit, col(Visit.id) == col(VisitUse.visit_id))
        .where(
            col(Visit.on) >= since,
            col(VisitUse.arch).is_not(None),
            col(VisitUse.actual_qty) > 0,
            col(VisitUse.document_id).not_in(_reversed()),
        )
        .distinct()
    )
    found: dict[int, set[Arch]] = defaultdict(set)
    for visit_id, arch in session.execute(query):
        found[visit_id].add(arch)
    return found


def first_visit(session: Session) -> date | None:
    """Day of the first visit booked out."""
    query = select(func.min(col(Visit.on))).where(col(Visit.state) == VisitState.DONE)
    day: date | None = session.execute(query).scalar_one()
    return day


def taken_by_count(session: Session, item_ids: list[int], since: date) -> dict[int, list[tuple[date, int]]]:
    """What items used by count only took: openings of sealed units, and pieces used or found missing.

    Returns:
        By item: (day, base units taken).
    """
    query = (
        select(col(Movement.item_id), col(Document.happened_on), col(Movement.kind), col(Item.base), col(Movement.qty))
        .join(Document, col(Document.id) == col(Movement.document_id))
        .join(Item, col(Item.id) == col(Movement.item_id))
        .where(
            col(Movement.item_id).in_(item_ids),
            col(Movement.qty) < 0,
            col(Document.happened_on) >= since,
            col(Document.kind) != DocumentKind.REVERSAL,
            col(Document.id).not_in(_reversed()),
        )
    )
    found: dict[int, list[tuple[date, int]]] = defaultdict(list)
    for item_id, on, kind, base, qty in session.execute(query):
        counted = (MovementKind.USE, MovementKind.COUNT) if base == "piece" else (MovementKind.OPENING,)
        if kind in counted:
            found[item_id].append((on, -qty))
    return dict(found)


def tray_trials(session: Session, since: date) -> list[tuple[Arch, int, TrialOutcome]]:
    """What became of trays since a day, as (arch, item, outcome); bookings undone left out."""
    query = (
        select(col(TrayTrial.arch), col(TrayTrial.item_id), col(TrayTrial.outcome))
        .join(Visit, col(Visit.id) == col(TrayTrial.visit_id))
        .where(
            col(Visit.on) >= since,
            col(TrayTrial.document_id).is_(None) | col(TrayTrial.document_id).not_in(_reversed()),
        )
    )
    return [(arch, item_id, outcome) for arch, item_id, outcome in session.execute(query)]

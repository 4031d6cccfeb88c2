"""Purchase orders as people look at them: how far each is, what is still to come, what it comes to.

Readings only; `ordering` has the verbs, `receiving` posts what came.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.domain.basket import SupplierTerms
from inventory.domain.lead_time import LeadTime
from inventory.domain.ordering import OrderSum, order_sum
from inventory.domain.vocabulary import BaseUnit, OrderState
from inventory.domain.why import Derivation, from_data
from inventory.errors import NotFound
from inventory.service import forecasting, on_order, proposing
from inventory.service.practice import Desk, Practice
from inventory.service.proposing import ProposedOrder
from inventory.store.queries import catalogue, purchases
from inventory.store.queries.purchases import OrderLineRow, OrderRow
from inventory.store.tables import Supplier


@dataclass(frozen=True, slots=True)
class OrderLine:
    """A line of an order.

    Attributes:
        line_id, item_id, code, name: which line, of which item.
        base, unit_qty, unit_name: its units; ``unit_qty`` in base units.
        supply_id, catalogue_no, units_per_pack: how the supplier calls it and packs it.
        packs: ordered, ``cancelled_packs`` of them given up since.
        pack_cents: price of a pack.
        came_units: units that came for it, sound.
        open_units: units still to come; 0 while nothing is ordered yet.
        why: the arithmetic as it stood when the order was written.
    """

    line_id: int
    item_id: int
    code: str
    name: str
    base: BaseUnit
    unit_qty: int
    unit_name: str
    supply_id: int
    catalogue_no: str
    units_per_pack: int
    packs: int
    cancelled_packs: int
    pack_cents: int
    came_units: int
    open_units: int
    why: tuple[Derivation, ...]

    @property
    def cents(self) -> int:
        """Price of the packs ordered."""
        return self.packs * self.pack_cents


@dataclass(frozen=True, slots=True)
class Order:
    """A purchase order.

    Attributes:
        order_id, number: which one; the number is what people and supplier call it.
        supplier_id, supplier, terms: from whom, on which terms.
        state: how far it is.
        written_on, by: when and by whom it was written.
        sent_on, expected_on: when it was sent, when it is expected; None for a draft.
        overdue: whether it is later than the supplier's usual spread.
        lines: what it orders.
        sum: goods, fee, what is missing to the supplier's bounds.
        version: raised by every change.
    """

    order_id: int
    number: str
    supplier_id: int
    supplier: str
    terms: SupplierTerms
    state: OrderState
    written_on: date
    by: str
    sent_on: date | None
    expected_on: date | None
    overdue: bool
    lines: tuple[OrderLine, ...]
    sum: OrderSum
    version: int

    @property
    def waiting(self) -> tuple[OrderLine, ...]:
        """Lines of which something is still to come."""
        return tuple(line for line in self.lines if line.open_units)


@dataclass(frozen=True, slots=True)
class Orders:
    """What to order now, and the orders written, newest first."""

    today: date
    proposed: tuple[ProposedOrder, ...]
    orders: tuple[Order, ...]

    def draft_of(self, supplier: str) -> Order | None:
        """The newest draft for a supplier."""
        return next((one for one in self.orders if one.supplier == supplier and one.state is OrderState.DRAFT), None)


# readings


def proposed_orders(practice: Practice) -> tuple[ProposedOrder, ...]:
    """What to order from each supplier, those from whom nothing is due included."""
    with practice.reading() as desk:
        return proposing.proposed(desk, forecasting.picture(desk)).orders


def overview(practice: Practice, *, limit: int = 50) -> Orders:
    """What to order now and the newest orders, in one look at the store."""
    with practice.reading() as desk:
        proposed = proposing.proposed(desk, forecasting.picture(desk)).orders
        return Orders(desk.today, proposed, _orders(desk, purchases.orders(desk.session, limit=limit)))


def orders(
    practice: Practice, *, states: Iterable[OrderState] = (), supplier: str = "", limit: int | None = 50
) -> tuple[Order, ...]:
    """Orders, newest first.

    Args:
        practice: the practice at work.
        states: only those in these states; empty for all.
        supplier: only those to this one.
        limit: at most so many.

    Raises:
        NotFound: no such supplier.
    """
    with practice.reading() as desk:
        supplier_id = supplier_named(desk, supplier).id if supplier else None
        return _orders(desk, purchases.orders(desk.session, states=tuple(states), supplier_id=supplier_id, limit=limit))


def order(practice: Practice, number: str) -> Order:
    """One order by its number.

    Raises:
        NotFound: there is none.
    """
    with practice.reading() as desk:
        return _orders(desk, [found(desk, number)])[0]


def found(desk: Desk, number: str) -> OrderRow:
    """The row of an order within a unit of work.

    Raises:
        NotFound: there is none of this number.
    """
    rows = purchases.orders(desk.session, number=number) if number.strip() else []
    if not rows:
        raise NotFound(f"There is no order {number!r}.", "Look it up in the list of orders.")
    return rows[0]


def supplier_named(desk: Desk, name: str) -> Supplier:
    """The supplier of this name, upper or lower case alike.

    Raises:
        NotFound: there is none.
    """
    rows = catalogue.suppliers(desk.session)
    for row in rows:
        if row.name.casefold() == name.strip().casefold():
            return row
    known = ", ".join(row.name for row in rows if row.active) or "none yet"
    raise NotFound(f"There is no supplier {name!r}.", f"Known are: {known}.")


def _orders(desk: Desk, rows: Sequence[OrderRow]) -> tuple[Order, ...]:
    lines = purchases.order_lines(desk.session, [row.order_id for row in rows])
    terms = forecasting.supplier_terms(desk)
    leads = on_order.lead_times(desk) if rows else {}
    return tuple(
        _order(desk.today, row, lines.get(row.order_id, ()), terms[row.supplier], leads[row.supplier_id])
        for row in rows
    )


def _order(today: date, row: OrderRow, lines: Sequence[OrderLineRow], terms: SupplierTerms, lead: LeadTime) -> Order:
    kept = [line for line in lines if line.packs]
    late = row.state.open and row.expected_on is not None and today > lead.overdue_after(row.expected_on)
    return Order(
        row.order_id, row.number, row.supplier_id, row.supplier, terms, row.state, row.written_on, row.by, row.sent_on,
        row.expected_on, late, tuple(_line(line, row.state) for line in kept), order_sum(terms, prices(kept)),
        row.version,
    )  # fmt: skip


def _line(line: OrderLineRow, state: OrderState) -> OrderLine:
    return OrderLine(
        line.line_id, line.item_id, line.code, line.name, line.base, line.unit_qty, line.unit_name, line.supply_id,
        line.catalogue_no, line.units_per_pack, line.packs, line.cancelled_packs, line.pack_cents, line.came_units,
        on_order.ordered(line).open_units if state.open else 0, tuple(from_data(each) for each in line.why),
    )  # fmt: skip


def prices(lines: Iterable[OrderLineRow]) -> list[int]:
    """What each line costs, in cents."""
    return [line.packs * line.pack_cents for line in lines]


def one(desk: Desk, order_id: int) -> Order:
    """An order as it stands within a unit of work."""
    desk.session.flush()
    return _orders(desk, purchases.orders(desk.session, order_id=order_id))[0]

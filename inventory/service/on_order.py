"""What is on order: still to come of every sent order, by when, and how long each supplier really takes.

Derived anew from the lines ordered, those given up, and the deliveries that stand; so a delivery that is undone is on
order again. Forecasts, readiness, receiving and undoing ask here.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain.lead_time import LeadTime, learn_lead_time
from inventory.domain.ordering import Ordered, state_of
from inventory.domain.supply import Coming, order_day, weekdays
from inventory.domain.vocabulary import OrderState
from inventory.service.practice import Desk
from inventory.store.queries import catalogue, purchases
from inventory.store.queries.purchases import OrderLineRow, OrderRow
from inventory.store.queries.receiving import one_at_a_time
from inventory.store.tables import Item, Purchase

LOOK_BACK = timedelta(weeks=104)  # orders sent longer ago say nothing of how a supplier delivers now


@dataclass(frozen=True, slots=True)
class Waiting:
    """A sent order of which something is still to come."""

    order: OrderRow
    lines: tuple[OrderLineRow, ...]
    lead: LeadTime


def ordered(line: OrderLineRow) -> Ordered:
    """The line as the rules of orders look at it."""
    return Ordered(line.packs, line.units_per_pack, line.cancelled_packs, line.came_units)


def waiting(desk: Desk) -> tuple[Waiting, ...]:
    """Every sent order of which something is still to come, oldest first."""
    rows = purchases.orders(desk.session, states=purchases.OPEN)[::-1]
    if not rows:
        return ()
    lines = purchases.order_lines(desk.session, [row.order_id for row in rows])
    leads = lead_times(desk)
    return tuple(Waiting(row, lines.get(row.order_id, ()), leads[row.supplier_id]) for row in rows)


def coming(desk: Desk, items: Mapping[int, Item]) -> tuple[Coming, ...]:
    """What is still to come of each item, further articles in the packs included; what is late is expected tomorrow."""
    orders = waiting(desk)
    supplies = {line.supply_id for order in orders for line in order.lines}
    further = purchases.further_articles(desk.session, supplies) if supplies else {}
    tomorrow = desk.today + timedelta(days=1)
    return tuple(
        Coming(item_id, units * items[item_id].unit_qty, max(order.order.expected_on or tomorrow, tomorrow),
               order.order.number)
        for order in orders
        for line in order.lines
        for item_id, units in _units(line, further.get(line.supply_id, ()))
        if units and item_id in items
    )  # fmt: skip


def _units(line: OrderLineRow, further: tuple[tuple[int, int], ...]) -> Iterator[tuple[int, int]]:
    """Units to come of the line's own item, and of what is in its whole packs."""
    left = ordered(line).open_units
    yield line.item_id, left
    for item_id, units in further:
        yield item_id, left // line.units_per_pack * units


def lead_times(desk: Desk) -> dict[int, LeadTime]:
    """How long each supplier takes from its ordering day, learned from the orders that came."""
    suppliers = catalogue.suppliers(desk.session)
    days = {row.id or 0: weekdays(row.order_weekdays) for row in suppliers}
    taken: dict[int, list[int]] = {number: [] for number in days}
    for supplier_id, sent_on, came_on in purchases.first_arrivals(desk.session, desk.today - LOOK_BACK):
        taken[supplier_id].append(max(0, (came_on - order_day(days[supplier_id], sent_on)).days))
    return {row.id or 0: learn_lead_time(row.lead_days, taken[row.id or 0]) for row in suppliers}


def expected_on(desk: Desk, supplier_id: int, sent_on: date) -> date:
    """The day on which an order sent on a day can be expected."""
    supplier = next(row for row in catalogue.suppliers(desk.session) if row.id == supplier_id)
    first = order_day(weekdays(supplier.order_weekdays), sent_on)
    return first + timedelta(days=lead_times(desk)[supplier_id].days)


def keep_alone(desk: Desk, order_id: int) -> None:
    """Let nobody else change an order, or receive for it, until the unit of work ends."""
    one_at_a_time(desk.session, f"order {order_id}")


def of_delivery(desk: Desk, delivery_id: int | None) -> int | None:
    """The order that a delivery came for, kept alone; None where it came for none."""
    order_id = purchases.of_delivery(desk.session, delivery_id) if delivery_id is not None else None
    if order_id is not None:
        keep_alone(desk, order_id)
    return order_id


def bring_up_to_date(desk: Desk, order_id: int, person_id: int, reason: str = "") -> None:
    """Write down how far a sent order is, after something came, was undone or was given up."""
    desk.session.flush()
    lines = purchases.order_lines(desk.session, [order_id]).get(order_id, ())
    row = desk.session.get_one(Purchase, order_id, populate_existing=True)
    if row.state in (OrderState.DRAFT, OrderState.CANCELLED) and not any(line.came_units for line in lines):
        return
    state = state_of([ordered(line) for line in lines])
    desk.log_change(person_id, "purchase", order_id, {"state": (row.state.value, state.value)}, reason)
    row.state = state
    row.version += 1
    desk.session.flush()

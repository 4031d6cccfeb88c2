"""What came, held against the order it came for: line by line, whatever differs is said.

Each line of the delivery belongs to the order's line of the same item, or to the one it came in place of. Several lots
of one item add up. More than was ordered, and what nobody ordered, need a yes; another price, a substitute, damaged
units and what is still to come are told. Sound units alone count for the order.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from inventory.domain.ordering import Ordered
from inventory.domain.quantity import show_money
from inventory.errors import BadInput, NotAllowed
from inventory.service import on_order, orders
from inventory.service.delivery_lines import Arrival, SlipLine
from inventory.service.practice import Desk
from inventory.store.queries import purchases
from inventory.store.queries.purchases import OrderLineRow, OrderRow
from inventory.store.tables import Supplier


@dataclass(frozen=True, slots=True)
class Matched:
    """A delivery's lines, each with the order's line it came for; what to tell, and what to ask."""

    order: OrderRow
    lines: tuple[SlipLine, ...]
    warnings: tuple[str, ...]
    asks: tuple[str, ...]


def match(desk: Desk, supplier: Supplier, number: str, lines: Sequence[SlipLine]) -> Matched:
    """Find the order's line for each line of a delivery.

    Raises:
        NotFound: no such order.
        NotAllowed: nothing of it is to come, or it went to another supplier.
        BadInput: a line came in place of an item that is not on the order.
    """
    on_order.keep_alone(desk, orders.found(desk, number).order_id)
    order = orders.found(desk, number)
    if order.supplier_id != supplier.id:
        raise NotAllowed(f"Order {order.number} went to {order.supplier}.", "Give the order of this supplier.")
    if not order.state.open:
        todo = "Mark it as sent first." if order.sent_on is None else "Receive this delivery without an order."
        raise NotAllowed(f"Order {order.number} is {order.state.value}; nothing of it is to come.", todo)
    ordered = purchases.order_lines(desk.session, [order.order_id]).get(order.order_id, ())
    matched = tuple(_matched(order, line, ordered) for line in lines)
    came: dict[int, int] = defaultdict(int)
    for line in matched:
        came[line.order_line_id or 0] += line.settles
    after = {one.line_id: _after(one, came[one.line_id]) for one in ordered}
    return Matched(
        order,
        matched,
        tuple(_told(order, matched, ordered, after)),
        tuple(_asked(order, matched, ordered, after)),
    )


def _after(line: OrderLineRow, came: int) -> Ordered:
    before = on_order.ordered(line)
    return replace(before, came_units=before.came_units + came)


def _matched(order: OrderRow, line: SlipLine, ordered: Sequence[OrderLineRow]) -> SlipLine:
    """The line with what it settles; a further article of a pack settles nothing, its pack does."""
    arrival = line.arrival
    if arrival is None:
        return line
    code = arrival.instead_of.strip().upper() or line.item.code
    fitting = [one for one in ordered if one.code == code]
    if not fitting:
        if arrival.instead_of:
            raise BadInput(
                f"{arrival.instead_of} is not on order {order.number}.", "Name the item in whose place it came."
            )
        return line
    wanted = min(fitting, key=lambda one: (one.units_per_pack != line.units_per_pack, not _open(one)))
    if wanted.code != line.item.code:
        return replace(line, order_line_id=wanted.line_id, settles=_substituted(line, arrival, wanted))
    price = line.pack_cents if arrival.pack_cents is not None else wanted.pack_cents
    per_pack = line.units_per_pack if arrival.pack_cents is not None else wanted.units_per_pack
    return replace(line, order_line_id=wanted.line_id, settles=line.units, pack_cents=price, units_per_pack=per_pack)


def _open(line: OrderLineRow) -> int:
    return on_order.ordered(line).open_units


def _substituted(line: SlipLine, arrival: Arrival, wanted: OrderLineRow) -> int:
    """Units of the ordered article that a substitute stands for: pack for pack, else unit for unit."""
    if arrival.packs:
        return max(0, arrival.packs * wanted.units_per_pack - line.damaged)
    return line.units


def _told(
    order: OrderRow, lines: Sequence[SlipLine], ordered: Sequence[OrderLineRow], after: dict[int, Ordered]
) -> Iterator[str]:
    by_line = {one.line_id: one for one in ordered}
    for line in lines:
        wanted = by_line.get(line.order_line_id or 0)
        if wanted is None:
            continue
        if wanted.code != line.item.code:
            yield f"{line.item.code} came in place of {wanted.code}."
        elif line.pack_cents is not None and line.pack_cents != wanted.pack_cents:
            yield (
                f"{line.item.code}: {show_money(line.pack_cents)} a pack, ordered at {show_money(wanted.pack_cents)}."
            )
        if line.damaged:
            yield f"{line.item.code}: {line.damaged} damaged; they stay on order until they are replaced or given up."
    left = [f"{after[one.line_id].open_packs} x {one.code}" for one in ordered if after[one.line_id].open_units]
    if left:
        yield f"Still to come of order {order.number}: {', '.join(left)}."


def _asked(
    order: OrderRow, lines: Sequence[SlipLine], ordered: Sequence[OrderLineRow], after: dict[int, Ordered]
) -> Iterator[str]:
    for line in lines:
        if line.arrival is not None and line.order_line_id is None:
            yield f"{line.item.code} is not on order {order.number}."
    touched = {line.order_line_id for line in lines}
    for one in ordered:
        if one.line_id in touched and after[one.line_id].too_many_units:
            asked = (one.packs - one.cancelled_packs) * one.units_per_pack
            came = after[one.line_id].came_units
            units = f"1 unit came, {asked} {'was' if asked == 1 else 'were'} ordered"
            if came != 1:
                units = f"{came} units came, {asked} {'was' if asked == 1 else 'were'} ordered"
            yield f"{one.code}: {units}."

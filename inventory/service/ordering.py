"""Purchase orders, from draft to received: written from what is proposed, changed, marked as sent, given up.

The program sends nothing. An order is written, printed or copied, sent by a person, and then marked as sent; from that
moment its goods are on order and count once. Goods are received by `receiving`, which names the order they came for.
A person gives up what will not come, by line or as a whole; nothing is deleted.
"""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.domain.basket import SupplierTerms
from inventory.domain.ordering import order_sum
from inventory.domain.supply import PriceBreak, Supply
from inventory.domain.vocabulary import OrderState
from inventory.domain.why import Derivation
from inventory.domain.words import clean
from inventory.errors import AlreadyDone, BadInput, NeedsConfirmation, NotFound
from inventory.service import forecasting, on_order, orders
from inventory.service.orders import Order
from inventory.service.practice import Desk, Practice
from inventory.store.queries import catalogue, purchases
from inventory.store.queries.catalogue import SupplyRow
from inventory.store.queries.purchases import OrderLineRow, OrderRow
from inventory.store.queries.receiving import one_at_a_time
from inventory.store.tables import Purchase, PurchaseLine, Supplier

MOST_PACKS = 10_000
WRITING = "purchase numbers"  # two workstations must not write the same number
DRAFT_ONLY = "Only a draft can be changed; give up what won't come, or write another order."


@dataclass(frozen=True, slots=True)
class Wanted:
    """So many packs of an item, and why; ``pack_of`` names the pack where the supplier sells several."""

    item: str
    packs: int
    pack_of: int | None = None
    why: tuple[Derivation, ...] = ()


def draft(practice: Practice, supplier: str, lines: Sequence[Wanted], *, by: str, confirmed: bool = False) -> Order:
    """Write a draft.

    Args:
        practice: the practice at work.
        supplier: from whom.
        lines: what; packs above 0.
        by: initials.
        confirmed: write it although there is a draft for this supplier.

    Returns:
        The draft with its number.

    Raises:
        BadInput: nothing is ordered, or not so.
        NotFound: no such supplier, or it doesn't sell an item.
        NeedsConfirmation: there is a draft for this supplier already.
    """
    with practice.writing() as desk:
        person_id = desk.person(by)
        row = orders.supplier_named(desk, supplier)
        one_at_a_time(desk.session, WRITING)
        before = purchases.orders(desk.session, states=[OrderState.DRAFT], supplier_id=row.id, limit=1)
        if before and not confirmed:
            raise NeedsConfirmation(
                f"There is a draft for {row.name} already: {before[0].number} of {before[0].written_on}.",
                "Change that one, or confirm that you want another.",
            )
        wanted = [line for line in lines if line.packs]
        if not wanted:
            raise BadInput("Nothing is ordered.", "Give the packs of at least one item.")
        number = next_number(desk)
        order_id = desk.add(
            Purchase(number=number, supplier_id=row.id or 0, written_on=desk.today, person_id=person_id)
        )
        _write(desk, order_id, row, wanted)
        desk.log_change(person_id, "purchase", order_id, {"state": (None, OrderState.DRAFT.value)})
        return orders.one(desk, order_id)


def edit(practice: Practice, number: str, packs: Mapping[str, int], *, version: int | None = None, by: str) -> Order:
    """Change how many packs a draft orders; 0 takes an item off, another item of the supplier is put on.

    Args:
        practice: the practice at work.
        number: which order.
        packs: packs by item code; items not named stay.
        version: the version that was looked at, None for the present one.
        by: initials.

    Raises:
        NotFound: no such order or item.
        BadInput: not so many packs.
        AlreadyDone: it is no draft any more, or a colleague changed it meanwhile.
    """
    with practice.writing() as desk:
        person_id = desk.person(by)
        row = _open_for(desk, number, version, (OrderState.DRAFT,), DRAFT_ONLY)
        supplier = desk.session.get_one(Supplier, row.supplier_id)
        known = {line.code: line for line in purchases.order_lines(desk.session, [row.order_id]).get(row.order_id, ())}
        changes: dict[str, tuple[object, object]] = {}
        new = []
        for code, count in ((code.strip().upper(), count) for code, count in packs.items()):
            changes[f"{code} packs"] = (known[code].packs if code in known else 0, count)
            if code not in known:
                new.append(Wanted(code, count))
                continue
            _check_packs(code, count)
            stored = desk.session.get_one(PurchaseLine, known[code].line_id)
            stored.packs, stored.pack_cents = count, pack_price(_supply_of(desk, known[code]), count)
        _write(desk, row.order_id, supplier, [line for line in new if line.packs])
        desk.log_change(person_id, "purchase", row.order_id, changes)
        desk.session.get_one(Purchase, row.order_id).version += 1
        return orders.one(desk, row.order_id)


def send(
    practice: Practice,
    number: str,
    *,
    version: int | None = None,
    by: str,
    sent_on: date | None = None,
    expected_on: date | None = None,
) -> Order:
    """Mark a draft as sent: from now on its goods are on order.

    Args:
        practice: the practice at work.
        number: which order.
        version: the version that was looked at, None for the present one.
        by: initials.
        sent_on: the day it was sent; today where not given.
        expected_on: the day the supplier named; by its usual lead time where not given.

    Raises:
        NotFound: no such order.
        BadInput: nothing is ordered, or the days can't be.
        AlreadyDone: it is no draft any more, or a colleague changed it meanwhile.
    """
    with practice.writing() as desk:
        person_id = desk.person(by)
        row = _open_for(desk, number, version, (OrderState.DRAFT,), "Look at it in the list of orders.")
        lines = purchases.order_lines(desk.session, [row.order_id]).get(row.order_id, ())
        if not any(line.packs for line in lines):
            raise BadInput(f"Order {row.number} orders nothing.", "Give the packs of an item, or cancel it.")
        sent = sent_on or desk.today
        if not row.written_on <= sent <= desk.today:
            raise BadInput(f"sent on: {sent} can't be.", f"Give a day from {row.written_on} to today.")
        due = expected_on or on_order.expected_on(desk, row.supplier_id, sent)
        if due < sent:
            raise BadInput(f"expected on: {due} is before it was sent.", "Give a later day.")
        stored = desk.session.get_one(Purchase, row.order_id)
        stored.state, stored.sent_on, stored.expected_on = OrderState.SENT, sent, due
        stored.fee_cents = order_sum(terms_of(desk, row.supplier_id), orders.prices(lines)).fee_cents
        stored.version += 1
        changes = {"state": (row.state.value, stored.state.value), "expected_on": (None, due)}
        desk.log_change(person_id, "purchase", row.order_id, changes)
        return orders.one(desk, row.order_id)


def expect(practice: Practice, number: str, on: date, *, by: str, reason: str = "") -> Order:
    """Write down the day that the supplier named for what is still to come.

    Raises:
        NotFound: no such order.
        BadInput: the day is before it was sent.
        AlreadyDone: nothing is still to come.
    """
    with practice.writing() as desk:
        person_id = desk.person(by)
        row = _open_for(desk, number, None, purchases.OPEN, "Nothing of it is still to come.")
        if row.sent_on is not None and on < row.sent_on:
            raise BadInput(f"expected on: {on} is before it was sent.", "Give a later day.")
        stored = desk.session.get_one(Purchase, row.order_id)
        desk.log_change(person_id, "purchase", row.order_id, {"expected_on": (row.expected_on, on)}, reason)
        stored.expected_on = on
        stored.version += 1
        return orders.one(desk, row.order_id)


def cancel(practice: Practice, number: str, *, version: int | None = None, reason: str, by: str) -> Order:
    """Give up an order, or what is still to come of it.

    Returns:
        The order: cancelled, or received where a part of it had come.

    Raises:
        NotFound: no such order.
        BadInput: no reason is given.
        AlreadyDone: nothing of it is still to come, or a colleague changed it meanwhile.
    """
    reason = clean(reason, "reason", 500)
    with practice.writing() as desk:
        person_id = desk.person(by)
        row = _open_for(desk, number, version, (OrderState.DRAFT, *purchases.OPEN), "Nothing of it is still to come.")
        if row.state is OrderState.DRAFT:
            stored = desk.session.get_one(Purchase, row.order_id)
            stored.state = OrderState.CANCELLED
            stored.version += 1
            changes = {"state": (row.state.value, stored.state.value)}
            desk.log_change(person_id, "purchase", row.order_id, changes, reason)
            return orders.one(desk, row.order_id)
        return _give_up(desk, row, person_id, reason)


def close_short(
    practice: Practice, number: str, item: str, *, version: int | None = None, reason: str, by: str
) -> Order:
    """Give up what is still to come of one item.

    Raises:
        NotFound: no such order, or the item is not on it.
        BadInput: no reason is given.
        AlreadyDone: nothing of the item is still to come, or a colleague changed the order meanwhile.
    """
    reason = clean(reason, "reason", 500)
    code = item.strip().upper()
    with practice.writing() as desk:
        person_id = desk.person(by)
        row = _open_for(desk, number, version, purchases.OPEN, "Nothing of it is still to come.")
        return _give_up(desk, row, person_id, reason, code)


# working out


def terms_of(desk: Desk, supplier_id: int) -> SupplierTerms:
    """On which terms a supplier delivers."""
    return forecasting.supplier_terms(desk)[desk.session.get_one(Supplier, supplier_id).name]


def next_number(desk: Desk) -> str:
    """The next order number: the practice's code and a running number; asked for by one at a time."""
    code = str(desk.settings["practice_code"]).strip().upper() or "O"
    running = itertools.count(purchases.how_many(desk.session) + 1)
    numbers = (f"{code}-{number:04d}" for number in running)
    return next(number for number in numbers if not purchases.orders(desk.session, number=number))


def _open_for(desk: Desk, number: str, version: int | None, states: Sequence[OrderState], todo: str) -> OrderRow:
    """The order, kept alone and in one of these states.

    Raises:
        NotFound: no such order.
        AlreadyDone: it is in another state, or somebody changed it since it was looked at.
    """
    on_order.keep_alone(desk, orders.found(desk, number).order_id)
    row = orders.found(desk, number)  # as it stands now that nobody else changes it
    if row.state not in states:
        raise AlreadyDone(f"Order {row.number} is {row.state.value}.", todo)
    if version is not None and row.version != version:
        raise AlreadyDone(f"Order {row.number} was changed meanwhile.", "Look at it again.")
    return row


def _write(desk: Desk, order_id: int, supplier: Supplier, wanted: Sequence[Wanted]) -> None:
    """Put lines on an order.

    Raises:
        NotFound: no such item, or the supplier doesn't sell it.
        BadInput: not so many packs, or an item named twice.
    """
    items = {row.code: row for row in catalogue.items(desk.session)}
    seen: set[int] = set()
    for line in wanted:
        item = items.get(line.item.strip().upper())
        if item is None or not item.active:
            raise NotFound(f"There is no item {line.item!r} to order.", "Look it up with 'items'.")
        _check_packs(item.code, line.packs)
        supply = _supply(desk, supplier, item.id or 0, item.code, line.pack_of)
        if supply.supply_id in seen:
            raise BadInput(f"{item.code} is named twice.", "Give its packs once.")
        seen.add(supply.supply_id)
        desk.session.add(
            PurchaseLine(
                purchase_id=order_id, supply_id=supply.supply_id, packs=line.packs,
                units_per_pack=supply.units_per_pack, pack_cents=pack_price(supply, line.packs),
                why=[each.as_data() for each in line.why],
            )
        )  # fmt: skip
    desk.session.flush()


def _check_packs(code: str, packs: int) -> None:
    if not 0 <= packs <= MOST_PACKS:
        raise BadInput(f"{code}: {packs} packs can't be ordered.", f"Give 0 to {MOST_PACKS}.")


def _supply(desk: Desk, supplier: Supplier, item_id: int, code: str, pack_of: int | None) -> SupplyRow:
    """The supplier's pack of an item at the price in force: the preferred one, or of so many units."""
    for row in catalogue.supplies(desk.session, [item_id]):
        in_force = row.supplier_id == supplier.id and row.valid_from <= desk.today
        if in_force and pack_of in (None, row.units_per_pack):
            return row
    raise NotFound(f"{supplier.name} sells no such pack of {code}.", "Say in the catalogue how it is bought.")


def _supply_of(desk: Desk, line: OrderLineRow) -> SupplyRow:
    rows = catalogue.supplies(desk.session, [line.item_id])
    return next(row for row in rows if row.supply_id == line.supply_id)


def pack_price(supply: SupplyRow, packs: int) -> int:
    """Cents of each of so many packs."""
    breaks = tuple(PriceBreak(start, cents) for start, cents in supply.breaks)
    terms = Supply(supply.supplier, supply.units_per_pack, supply.pack_cents, 0, breaks=breaks)
    return terms.price(max(1, packs)) // max(1, packs)


def _give_up(desk: Desk, row: OrderRow, person_id: int, reason: str, code: str = "") -> Order:
    """Give up what is still to come of an order, or of one item of it."""
    lines = purchases.order_lines(desk.session, [row.order_id]).get(row.order_id, ())
    if code and code not in {line.code for line in lines}:
        raise NotFound(f"{code} is not on order {row.number}.", "Look at the order.")
    left = [line for line in lines if code in ("", line.code) and on_order.ordered(line).open_units]
    if not left:
        raise AlreadyDone(f"Nothing of {code} is still to come of order {row.number}.", "Nothing more to do.")
    for line in left:
        stored = desk.session.get_one(PurchaseLine, line.line_id)
        stored.cancelled_packs = line.cancelled_packs + on_order.ordered(line).open_packs
        changes = {f"{line.code} given up": (line.cancelled_packs, stored.cancelled_packs)}
        desk.log_change(person_id, "purchase", row.order_id, changes, reason)
    on_order.bring_up_to_date(desk, row.order_id, person_id, reason)
    return orders.one(desk, row.order_id)

"""The days that an office calendar should show: last days of use, expected deliveries, days to order on."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date

from inventory.domain.quantity import show_money
from inventory.domain.supply import order_day, weekdays
from inventory.reports import calendar_out
from inventory.reports.calendar_out import CalendarDay
from inventory.service import on_order, orders, stock_views
from inventory.service.practice import Desk, Practice
from inventory.service.proposing import ProposedOrder
from inventory.service.stock_views import LotLine
from inventory.store.queries import catalogue


def days(practice: Practice) -> tuple[CalendarDay, ...]:
    """All days from today on, in their order; an expected delivery that is late stands on the day it was expected."""
    lots = stock_views.lots(practice).lines
    proposed = orders.proposed_orders(practice)
    with practice.reading() as desk:
        where = f"{desk.settings['practice_code'].lower() or 'practice'}.impression-stock"
        found = (*_last_days(lots, desk.today), *_deliveries(desk), *_order_days(desk, proposed))
    named = (CalendarDay(f"{day.uid}@{where}", day.on, day.title, day.text, day.kind) for day in found)
    return tuple(sorted(named, key=lambda day: (day.on, day.uid)))


def written(practice: Practice, shown: Iterable[CalendarDay]) -> bytes:
    """The days as the content of an .ics file."""
    with practice.reading() as desk:
        return calendar_out.as_ics(shown, made=desk.now)


def _last_days(lines: Iterable[LotLine], today: date) -> Iterator[CalendarDay]:
    """One event for each lot and last day of something that is left of it."""
    there: dict[tuple[int, date], list[str]] = defaultdict(list)
    lots: dict[int, LotLine] = {}
    for line in lines:
        lots[line.lot_id] = line
        if line.sealed_units and line.use_by is not None:
            there[line.lot_id, line.use_by].append(f"{line.place}: {line.sealed_units} x {line.unit_name}")
        for unit in line.opened:
            if unit.last_day is not None:
                opened = f"{line.place}: {line.unit_name} opened on {unit.opened_on.isoformat()}"
                there[line.lot_id, unit.last_day].append(opened)
    for (lot_id, on), places in there.items():
        line = lots[lot_id]
        if on < today:
            continue
        opened_life = "" if on == line.use_by else f"-{on:%Y%m%d}"  # the lot's own event moves when its date is amended
        held = [f"On hold: {why}" for why in line.why_held]
        yield CalendarDay(
            f"lot-{lot_id}{opened_life}", on, f"Last day of use: {line.item_name}, lot {line.lot_number}",
            "\n".join([*places, *held, f"Item {line.item_code}"]), "use-by",
        )  # fmt: skip


def _deliveries(desk: Desk) -> Iterator[CalendarDay]:
    for one in on_order.waiting(desk):
        if one.order.expected_on is None:
            continue
        coming = [(line.name, on_order.ordered(line).open_units, line.unit_name) for line in one.lines]
        text = [f"{name}: {units} x {unit}" for name, units, unit in coming if units]
        yield CalendarDay(
            f"order-{one.order.number}".lower(), one.order.expected_on,
            f"Delivery expected: order {one.order.number}, {one.order.supplier}", "\n".join(text), "delivery",
        )  # fmt: skip


def _order_days(desk: Desk, proposed: Iterable[ProposedOrder]) -> Iterator[CalendarDay]:
    """The next ordering day of each supplier from whom something is due."""
    takes = {row.id: weekdays(row.order_weekdays) for row in catalogue.suppliers(desk.session)}
    for one in proposed:
        if not one.ordered:
            continue
        text = [f"{line.name}: {line.packs} x {line.supply.units_per_pack} {line.unit_name}" for line in one.ordered]
        yield CalendarDay(
            f"supplier-{one.supplier_id}", order_day(takes[one.supplier_id], desk.today),
            f"Order from {one.supplier}: goods for {show_money(one.sum.goods_cents)}", "\n".join(text), "order",
        )  # fmt: skip

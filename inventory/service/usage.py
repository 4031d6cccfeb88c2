"""Use and waste of a period: what became of every item, in its unit and in money, and what visits cost in materials.

A lot's cost is what was last paid for it, else today's price of its item, as in all lists of stock. Single-use trays
count when they are used; reusable ones come back and cost a visit nothing.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date
from fractions import Fraction

from inventory.domain.usage import Account, Change, ItemUse, KindCost, Price, Usage, account, became, spread
from inventory.domain.use_by import effective_use_by
from inventory.errors import BadInput
from inventory.reports import usage_csv
from inventory.service.practice import Desk, Practice
from inventory.store.queries import planning, views, visits
from inventory.store.queries import usage as query
from inventory.store.queries.usage import LotOf, MovedLot, Taken
from inventory.store.tables import Item


def usage(practice: Practice, since: date, until: date) -> Usage:
    """The report of a period, both practice-local days included.

    Raises:
        BadInput: the period ends before it begins.
    """
    if until < since:
        raise BadInput(f"--to: {until} is before {since}.", "Name the first day, then the last one.")
    with practice.reading() as desk:
        moved = query.moved(desk.session, since, until)
        taken = query.taken_by_visits(desk.session, since, until)
        lots = query.lots(desk.session, {one.lot_id for one in moved} | {one.lot_id for one in taken})
        prices = lot_prices(desk, lots)
        items = tuple(_items(desk, moved, lots, prices, until))
        cents = sum((one.cents for one in items), Account())
        kinds = tuple(_kinds(desk, taken, prices))
        beside = _worth(((one.lot_id, -one.qty) for one in moved if one.kind in query.AT_WORK), prices)
        beside -= _worth(((one.lot_id, one.qty) for one in taken), prices)
        return Usage(since, until, str(desk.settings["currency"]), items, cents, kinds, round(beside))


def as_csv(report: Usage) -> dict[str, str]:
    """The report as CSV files: ``items`` and ``visits``."""
    return {"items": usage_csv.items_csv(report), "visits": usage_csv.visits_csv(report)}


def lot_prices(desk: Desk, lots: Mapping[int, LotOf]) -> dict[int, Price]:
    """What each lot cost; lots without any known price are left out."""
    costs, today = views.costs(desk.session, set(lots)), views.prices(desk.session, desk.today)
    found = {number: costs.get(number) or today.get(lot.item_id) for number, lot in lots.items()}
    return {
        number: Price(price.pack_cents, price.units_per_pack, lots[number].unit_qty)
        for number, price in found.items()
        if price is not None
    }


def changes(moved: Iterable[MovedLot], lots: Mapping[int, LotOf], items: Mapping[int, Item]) -> dict[int, list[Change]]:
    """By item: its changes under their headings."""
    found: dict[int, list[Change]] = defaultdict(list)
    for one in moved:
        lot = lots[one.lot_id]
        last_day = effective_use_by(lot.use_by, one.opened_on, items[lot.item_id].opened_days)
        heading = became(one.kind, one.attempt, one.happened_on, last_day)
        if heading is not None:
            found[lot.item_id].append(Change(one.lot_id, heading, one.qty))
    return found


def _items(
    desk: Desk, moved: list[MovedLot], lots: Mapping[int, LotOf], prices: dict[int, Price], until: date
) -> list[ItemUse]:
    rows = planning.items(desk.session, {lot.item_id for lot in lots.values()})
    now, later = query.on_hand(desk.session), query.changed_after(desk.session, until)
    found = []
    for item_id, of_item in changes(moved, lots, rows).items():
        item = rows[item_id]
        qty, cents, unpriced = account(of_item, prices)
        after = now.get(item_id, 0) - later.get(item_id, 0)
        found.append(
            ItemUse(
                item_id, item.code, item.name, item.kind, item.base, after - qty.change, after, qty, cents, unpriced
            )
        )
    return sorted(found, key=lambda one: (-(one.cents.at_work + one.cents.wasted), one.name, one.item_id))


def _worth(parts: Iterable[tuple[int, int]], prices: Mapping[int, Price]) -> Fraction:
    """The exact cost of amounts of lots, as far as their prices are known."""
    return sum((prices[lot].of(qty) for lot, qty in parts if lot in prices), Fraction(0))


def _kinds(desk: Desk, taken: Iterable[Taken], prices: Mapping[int, Price]) -> list[KindCost]:
    names = {kind.id: kind for kind in visits.case_kinds(desk.session)}
    worth: dict[int, dict[int, Fraction]] = defaultdict(lambda: defaultdict(Fraction))
    unpriced: dict[int, set[int]] = defaultdict(set)
    for one in taken:
        of_visit = worth[one.case_kind_id]
        of_visit[one.visit_id] += prices[one.lot_id].of(one.qty) if one.lot_id in prices else 0
        if one.lot_id not in prices:
            unpriced[one.case_kind_id].add(one.visit_id)
    found = [
        KindCost(
            names[number].code, names[number].name, spread([round(cents) for cents in of_visit.values()]),
            len(unpriced[number]),
        )
        for number, of_visit in worth.items()
    ]  # fmt: skip
    return sorted(found, key=lambda one: (-one.cost.total, one.name))

"""How an item is bought: packs, prices, ordering days and the time a delivery takes."""

from dataclasses import dataclass, field
from datetime import date, timedelta

EVERY_DAY = frozenset(range(7))


@dataclass(frozen=True)
class PriceBreak:
    """From this many packs on, every pack of the order costs this (an all-units discount)."""

    from_packs: int
    pack_cents: int


@dataclass(frozen=True)
class Supply:
    """One way to buy an item.

    Args:
        supplier: the supplier's name or key.
        units_per_pack: sealed units of this item in a pack.
        pack_cents: price of one pack.
        lead_days: from ordering to having it on the shelf.
        lead_sd_days: standard deviation of that time, where deliveries have shown one.
        order_weekdays: days on which the supplier takes orders; Monday is 0.
        breaks: cheaper prices from so many packs on.
        further: other articles in the same pack: item code and base units of each.
        fee_cents: what the supplier charges for one delivery below its threshold.
    """

    supplier: str
    units_per_pack: int
    pack_cents: int
    lead_days: int
    lead_sd_days: float = 0.0
    order_weekdays: frozenset[int] = EVERY_DAY
    breaks: tuple[PriceBreak, ...] = ()
    further: tuple[tuple[str, int], ...] = field(default=())
    fee_cents: int = 0

    def price(self, packs: int) -> int:
        """What so many packs cost together, in cents, at the best break they reach."""
        reached = [b.pack_cents for b in self.breaks if packs >= b.from_packs]
        return packs * min([self.pack_cents, *reached])


@dataclass(frozen=True, slots=True)
class Coming:
    """Stock on order: what is still to come of one line of a sent order, in base units, and the day it is expected."""

    item_id: int
    qty: int
    arrives: date
    order: str


def weekdays(text: str) -> frozenset[int]:
    """Ordering days as a supplier keeps them (ISO numbers, ``1,4``), Monday as 0; none named: every day."""
    return frozenset(int(day) - 1 for day in text.split(",") if day.strip()) or EVERY_DAY


def order_day(days: frozenset[int], day: date) -> date:
    """The first of a supplier's ordering days on or after a day."""
    if not days:
        return day
    return next(d for d in (day + timedelta(days=n) for n in range(7)) if d.weekday() in days)


def next_order_day(supply: Supply, day: date) -> date:
    """The first day on or after ``day`` on which the supplier takes orders."""
    return order_day(supply.order_weekdays, day)


def covered_until(supply: Supply, today: date, review_days: int) -> date:
    """The day on which an order placed at the *next* weekly check could be on the shelf.

    What is there and what is ordered now must last until then: today's check, the next check ``review_days`` later, the
    supplier's ordering day after that, and the lead time.
    """
    first = next_order_day(supply, today)
    second = next_order_day(supply, first + timedelta(days=review_days))
    return second + timedelta(days=supply.lead_days)

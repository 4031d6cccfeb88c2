"""Purchase orders: what one comes to while it is written, and what is still to come of it while goods arrive.

The same sums stand under a proposal, under a draft that somebody changes key by key, and on the order sheet.

An order goes from draft to sent, then, as deliveries come, to part and received; what will not come any more is given
up. What is still to come is never stored: it follows from the packs ordered, those given up, and the units that
deliveries brought for the line. More may come than was ordered; then nothing is left to come, never less than nothing.
Units that came damaged did not come: they stay on order until they are replaced or given up.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain.basket import SupplierTerms
from inventory.domain.quantity import ceil_div, show_money
from inventory.domain.vocabulary import OrderState

LONGEST_COVER = 5 * 365  # days: further ahead nobody reads a date


@dataclass(frozen=True, slots=True)
class OrderSum:
    """What an order costs, and what its goods miss.

    Attributes:
        goods_cents: price of all packs.
        fee_cents: what the delivery costs on top.
        to_minimum_cents: goods missing to the supplier's minimum order; 0 where it is reached or nothing is ordered.
        to_free_cents: goods missing to free delivery; None where the supplier delivers nothing free.
    """

    goods_cents: int
    fee_cents: int
    to_minimum_cents: int
    to_free_cents: int | None

    @property
    def total_cents(self) -> int:
        return self.goods_cents + self.fee_cents


def order_sum(terms: SupplierTerms, prices: Iterable[int]) -> OrderSum:
    """What an order at these prices (cents of each line) comes to by its supplier's terms."""
    goods = sum(prices)
    free = terms.free_from_cents
    return OrderSum(
        goods_cents=goods,
        fee_cents=terms.fee(goods),
        to_minimum_cents=max(0, terms.minimum_cents - goods) if goods else 0,
        to_free_cents=None if free is None else max(0, free - goods),
    )


def told(terms: SupplierTerms, found: OrderSum) -> str:
    """An order's sum in words: ``goods 212.00, delivery free from 200.00 on``."""
    parts = [f"goods {show_money(found.goods_cents)}"]
    if found.fee_cents:
        parts.append(f"delivery {show_money(found.fee_cents)}, in all {show_money(found.total_cents)}")
    if found.to_free_cents:
        parts.append(f"{show_money(found.to_free_cents)} short of free delivery")
    elif found.goods_cents and terms.free_from_cents is not None:
        parts.append(f"delivery free from {show_money(terms.free_from_cents)} on")
    if found.to_minimum_cents:
        parts.append(
            f"{show_money(found.to_minimum_cents)} short of the minimum order of {show_money(terms.minimum_cents)}"
        )
    return ", ".join(parts)


def lasts_until(today: date, stock: int, daily: float) -> date | None:
    """The day on which stock (base units) runs out at mean use; None where nothing is used or it lasts for years."""
    if daily <= 0:
        return None
    days = math.floor(stock / daily)
    return today + timedelta(days=days) if days <= LONGEST_COVER else None


@dataclass(frozen=True, slots=True)
class Ordered:
    """One line of a sent order: packs ordered and given up, units in a pack, units that came for it sound."""

    packs: int
    units_per_pack: int
    cancelled_packs: int = 0
    came_units: int = 0

    @property
    def open_units(self) -> int:
        """Units still to come."""
        return max(0, (self.packs - self.cancelled_packs) * self.units_per_pack - self.came_units)

    @property
    def open_packs(self) -> int:
        """Packs still to come, a part of one counted as one."""
        return ceil_div(self.open_units, self.units_per_pack)

    @property
    def too_many_units(self) -> int:
        """Units that came beyond those ordered."""
        return max(0, self.came_units - (self.packs - self.cancelled_packs) * self.units_per_pack)


def state_of(lines: Sequence[Ordered]) -> OrderState:
    """How far a sent order is, from its lines."""
    waiting = any(line.open_units for line in lines)
    if any(line.came_units for line in lines):
        return OrderState.PART if waiting else OrderState.RECEIVED
    return OrderState.SENT if waiting else OrderState.CANCELLED

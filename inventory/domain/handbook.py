"""The handbooks' stock arithmetic: months of stock, use adjusted for days out of stock, minimum and maximum.

Selectable as the simple way to order, and the comparison for the better one. Handbooks disagree on safety stock (equal
to the lead time, half a review period, a whole one) and on the length of a month (30.4 or 30.5 days): both are
settings here, never "the" rule. Everything is exact in fractions; what is ordered is rounded up at the end.

Sources: The Logistics Handbook 3.2 (months of stock, minimum and maximum); WHO guide to TB fixed-dose combinations,
2002, Annex 5 (use adjusted for days out of stock).
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from inventory.domain.quantity import ceil_div

DAYS_IN_A_MONTH = Fraction(304, 10)  # WHO 2002, Annex 5; other handbooks take 30.5


class Review(StrEnum):
    """When the simple way looks and orders.

    Continuous: whenever the minimum is reached. Standard: only once an interval, so the minimum holds one interval
    more. Forced: once an interval, and then always up to the maximum.
    """

    CONTINUOUS = "continuous"
    STANDARD = "standard"
    FORCED = "forced"


@dataclass(frozen=True)
class Months:
    """Settings of the simple way, in months.

    Args:
        lead: from ordering to having it; None takes the supplier's lead time.
        safety: safety stock; None takes the lead time.
        interval: between two orders.
        review: when it looks and orders.
    """

    lead: Fraction | None = None
    safety: Fraction | None = None
    interval: Fraction = Fraction(1)
    review: Review = Review.CONTINUOUS


@dataclass(frozen=True)
class MinMax:
    """Levels in months of stock."""

    low: Fraction
    high: Fraction


def months_of_stock(on_hand: int, monthly_use: Fraction | int) -> Fraction | None:
    """How many months the stock lasts: on hand / average monthly use; None where nothing is used."""
    return Fraction(on_hand) / monthly_use if monthly_use else None


def min_max(
    lead: Fraction, interval: Fraction, safety: Fraction | None = None, review: Review = Review.CONTINUOUS
) -> MinMax:
    """Minimum = lead time + safety stock (equal to the lead time where None); maximum = minimum + order interval."""
    low = lead + (lead if safety is None else safety) + (interval if review is Review.STANDARD else 0)
    return MinMax(low, low + interval)


def adjusted_monthly_use(
    used: int, months: Fraction | int, days_out: int, month: Fraction = DAYS_IN_A_MONTH
) -> Fraction | None:
    """Monthly use as if stock had never been out: used / (months - days out / days in a month).

    Returns:
        None where stock was out all the time.
    """
    in_stock = months - days_out / month
    return Fraction(used) / in_stock if in_stock > 0 else None


def order_to_cover(
    monthly_use: Fraction, lead: Fraction | int, period: Fraction | int, safety: Fraction, stock: int
) -> Fraction:
    """Order = monthly use x (lead time + procurement period) + safety stock - (in stock + on order); never below 0."""
    return max(Fraction(0), monthly_use * (lead + period) + safety - stock)


def order_up_to(low: int, high: int, stock: int, pack: int = 1, review: Review = Review.STANDARD) -> int:
    """What to order by the minimum and maximum, in whole packs.

    Args:
        low: minimum, in base units.
        high: maximum, in base units.
        stock: on hand and on order, in base units.
        pack: content of a pack, in base units.
        review: forced orders up to the maximum whatever is below it; else only what is at or under its minimum.
    """
    if not due(low, high, stock, review):
        return 0
    return ceil_div(high - stock, pack) * pack


def due(low: int, high: int, stock: int, review: Review) -> bool:
    """Whether the simple way orders at all."""
    return stock < high and (stock <= low or review is Review.FORCED)


def spread_over_lead_time(lead: float, use_sd: float, use: float, lead_sd: float) -> float:
    """Standard deviation of the use over an uncertain lead time: sqrt(LT sd_d^2 + d^2 sd_LT^2)."""
    return math.sqrt(lead * use_sd**2 + use**2 * lead_sd**2)

"""How many packs to order once an order is due: the number that costs least over the time it serves.

Few packs pay the delivery's fee often; many tie up money and outlive their date. What a number of packs n of content
Q costs a year is [K + price(n) + h price(n) T / 2] / T, with T = (nQ - W) / mu the time it serves, mu the mean daily
use, K the fee and h the yearly cost of holding stock. W is what is expected to expire of the order: with x in stock
and D the use until its date, E(x + nQ - D)+ - E(x - D)+, averaged over the remaining lives that deliveries have shown.
Averaging over their distribution matters: with the mean life alone, short-dated deliveries go unseen.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from inventory.domain.demand import Distribution, Forecast

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

YEAR = 365
LONGEST_COVER = 2 * YEAR  # days: nothing is bought for longer than this, dated or not; own judgement, shown as such
COARSE_POINTS = 512  # over a long stretch a coarser grid is fine enough
LIVES_KEPT = 8  # so many quantiles stand for the recorded lives


@dataclass(frozen=True)
class Choice:
    """Numbers of packs weighed, what is expected to expire of each (base units), and cents a year of each."""

    packs: tuple[int, ...]
    lost: tuple[float, ...]
    yearly: tuple[float, ...]

    @property
    def best(self) -> int:
        """Position of the cheapest; of equals the smaller order."""
        return min(range(len(self.packs)), key=lambda k: (self.yearly[k], k))


def representative(lives: Sequence[int], kept: int = LIVES_KEPT) -> tuple[int, ...]:
    """Recorded remaining lives, thinned to evenly spaced quantiles where there are many."""
    ordered = sorted(lives)
    if len(ordered) <= kept:
        return tuple(ordered)
    return tuple(ordered[(2 * k + 1) * len(ordered) // (2 * kept)] for k in range(kept))


def until_expiry(forecast: Forecast, lead_days: int, lives: Sequence[int]) -> list[Distribution]:
    """Use until a delivery ordered today would expire, for each representative life it may arrive with."""
    stretches = [lead_days + max(0, life) + 1 for life in representative(lives)]
    return forecast.distributions(stretches, most_points=COARSE_POINTS)


def expected_to_expire(counted: int, added: NDArray[np.float64], uses: Sequence[Distribution]) -> NDArray[np.float64]:
    """Expected outdating of each added quantity, in base units, averaged over the uses until expiry."""
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    if not uses:
        return np.zeros(len(added))
    levels = np.concatenate(([counted], counted + added))
    left = np.mean([use.expected_left(levels) for use in uses], axis=0)
    return np.asarray(left[1:] - left[0])


def most_packs(counted: int, pack_qty: int, daily: float, longest_life: int | None) -> int:
    """How many packs mean use can take before the longest-lived delivery expires, or within two years; at least one."""
    days = LONGEST_COVER if longest_life is None else min(LONGEST_COVER, longest_life)
    return max(1, math.floor((daily * days - counted) / pack_qty))


def weigh(
    counted: int,
    pack_qty: int,
    packs: range,
    *,
    daily: float,
    price: Callable[[int], int],
    fee_cents: float,
    holding: float,
    uses: Sequence[Distribution],
) -> Choice:
    """Weigh numbers of packs against each other.

    Args:
        counted: stock that counts, in base units.
        pack_qty: content of a pack, in base units.
        packs: the numbers to weigh.
        daily: mean use a day, in base units; above 0.
        price: cents for so many packs.
        fee_cents: the part of a delivery's fee charged to this item.
        holding: cost of holding stock for a year, as a share of its price.
        uses: distributions of the use until a delivery would expire.

    Returns:
        Expected outdating and yearly cost of each number; infinite where all of it would expire.
    """
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    added = np.array([number * pack_qty for number in packs], dtype=np.float64)
    lost = expected_to_expire(counted, added, uses)
    served = np.maximum(added - lost, 0) / daily / YEAR
    prices = np.array([price(number) for number in packs], dtype=np.float64)
    yearly = np.full(len(added), np.inf)
    np.divide(fee_cents + prices, served, out=yearly, where=served > 0)
    yearly += holding * prices / 2
    return Choice(tuple(packs), tuple(lost.tolist()), tuple(yearly.tolist()))

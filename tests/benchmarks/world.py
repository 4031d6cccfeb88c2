"""The practices of the yardstick: what each item is, and what chance does to it, drawn once for all policies.

Every policy meets the same visits, the same amounts and the same remaining lives at delivery (common random numbers),
so differences between policies are known far better than their costs. An item's visits come as a Poisson process; each
takes a gamma-distributed amount; what is ordered on a day arrives with a life drawn for that day.

The five items are those of the planning notes this program was specified with; the twelve of the basket are our own
judgement of what a denture practice buys of one supplier. Money is cents, amounts are 0.01 mL, a month has 30.4 days.
"""

from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import NDArray

from inventory.domain.demand import Demand, Rate, StepUse, Stream
from inventory.domain.shelf import OpenedLife
from inventory.domain.supply import Supply

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

MONDAY = date(2026, 3, 2)  # day 0; a check falls on every Monday
YEAR = 365
WEEK = 7
HALF_YEAR = 26  # weeks
MONTH = 30.4
CML = 100  # a millilitre
FEE_CENTS = 1500
FREE_FROM_CENTS = 15000
SHORT_CENTS = 4500
HOLDING = 0.10
SUPPLIER = "the supplier"


@dataclass(frozen=True)
class Article:
    """One item as the yardstick knows it: visits a week, mL a visit, packs, price of a unit, days, months."""

    name: str
    weekly: float
    mean_ml: float
    cv: float
    units: int
    unit_ml: int
    unit_cents: int
    lead: int
    life_months: tuple[int, int]
    opened_days: int

    @property
    def unit(self) -> int:
        return self.unit_ml * CML

    @property
    def pack(self) -> int:
        return self.units * self.unit

    @property
    def mean(self) -> float:
        return self.mean_ml * CML

    @property
    def daily(self) -> float:
        """Mean use a day."""
        return self.weekly * self.mean / WEEK

    @property
    def price(self) -> float:
        """Cents for 0.01 mL."""
        return self.unit_cents / self.unit

    @property
    def supply(self) -> Supply:
        return Supply(SUPPLIER, self.units, self.units * self.unit_cents, self.lead, fee_cents=FEE_CENTS)

    @property
    def opened_life(self) -> OpenedLife:
        return OpenedLife(self.unit, self.opened_days)

    @property
    def life_days(self) -> tuple[int, int]:
        low, high = self.life_months
        return round(low * MONTH), round(high * MONTH)

    @property
    def lives(self) -> tuple[int, ...]:
        """Evenly spaced quantiles of the remaining life at delivery, as many deliveries would have shown them."""
        low, high = self.life_days
        return tuple(round(low + (high - low) * (2 * k + 1) / 16) for k in range(8))

    def demand(self, rate: Rate | None = None) -> Demand:
        """What the program is told: the true rate, or one that it has learned."""
        step = StepUse(self.mean, self.cv * self.mean)
        return Demand((Stream("visit", rate or Rate(self.weekly), (step,)),))


ITEMS = (
    Article("A", 8.0, 12, 0.35, 4, 50, 1500, 5, (8, 20), 120),
    Article("B", 1.2, 20, 0.35, 8, 50, 1600, 10, (6, 14), 90),
    Article("C", 0.35, 25, 0.40, 4, 50, 2000, 14, (6, 16), 90),
    Article("D", 4.0, 9, 0.30, 8, 50, 1400, 14, (6, 20), 180),
    Article("E", 0.6, 30, 0.35, 6, 75, 2200, 2, (6, 18), 90),
)

# Share of the practice's visits that use it, then as above. Own judgement, in the range of the five items.
_SHARES = (
    (0.50, 12, 0.35, 4, 50, 1500, (8, 20), 120),
    (0.40, 14, 0.35, 4, 50, 1500, (8, 20), 120),
    (0.30, 20, 0.35, 4, 50, 1600, (6, 14), 90),
    (0.25, 25, 0.40, 2, 50, 2000, (6, 16), 90),
    (0.50, 9, 0.30, 4, 50, 1400, (6, 20), 180),
    (0.15, 30, 0.35, 2, 75, 2200, (6, 18), 90),
    (0.20, 15, 0.35, 2, 50, 1800, (8, 20), 120),
    (0.30, 10, 0.35, 2, 50, 1600, (6, 18), 120),
    (0.10, 20, 0.40, 1, 75, 2400, (8, 18), 90),
    (0.20, 8, 0.30, 2, 50, 1400, (8, 24), 180),
    (0.08, 25, 0.35, 1, 50, 2000, (6, 16), 90),
    (0.35, 16, 0.35, 4, 50, 1500, (8, 20), 120),
)


def basket(visits: float, lead: int = 5) -> tuple[Article, ...]:
    """Twelve items of one supplier, for so many visits a week in the whole practice."""
    return tuple(
        Article(f"item {k + 1}", visits * share, ml, cv, units, unit_ml, cents, lead, life, opened)
        for k, (share, ml, cv, units, unit_ml, cents, life, opened) in enumerate(_SHARES)
    )


@dataclass(frozen=True)
class Chance:
    """What happens, by replication and day.

    Args:
        visits: ``[replication, day]``.
        reached: use of the day's visits up to and including each, ``[replication, day, visit]``; 0.01 mL.
        lives: days of life left at delivery of what is ordered on the day, ``[replication, day]``.
        start: what is on the shelf on the first day, ``[replication]``; 0.01 mL in whole units.
    """

    visits: Ints
    reached: NDArray[np.int32]
    lives: Ints
    start: Ints
    use: Ints = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "use", self.reached[:, :, -1].astype(np.int64))

    def missed(self, replications: Ints, day: int, served: Ints) -> Ints:
        """How many of the day's visits the served amount did not suffice for."""
        reached = self.reached[replications, day]
        there = np.arange(reached.shape[1]) < self.visits[replications, day, None]
        return np.asarray((there & (reached > served[:, None])).sum(axis=1))


def draw(article: Article, replications: int, days: int, seed: tuple[int, ...]) -> Chance:
    """Draw everything that happens to an item; the same seed draws the same."""
    generator = np.random.default_rng(seed)
    visits = generator.poisson(article.weekly / WEEK, (replications, days))
    amounts = np.zeros((replications, days, max(1, int(visits.max()))), dtype=np.int32)
    shape = 1 / article.cv**2
    for k in range(amounts.shape[2]):
        comes = visits > k
        amounts[comes, k] = np.rint(generator.gamma(shape, article.mean / shape, int(comes.sum())))
    low, high = article.life_days
    lives = generator.integers(low, high + 1, (replications, days))
    # A random beginning, or all replications would order at about the same time for years.
    weeks = generator.integers(0, HALF_YEAR + 1, replications)
    start = np.ceil(weeks * article.weekly * article.mean / article.unit).astype(np.int64) * article.unit
    return Chance(visits.astype(np.int64), amounts.cumsum(axis=2, dtype=np.int32), lives, start)


def history(article: Article, replications: int, weeks: int, seed: tuple[int, ...]) -> Ints:
    """Visits in each past week, oldest first, ``[replication, week]``: what the rates are learned from."""
    return np.random.default_rng(seed).poisson(article.weekly, (replications, weeks)).astype(np.int64)

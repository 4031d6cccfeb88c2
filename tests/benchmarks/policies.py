"""What orders: habits of practices, textbook levels, levels tuned by simulation, and the program's own rule.

The program's rule is not copied here. Its reorder point and the check it looks with come from `propose_for`, its number
of packs from `weigh`, the expected outdating from the same walk of `Shelf`; what depends on the demand alone is asked
for once a demand, the rest once a check for the rows that order. `tests/against_sources/test_yardstick.py` holds
packs decided here against `propose` on the real positions they were decided for.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from functools import cached_property

import numpy as np

from inventory.domain.courses import NEAR
from inventory.domain.demand import Demand, Distribution
from inventory.domain.pack_choice import until_expiry, weigh
from inventory.domain.position import Check, Position, Rules, look
from inventory.domain.reordering import most_of, propose_for
from inventory.domain.shelf import WEEK, Parcel, Shelf
from inventory.domain.vocabulary import BaseUnit
from tests.benchmarks.simulator import Stock
from tests.benchmarks.world import FEE_CENTS, HOLDING, MONDAY, YEAR, Article, Floats, Ints

PPM = 1_000_000
NORMAL_99 = 2.3263


@dataclass(frozen=True)
class Levels:
    """(s, S): at or under ``low``, whole packs up to at least ``high``; 0.01 mL of stock and on order."""

    name: str
    pack: int
    low: float
    high: float

    def packs(self, stock: Stock) -> Ints:
        return levels_packs(stock.position, self.pack, self.low, self.high)


def levels_packs(position: Ints, pack: int, low: float, high: float) -> Ints:
    """Packs by a level to order at and a level to order up to; at least one when due."""
    needed = np.ceil((high - position) / pack).astype(np.int64)
    return np.where(position <= low, np.maximum(needed, 1), 0)


def par_weeks(article: Article, low: float = 4, high: float = 12) -> Levels:
    """Par levels as many practices keep them, in weeks of use."""
    weekly = article.daily * WEEK
    return Levels(f"par levels, {low:g} and {high:g} weeks", article.pack, low * weekly, high * weekly)


def par_packs(article: Article, low: int = 1, high: int = 3) -> Levels:
    """Par levels in packs, whatever the item's use."""
    return Levels(f"par levels, {low} and {high} packs", article.pack, low * article.pack, high * article.pack)


def textbook(article: Article, holding: float = HOLDING) -> Levels:
    """The textbook's reorder point (normal demand, 99 %) and economic order quantity, blind to expiry."""
    days = article.lead + WEEK
    visits = article.weekly * days / WEEK
    sd = math.sqrt(visits * (1 + article.cv**2)) * article.mean
    low = article.daily * days + NORMAL_99 * sd
    lot = math.sqrt(2 * FEE_CENTS * article.daily * YEAR / (holding * article.price))
    return Levels(f"(s, S) with the economic order quantity, holding {holding:.0%}", article.pack, low, low + lot)


@dataclass(frozen=True)
class Known:
    """What the program's rule needs of one demand: the level, and what the number of packs depends on."""

    check: Check
    level: int
    uses: list[Distribution]


def rules_of(service_ppm: int, fee_share_ppm: int = PPM) -> Rules:
    """The program's settings; an item alone bears the whole fee of its delivery."""
    return Rules(
        vital_ppm=service_ppm,
        essential_ppm=service_ppm,
        normal_ppm=service_ppm,
        fee_share_ppm=fee_share_ppm,
        holding_ppm=round(HOLDING * PPM),
    )


def position_of(article: Article, demand: Demand, parcels: Sequence[Parcel] = ()) -> Position:
    """The item as the program's check sees it."""
    return Position(
        article.name,
        article.name,
        BaseUnit.CML,
        article.unit,
        tuple(parcels),
        demand,
        article.supply,
        lives=article.lives,
        opened_life=article.opened_life,
    )


def parcels_of(stock: Stock, row: int) -> list[Parcel]:
    """One row of the simulated stock as the program's parcels, with real dates."""
    today = MONDAY + timedelta(days=stock.day)
    parcels = []
    if stock.rest[row]:
        until = today + timedelta(days=int(stock.rest_last[row]) - stock.day)
        parcels.append(Parcel("opened", int(stock.rest[row]), until, opened=True))
    for k in np.nonzero(stock.sealed[row])[0]:
        comes = int(stock.comes[row, k])
        parcels.append(
            Parcel(
                f"lot {k}",
                int(stock.sealed[row, k]),
                MONDAY + timedelta(days=int(stock.last[row, k])),
                arrives=MONDAY + timedelta(days=comes) if comes > stock.day else None,
            )
        )
    return parcels


def look_near(stock: Stock, article: Article, daily: Floats, near: int) -> Ints:
    """What the walk of the mean use expects to expire within ``near`` days, for each row; 0.01 mL.

    The same periods and the same rounded use as the program's check walks, with its `Shelf`; only rows in which
    something ends in that time are walked.
    """
    lost = np.zeros(len(stock.rest), dtype=np.int64)
    ends = ((stock.sealed > 0) & (stock.last < stock.day + near)).any(axis=1)
    ends |= (stock.rest > 0) & (stock.rest_last < stock.day + near)
    if ends.any():
        lost[ends] = _walk(stock.rows(ends), article, daily[ends], near)
    return lost


def _walk(stock: Stock, article: Article, daily: Floats, near: int) -> Ints:
    rows = len(stock.rest)
    there = np.column_stack([stock.rest, stock.sealed])
    last = np.column_stack([stock.rest_last, stock.last]) - stock.day
    comes = np.column_stack([np.zeros(rows, dtype=np.int64), np.maximum(stock.comes - stock.day, 0)])
    opened = np.zeros(there.shape[1], dtype=np.bool_)
    opened[0] = True
    shelf = Shelf(there, last, comes, opened, np.full(rows, article.unit), np.full(rows, article.opened_days))
    weeks = np.tile(np.arange(0, near, min(WEEK, NEAR)), (rows, 1))
    cuts = np.column_stack([weeks, np.where(there > 0, last + 1, near), np.where(there > 0, comes, near)])
    cuts = np.sort(np.where((cuts < 0) | (cuts > near), near, cuts), axis=1)
    days = np.column_stack([cuts, np.full(rows, near)])
    use = np.diff(np.rint(daily[:, None] * days)).astype(np.int64)
    for k in range(int((cuts < near).sum(axis=1).max())):
        shelf.period(days[:, k], use[:, k])
    shelf.expire(np.full(rows, near))
    return np.asarray(shelf.lost.sum(axis=1))


@dataclass
class ProductRule:
    """The program's rule of ordering.

    Args:
        name: as the table says it.
        article: the item.
        demands: what the program believes, one for each replication, or one for all.
        rules: the program's settings.
    """

    name: str
    article: Article
    demands: Sequence[Demand]
    rules: Rules = field(default_factory=lambda: rules_of(990_000))

    @cached_property
    def known(self) -> list[Known]:
        """What the program works out of each demand."""
        checks = look([position_of(self.article, demand) for demand in self.demands], MONDAY, self.rules)
        return [self._know(check) for check in checks]

    def _know(self, check: Check) -> Known:
        uses = until_expiry(check.forecast, self.article.lead, check.position.lives)
        return Known(check, propose_for(check).reorder_point, uses)

    def counted(self, stock: Stock) -> Ints:
        """Stock that counts, as the program's check counts it."""
        rows = len(stock.rest)
        daily = np.resize([known.check.forecast.expected(YEAR) / YEAR for known in self.known], rows)
        near = max(1, self.known[0].check.days - 1)
        return np.asarray(stock.position - look_near(stock, self.article, daily, near))

    def packs(self, stock: Stock) -> Ints:
        counted = self.counted(stock)
        levels = np.resize([known.level for known in self.known], len(counted))
        packs = np.zeros(len(counted), dtype=np.int64)
        for row in np.nonzero(counted <= levels)[0]:
            packs[row] = self.number(self.known[row % len(self.known)], int(counted[row]))
        return packs

    def number(self, known: Known, counted: int) -> int:
        """Packs to order when the stock that counts is at or under the level."""
        check, supply = known.check, known.check.supply
        most = most_of(check, counted)
        least = min(max(1, -(-(known.level - counted) // self.article.pack)), most)
        choice = weigh(
            counted,
            self.article.pack,
            range(least, most + 1),
            daily=check.daily,
            price=supply.price,
            fee_cents=supply.fee_cents * self.rules.fee_share_ppm / PPM,
            holding=self.rules.holding_ppm / PPM,
            uses=known.uses,
        )
        return choice.packs[choice.best]

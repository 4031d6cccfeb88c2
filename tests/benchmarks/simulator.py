"""A practice's shelf, day by day, for many replications and many policies at once.

All policies' replications are rows of one table of stock, which the program's own `Shelf` ages and serves: earliest
expiry first, opened units with their life. At each weekly check, before the day's visits, every policy says how many
packs it orders. A visit that the stock does not suffice for takes what is there and costs a shortage; what is
borrowed for it does not come back. Costs count after the first year.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from inventory.domain.shelf import NEVER, Shelf
from tests.benchmarks.world import FEE_CENTS, HOLDING, SHORT_CENTS, WEEK, YEAR, Article, Chance, Floats, Ints

WARM_UP = YEAR
MORE_COLUMNS = 4


@dataclass(frozen=True)
class Stock:
    """What a policy sees at a check, a row for each replication; days are counted from the first day.

    Args:
        day: of the check.
        sealed: ``[row, lot]`` sealed stock, what is on order included; 0.01 mL.
        last: each lot's last day of use.
        comes: the day it is there.
        rest: left in the opened unit.
        rest_last: its last day of use.
    """

    day: int
    sealed: Ints
    last: Ints
    comes: Ints
    rest: Ints
    rest_last: Ints

    @property
    def position(self) -> Ints:
        """Sealed, opened and on order together."""
        return np.asarray(self.sealed.sum(axis=1) + self.rest)

    def rows(self, chosen: slice | NDArray[np.bool_]) -> "Stock":
        tables = (self.sealed, self.last, self.comes, self.rest, self.rest_last)
        return Stock(self.day, *(table[chosen] for table in tables))


class Policy(Protocol):
    """Says at a check how many packs to order, for each replication."""

    @property
    def name(self) -> str: ...

    def packs(self, stock: Stock) -> Ints: ...


@dataclass(frozen=True)
class Outcome:
    """Totals of the measured years, ``[replication]`` each: orders, cents, visits, 0.01 mL."""

    years: float
    orders: Floats
    holding_cents: Floats
    missed: Floats
    visits: Floats
    wasted: Floats
    received: Floats
    price: float
    fee_cents: int
    opened: Floats  # the part of what was wasted that was left in opened units

    @property
    def parts(self) -> dict[str, Floats]:
        """Controllable cost a year by part, in units of money (100 cents)."""
        hundred = 100 * self.years
        return {
            "fees": self.orders * self.fee_cents / hundred,
            "holding": self.holding_cents / hundred,
            "shortage": self.missed * SHORT_CENTS / hundred,
            "waste": self.wasted * self.price / hundred,
        }

    @property
    def cost(self) -> Floats:
        """Controllable cost a year of each replication."""
        return np.asarray(sum(self.parts.values()))


class Practice:
    """The shelves of one article in all rows: ``policies`` times the replications of ``chance``."""

    def __init__(
        self, article: Article, chance: Chance, policies: int, *, fee_cents: int = FEE_CENTS, warm_up: int = WARM_UP
    ) -> None:
        self.article, self.chance, self.fee_cents, self.warm_up = article, chance, fee_cents, warm_up
        self.replications = len(chance.visits)
        self.rows = policies * self.replications
        self._replication = np.tile(np.arange(self.replications), policies)
        self._policies = policies
        self._use = np.ascontiguousarray(chance.use.T)
        self._lives = np.ascontiguousarray(chance.lives.T)
        self.shelf = self._shelf(np.zeros((self.rows, MORE_COLUMNS), dtype=np.int64))
        self.shelf.stock[:, 0] = np.tile(chance.start, policies)
        self.shelf.last[:, 0] = np.tile(chance.lives[:, 0], policies)
        self.missed = np.zeros(self.rows, dtype=np.int64)
        self.wasted = np.zeros(self.rows, dtype=np.int64)
        self.opened = np.zeros(self.rows, dtype=np.int64)
        self.received = np.zeros(self.rows, dtype=np.int64)
        self.orders = np.zeros(self.rows, dtype=np.int64)
        self.held = np.zeros(self.rows, dtype=np.int64)  # 0.01 mL times days

    def _shelf(self, stock: Ints) -> Shelf:
        never = np.full_like(stock, NEVER)
        unit = np.full(self.rows, self.article.unit)
        days = np.full(self.rows, self.article.opened_days)
        sealed = np.zeros(stock.shape[1], dtype=np.bool_)
        return Shelf(stock, never, np.zeros_like(stock), sealed, unit, days)

    def copy_of(self, stock: Stock, row: int) -> Shelf:
        """One shelf in every row, its opened unit under the first lot and its day the first one."""
        shelf = self._shelf(np.pad(np.tile(stock.sealed[row], (self.rows, 1)), ((0, 0), (0, MORE_COLUMNS))))
        width = stock.sealed.shape[1]
        shelf.last[:, :width] = np.where(stock.last[row] == NEVER, NEVER, stock.last[row] - stock.day)
        shelf.comes[:, :width] = stock.comes[row] - stock.day
        shelf.rest[:, 0] = stock.rest[row]
        shelf.rest_last[:] = stock.rest_last[row] - stock.day
        return shelf

    def stock(self, day: int) -> Stock:
        """What is there and on order on the morning of a day."""
        self._throw_away(day)
        shelf = self.shelf
        return Stock(day, shelf.stock, shelf.last, shelf.comes, shelf.rest.sum(axis=1), shelf.rest_last)

    def _throw_away(self, day: int) -> None:
        """What has ended before a day."""
        shelf = self.shelf
        rests = shelf.rest.sum(axis=1) * (shelf.rest_last < day)
        shelf.expire(day)
        if day >= self.warm_up:
            self.wasted += shelf.lost.sum(axis=1)
            self.opened += rests
        shelf.lost[:] = 0

    def order(self, day: int, packs: Ints) -> None:
        """Put orders on the shelf, to come after the lead time, and keep the lots in issue order."""
        self._tidy()
        shelf = self.shelf
        shelf.stock[:, -1] = packs * self.article.pack
        shelf.comes[:, -1] = day + self.article.lead
        shelf.last[:, -1] = day + self.article.lead + np.tile(self._lives[day], self._policies)
        shelf.last[shelf.stock == 0] = NEVER
        if day >= self.warm_up:
            self.orders += packs > 0
            self.received += packs * self.article.pack
        order = np.argsort(shelf.last, axis=1, kind="stable")
        for name in ("stock", "last", "comes"):
            setattr(shelf, name, np.take_along_axis(getattr(shelf, name), order, axis=1))

    def _tidy(self) -> None:
        """Lay opened rests under the first lot, and keep a column free for the next order."""
        shelf = self.shelf
        shelf.rest[:, 0] = shelf.rest.sum(axis=1)
        shelf.rest[:, 1:] = 0
        if shelf.stock[:, -1].any():
            more = ((0, 0), (0, MORE_COLUMNS))
            wider = self._shelf(np.pad(shelf.stock, more))
            wider.last[:, : shelf.last.shape[1]] = shelf.last
            wider.comes[:, : shelf.comes.shape[1]] = shelf.comes
            wider.rest, wider.rest_last = np.pad(shelf.rest, more), shelf.rest_last
            wider.lost = np.pad(shelf.lost, more)
            self.shelf = wider

    def live(self, day: int) -> None:
        """Serve the day's visits."""
        shelf, use = self.shelf, np.tile(self._use[day], self._policies)
        self._throw_away(day)
        short = shelf.period(day, use)
        if day < self.warm_up:
            return
        self.held += (shelf.stock * (shelf.comes <= day)).sum(axis=1) + shelf.rest.sum(axis=1)
        at = np.nonzero(short)[0]
        self.missed[at] += self.chance.missed(self._replication[at], day, (use - short)[at])

    def outcomes(self, days: int) -> list[Outcome]:
        """The totals of each policy."""
        visits = self.chance.visits[:, self.warm_up : days].sum(axis=1).astype(np.float64)
        orders, missed, wasted, received, opened = (
            total.astype(np.float64) for total in (self.orders, self.missed, self.wasted, self.received, self.opened)
        )
        held = self.held * self.article.price * HOLDING / YEAR
        return [
            Outcome(
                (days - self.warm_up) / YEAR,
                orders[rows],
                held[rows],
                missed[rows],
                visits,
                wasted[rows],
                received[rows],
                self.article.price,
                self.fee_cents,
                opened[rows],
            )
            for rows in self.groups()
        ]

    def groups(self) -> list[slice]:
        """The rows of each policy."""
        return [slice(a, a + self.replications) for a in range(0, self.rows, self.replications)]


def simulate(article: Article, chance: Chance, policies: Sequence[Policy]) -> list[Outcome]:
    """What each policy costs over the same days, checked once a week."""
    practice = Practice(article, chance, len(policies))
    days = chance.visits.shape[1]
    groups = practice.groups()
    for day in range(days):
        if day % WEEK == 0:
            stock = practice.stock(day)
            packs = [policy.packs(stock.rows(rows)) for policy, rows in zip(policies, groups, strict=True)]
            practice.order(day, np.concatenate(packs))
        practice.live(day)
    return practice.outcomes(days)

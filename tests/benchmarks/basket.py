"""Twelve items of one supplier ordered together: the fee is paid once a delivery, and waived from a goods value on.

The program's policy is `fill_baskets` itself, called on the simulated positions of every replication in which one of
the items is due; where none is due it orders nothing, so it isn't called.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property
from typing import Protocol

import numpy as np

from inventory.domain.basket import SupplierTerms, fill_baskets
from inventory.domain.position import Rules
from tests.benchmarks.policies import (
    Levels,
    ProductRule,
    par_weeks,
    parcels_of,
    position_of,
    rules_of,
    textbook,
)
from tests.benchmarks.simulator import WARM_UP, Outcome, Policy, Practice, Stock
from tests.benchmarks.world import (
    FEE_CENTS,
    FREE_FROM_CENTS,
    MONDAY,
    SUPPLIER,
    WEEK,
    YEAR,
    Article,
    Chance,
    Floats,
    Ints,
    draw,
)

FEE_SHARE_PPM = 250_000
TERMS = SupplierTerms(SUPPLIER, fee_cents=FEE_CENTS, free_from_cents=FREE_FROM_CENTS)


class BasketPolicy(Protocol):
    """Says at a check how many packs of each item to order: ``[item, replication]``."""

    @property
    def name(self) -> str: ...

    def packs(self, stocks: Sequence[Stock]) -> Ints: ...


@dataclass(frozen=True)
class ItemByItem:
    """Every item by a policy of its own, without a look at the delivery."""

    name: str
    policies: Sequence[Policy]

    def packs(self, stocks: Sequence[Stock]) -> Ints:
        return np.array([policy.packs(stock) for policy, stock in zip(self.policies, stocks, strict=True)])


@dataclass
class ProductBasket:
    """The program's weekly check: every item's rule, then the delivery as a whole."""

    name: str
    articles: Sequence[Article]
    rules: Rules

    @cached_property
    def _items(self) -> list[ProductRule]:
        return [ProductRule(a.name, a, [a.demand()], self.rules) for a in self.articles]

    def packs(self, stocks: Sequence[Stock]) -> Ints:
        pairs = list(zip(self._items, stocks, strict=True))
        due = np.array([rule.counted(stock) <= rule.known[0].level for rule, stock in pairs])
        packs = np.zeros(due.shape, dtype=np.int64)
        today = MONDAY + timedelta(days=stocks[0].day)
        for row in np.nonzero(due.any(axis=0))[0]:
            positions = [position_of(r.article, r.demands[0], parcels_of(stock, int(row))) for r, stock in pairs]
            (filled,) = fill_baskets(positions, {SUPPLIER: TERMS}, today, self.rules)
            ordered = {proposal.code: proposal.packs for proposal in filled.proposals}
            packs[:, row] = [ordered[article.name] for article in self.articles]
        return packs


@dataclass(frozen=True)
class BasketOutcome:
    """What the items cost together: the deliveries' fees in cents, and each item's outcome (its own orders free)."""

    fees_cents: Ints
    items: Sequence[Outcome]

    @property
    def parts(self) -> dict[str, Floats]:
        """Controllable cost a year by part, in units of money."""
        total = {part: np.asarray(sum(item.parts[part] for item in self.items)) for part in self.items[0].parts}
        return {**total, "fees": self.fees_cents / 100 / self.items[0].years}

    @property
    def cost(self) -> Floats:
        return np.asarray(sum(self.parts.values()))

    @property
    def visits(self) -> Floats:
        """Uses of any of the items."""
        return np.asarray(np.sum([item.visits for item in self.items], axis=0))

    @property
    def missed(self) -> Floats:
        return np.asarray(np.sum([item.missed for item in self.items], axis=0))

    @property
    def received(self) -> Floats:
        """Cents paid for goods."""
        return np.asarray(np.sum([item.received * item.price for item in self.items], axis=0))

    @property
    def wasted(self) -> Floats:
        """Cents paid for what was thrown away."""
        return np.asarray(np.sum([item.wasted * item.price for item in self.items], axis=0))


def policies_for(articles: Sequence[Article]) -> list[BasketPolicy]:
    """What is compared; par levels first."""

    def each(name: str, policies: Sequence[Policy]) -> ItemByItem:
        return ItemByItem(name, policies)

    def rule(ppm: int) -> list[ProductRule]:
        return [ProductRule(a.name, a, [a.demand()], rules_of(ppm, FEE_SHARE_PPM)) for a in articles]

    par: list[Levels] = [par_weeks(a) for a in articles]
    return [
        each(par[0].name, par),
        each(textbook(articles[0]).name, [textbook(a) for a in articles]),
        each("the program's rule at 98 %, items alone", rule(980_000)),
        each("the program's rule at 99.5 %, items alone", rule(995_000)),
        ProductBasket("the program's basket at 99.5 %", articles, rules_of(995_000, FEE_SHARE_PPM)),
    ]


def chances(articles: Sequence[Article], replications: int, years: int, seed: int) -> list[Chance]:
    """What happens to each item of the basket."""
    return [draw(a, replications, (years + 1) * YEAR, (seed, k, len(articles))) for k, a in enumerate(articles)]


def simulate_basket(
    articles: Sequence[Article], happens: Sequence[Chance], policies: Sequence[BasketPolicy]
) -> list[BasketOutcome]:
    """What each policy costs over the same days, checked once a week."""
    practices = [Practice(a, c, len(policies), fee_cents=0) for a, c in zip(articles, happens, strict=True)]
    days, groups = happens[0].visits.shape[1], practices[0].groups()
    fees = np.zeros(practices[0].rows, dtype=np.int64)
    prices = np.array([a.supply.price(1) for a in articles])
    for day in range(days):
        if day % WEEK == 0:
            stocks = [practice.stock(day) for practice in practices]
            chosen = [p.packs([stock.rows(rows) for stock in stocks]) for p, rows in zip(policies, groups, strict=True)]
            packs = np.concatenate(chosen, axis=1)
            if day >= WARM_UP:
                fees += np.array([TERMS.fee(int(goods)) for goods in prices @ packs])
            for practice, ordered in zip(practices, packs, strict=True):
                practice.order(day, ordered)
        for practice in practices:
            practice.live(day)
    outcomes = [practice.outcomes(days) for practice in practices]
    return [BasketOutcome(fees[rows], [item[k] for item in outcomes]) for k, rows in enumerate(groups)]

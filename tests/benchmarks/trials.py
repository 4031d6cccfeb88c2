"""Ideas for a better rule, each measured against the program's rule over the same chances.

    python -m tests.benchmarks.trials --items C E --replications 30 --years 4

- Other targets than 99 of 100, and the target from costs: the one at which a unit more on the shelf and a
  visit short less balance: 1 - (holding of a unit from one order to the next) / (shortage a unit).
- Orders one pack larger or smaller than the rule's, always.
- Rollout: before each order the next months are simulated many times with one pack less, the rule's number and one
  more, the rule deciding from then on; the cheapest on average is ordered (Bertsekas and Castanon 1999, Journal of
  Heuristics 5, 89, from memory).

What helped is told in DEVELOPERS.md.
"""

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.policies import PPM, ProductRule, rules_of
from tests.benchmarks.simulator import Policy, Practice, Stock, simulate
from tests.benchmarks.world import FEE_CENTS, HOLDING, ITEMS, SHORT_CENTS, WEEK, YEAR, Article, Chance, Ints, draw
from tests.benchmarks.yardstick import KNOWN, SEED, standard_error

AHEAD = 400  # days a rollout looks ahead
FUTURES = 24
TARGETS = (980_000, 985_000, 995_000)


def target_from_costs(article: Article) -> int:
    """The chance, in a million, at which one unit more on the shelf costs what it saves."""
    rule = ProductRule("", article, [article.demand()])
    known = rule.known[0]
    usual = rule.number(known, known.level) * article.pack / article.daily  # days from one order to the next
    held = article.price * HOLDING * usual / YEAR
    return round(PPM * (1 - held / (SHORT_CENTS / article.mean)))


@dataclass
class Shifted(ProductRule):
    """The rule's number and some packs more or less, at least one."""

    more: int = 0

    def packs(self, stock: Stock) -> Ints:
        packs = super().packs(stock)
        return np.where(packs > 0, np.maximum(packs + self.more, 1), 0)


@dataclass
class Rollout(ProductRule):
    """The number of packs that costs least in simulated futures in which the rule decides from the next check on."""

    def packs(self, stock: Stock) -> Ints:
        packs = super().packs(stock)
        for row in np.nonzero(packs)[0]:
            packs[row] = self._best(stock, int(row), int(packs[row]))
        return packs

    def _best(self, stock: Stock, row: int, own: int) -> int:
        tried = [number for number in (own - 1, own, own + 1) if number > 0]
        practice = self._from_now(stock, row, len(tried))
        rule = ProductRule("", self.article, self.demands, self.rules)
        rule.known = self.known
        for day in range(AHEAD):
            if day % WEEK == 0:
                now = practice.stock(day)
                practice.order(day, rule.packs(now) if day else np.repeat(tried, FUTURES))
            practice.live(day)
        left = practice.stock(AHEAD).position.reshape(len(tried), FUTURES).mean(axis=1)
        costs = [outcome.cost.mean() for outcome in practice.outcomes(AHEAD)]
        # What is left saves that part of a usual order's fee.
        worth = left * FEE_CENTS / 100 / (own * self.article.pack) / (AHEAD / YEAR)
        return tried[int(np.argmin(np.array(costs) - worth))]

    def _from_now(self, stock: Stock, row: int, policies: int) -> Practice:
        """As many copies of one shelf as are needed, day 0 being today."""
        chance = draw(self.article, FUTURES, AHEAD, (SEED, stock.day, row))
        nothing = Chance(chance.visits, chance.reached, chance.lives, np.zeros(FUTURES, dtype=np.int64))
        practice = Practice(self.article, nothing, policies, warm_up=0)
        practice.shelf = practice.copy_of(stock, row)
        return practice


def trials(article: Article) -> list[Policy]:
    """The program's rule, then the ideas."""
    demands = [article.demand()]
    target = target_from_costs(article)
    return [
        ProductRule(KNOWN, article, demands),
        *(ProductRule(f"target {ppm / 10_000:g} %", article, demands, rules_of(ppm)) for ppm in TARGETS),
        ProductRule("target from costs", article, demands, rules_of(target)),
        Shifted("one pack less", article, demands, more=-1),
        Shifted("one pack more", article, demands, more=1),
        Rollout("rollout", article, demands),
    ]


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--items", nargs="*", default=[a.name for a in ITEMS])
    parser.add_argument("--replications", type=int, default=30)
    parser.add_argument("--years", type=int, default=4)
    parser.add_argument("--rollout", action=argparse.BooleanOptionalAction, default=True)
    told = parser.parse_args(arguments)
    for article in (a for a in ITEMS if a.name in told.items):
        chance = draw(article, told.replications, (told.years + 1) * YEAR, (SEED, *article.name.encode()))
        policies = [p for p in trials(article) if told.rollout or not isinstance(p, Rollout)]
        outcomes = simulate(article, chance, policies)
        for policy, outcome in zip(policies, outcomes, strict=True):
            difference = outcome.cost - outcomes[0].cost
            target = f" ({target_from_costs(article) / 10_000:.2f} %)" if policy.name == "target from costs" else ""
            short, waste, opened = (
                float(part.sum() / whole.sum())
                for part, whole in (
                    (outcome.missed, outcome.visits),
                    (outcome.wasted, outcome.received),
                    (outcome.opened, outcome.received),
                )
            )
            sys.stdout.write(
                f"{article.name} {policy.name + target:40s} {outcome.cost.mean():7.2f}"
                f" {difference.mean():+7.2f} ± {standard_error(difference):.2f}"
                f"  short {short:.3%}, thrown away {waste:.2%}, of it opened rests {opened:.2%}\n"
            )
            sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""The whole yardstick by one command: what each way of ordering costs, and how far from the reference the program is.

    python -m tests.benchmarks.yardstick --out table.json

measures five single items and a basket of twelve at three sizes of practice, prints the table and the bars, and writes
both as JSON. Exits with 1 where a bar is missed by more than two standard errors. Smaller numbers of replications and
years give a quicker, coarser table.
"""

import argparse
import json
import math
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from inventory.domain.demand import learn_rate
from tests.benchmarks import basket as baskets
from tests.benchmarks.basket import BasketOutcome
from tests.benchmarks.bound import clairvoyant
from tests.benchmarks.policies import Levels, ProductRule, par_packs, par_weeks, rules_of, textbook
from tests.benchmarks.simulator import Outcome, Policy, simulate
from tests.benchmarks.tuning import NAME as REFERENCE
from tests.benchmarks.tuning import tuned
from tests.benchmarks.world import ITEMS, YEAR, Article, Floats, basket, draw, history

SEED = 20260302
KNOWN = "the program's rule at 99 %, known rates"
BOUND = "clairvoyant bound"
HISTORIES = (0.25, 0.5, 1, 3)
SIZES = (2, 6, 12)
WEEKS_A_YEAR = 52
PAR_BASKET = "par levels, 4 and 12 weeks"
BASKET = "the program's basket at 99.5 %"


@dataclass(frozen=True)
class Effort:
    """How much is simulated."""

    replications: int = 200
    years: int = 8
    tuning: int = 60
    basket_replications: int = 25
    basket_years: int = 4


@dataclass(frozen=True)
class Line:
    """One policy in one setting: what each replication costs a year, misses and wastes; empty where it can't."""

    setting: str
    policy: str
    cost: Floats
    visits: Floats
    missed: Floats
    received: Floats
    wasted: Floats
    parts: dict[str, float]


@dataclass(frozen=True)
class Bar:
    """Something to reach: the mean of ``excess`` is at most nothing, give or take two standard errors."""

    name: str
    asked: str
    measured: str
    excess: float
    standard_error: float

    @property
    def missed(self) -> bool:
        return self.excess > 2 * self.standard_error


def learned(article: Article, replications: int, years: float, seed: int = SEED) -> ProductRule:
    """The program's rule with rates learned from so many years of weekly counts, and kept from then on."""
    weeks = round(WEEKS_A_YEAR * years)
    counts = history(article, replications, weeks, (seed, weeks, *article.name.encode()))
    demands = [article.demand(learn_rate(row.tolist())) for row in counts]
    return ProductRule(learned_name(years), article, demands)


def learned_name(years: float) -> str:
    return f"the program's rule at 99 %, {years:g} years of history"


def item_lines(article: Article, reference: Levels, effort: Effort) -> list[Line]:
    """Every policy on one item, over the same chances."""
    chance = draw(article, effort.replications, (effort.years + 1) * YEAR, (SEED, *article.name.encode()))
    policies: list[Policy] = [
        par_weeks(article),
        par_packs(article),
        textbook(article),
        textbook(article, 0.25),
        reference,
        ProductRule(KNOWN, article, [article.demand()]),
        ProductRule("the program's rule at 98 %, known rates", article, [article.demand()], rules_of(980_000)),
        *(learned(article, effort.replications, years) for years in HISTORIES),
    ]
    outcomes = simulate(article, chance, policies)
    lines = [_line(article.name, p.name, outcome) for p, outcome in zip(policies, outcomes, strict=True)]
    none = np.zeros(effort.replications)
    return [*lines, Line(article.name, BOUND, clairvoyant(article, chance), none, none, none, none, {})]


def basket_lines(visits: float, effort: Effort) -> list[Line]:
    """Every policy on the basket of twelve, in a practice of so many visits a week."""
    articles = basket(visits)
    chances = baskets.chances(articles, effort.basket_replications, effort.basket_years, SEED)
    policies = baskets.policies_for(articles)
    outcomes = baskets.simulate_basket(articles, chances, policies)
    setting = f"basket, {visits:g} visits a week"
    return [_line(setting, policy.name, outcome) for policy, outcome in zip(policies, outcomes, strict=True)]


def _line(setting: str, policy: str, outcome: Outcome | BasketOutcome) -> Line:
    parts = {part: float(each.mean()) for part, each in outcome.parts.items()}
    return Line(setting, policy, outcome.cost, outcome.visits, outcome.missed, outcome.received, outcome.wasted, parts)


def summed(lines: Sequence[Line]) -> list[Line]:
    """The items' lines together, by policy: costs add replication by replication."""
    result = []
    for policy in dict.fromkeys(line.policy for line in lines):
        own = [line for line in lines if line.policy == policy]
        parts = {part: sum(line.parts[part] for line in own) for part in own[0].parts}
        result.append(
            Line(
                f"sum of {len(own)} items",
                policy,
                np.sum([line.cost for line in own], axis=0),
                np.sum([line.visits for line in own], axis=0),
                np.sum([line.missed for line in own], axis=0),
                np.sum([line.received for line in own], axis=0),
                np.sum([line.wasted for line in own], axis=0),
                parts,
            )
        )
    return result


def standard_error(values: Floats) -> float:
    return float(values.std(ddof=1) / math.sqrt(len(values)))


def costs_at_most(name: str, line: Line, other: Line, factor: float) -> Bar:
    """The policy costs at most so many times the other's, replication by replication."""
    excess = line.cost - factor * other.cost
    difference = line.cost - other.cost
    scale = float(other.cost.mean())
    measured = f"{difference.mean() / scale:+.2%} ± {standard_error(difference) / scale:.2%}"
    return Bar(name, f"at most {factor - 1:+.1%}", measured, float(excess.mean()), standard_error(excess))


def share_at_most(name: str, part: Floats, whole: Floats, limit: float) -> Bar:
    """A share is at most so much; its error is that of a ratio."""
    excess = (part - limit * whole) / whole.mean()
    measured = f"{part.sum() / whole.sum():.3%} ± {standard_error(excess):.3%}"
    return Bar(name, f"at most {limit:.1%}", measured, float(excess.mean()), standard_error(excess))


MOST_OVER = {KNOWN: 0.004, learned_name(1): 0.03, learned_name(0.25): 0.07}
MOST_WASTE = {"A": 0.005, "B": 0.005, "C": 0.06, "D": 0.005, "E": 0.025}
MOST_MISSED = 0.003
LEAST_SAVED = {2: 0.45, 6: 0.45, 12: 0.25}


def item_bars(lines: Sequence[Line]) -> list[Bar]:
    """What has to be reached on the single items."""
    total = {line.policy: line for line in summed(lines)}
    bars = [
        costs_at_most(f"{policy}, over the reference", total[policy], total[REFERENCE], 1 + most)
        for policy, most in MOST_OVER.items()
    ]
    for line in lines:
        if line.policy == KNOWN:
            bars.append(share_at_most(f"{line.setting}: visits short", line.missed, line.visits, MOST_MISSED))
            bars.append(
                share_at_most(f"{line.setting}: thrown away", line.wasted, line.received, MOST_WASTE[line.setting])
            )
    return bars


def basket_bars(visits: float, lines: Sequence[Line]) -> list[Bar]:
    """What has to be reached on a basket."""
    own = {line.policy: line for line in lines}
    line, setting = own[BASKET], own[BASKET].setting
    return [
        costs_at_most(f"{setting}: over par levels", line, own[PAR_BASKET], 1 - LEAST_SAVED[round(visits)]),
        share_at_most(f"{setting}: visits short", line.missed, line.visits, MOST_MISSED),
    ]


def shown(lines: Sequence[Line], against: str) -> list[dict[str, Any]]:
    """Lines as data: means, standard errors, paired differences to one policy of the same setting."""
    other = {line.setting: line for line in lines if line.policy == against}
    return [_data(line, line.cost - other[line.setting].cost) for line in lines]


def _data(line: Line, difference: Floats) -> dict[str, Any]:
    whole = line.visits.sum() > 0
    return {
        "setting": line.setting,
        "policy": line.policy,
        "cost": float(line.cost.mean()),
        "standard_error": standard_error(line.cost),
        "difference": float(difference.mean()),
        "difference_error": standard_error(difference),
        "fill": 1 - float(line.missed.sum() / line.visits.sum()) if whole else None,
        "waste": float(line.wasted.sum() / line.received.sum()) if whole else None,
        "parts": line.parts,
    }


@dataclass(frozen=True)
class Measured:
    """The table, the bars, and the reference's levels by item (0.01 mL)."""

    rows: list[dict[str, Any]]
    bars: list[Bar]
    levels: dict[str, tuple[int, int]]


def printed(done: Measured) -> list[str]:
    """The table, the bars and the reference's levels as Markdown."""
    out = ["| setting | policy | cost a year | difference | served | thrown away | fees / holding / short / waste |"]
    out.append("|---|---|---|---|---|---|---|")
    for row in done.rows:
        shares = [f"{row[name]:.2%}" if row[name] is not None else "" for name in ("fill", "waste")]
        parts = " / ".join(f"{part:.1f}" for part in row["parts"].values())
        cost = f"{row['cost']:.1f} ± {row['standard_error']:.1f}"
        difference = f"{row['difference']:+.1f} ± {row['difference_error']:.1f}"
        out.append(" | ".join([f"| {row['setting']}", row["policy"], cost, difference, *shares, parts]) + " |")
    out += ["", "| bar | asked | measured | |", "|---|---|---|---|"]
    out += [f"| {b.name} | {b.asked} | {b.measured} | {'missed' if b.missed else 'reached'} |" for b in done.bars]
    levels = ", ".join(f"{name} {low}/{high}" for name, (low, high) in done.levels.items())
    return [*out, "", f"Reference levels s/S, in 0.01 mL: {levels}"]


def measure(effort: Effort, workers: int, *, items: bool = True, sizes: Sequence[int] = SIZES) -> Measured:
    """The whole table and its bars."""
    with ProcessPoolExecutor(workers) as pool:
        of_baskets = pool.map(partial(basket_lines, effort=effort), sizes)
        articles = ITEMS if items else ()
        references = list(pool.map(partial(tuned, replications=effort.tuning, years=effort.years), articles))
        of_items = pool.map(partial(item_lines, effort=effort), articles, references)
        lines = [line for each in of_items for line in each]
        rows = shown([*lines, *summed(lines)], REFERENCE)
        bars = item_bars(lines) if items else []
        for size, own in zip(sizes, of_baskets, strict=True):
            rows += shown(own, PAR_BASKET)
            bars += basket_bars(size, own)
    levels = {a.name: (round(r.low), round(r.high)) for a, r in zip(articles, references, strict=True)}
    return Measured(rows, bars, levels)


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, print, write; 1 where a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, help="where to write the table as JSON")
    parser.add_argument("--workers", type=int, default=2)
    for name, value in asdict(Effort()).items():
        parser.add_argument(f"--{name.replace('_', '-')}", type=int, default=value)
    parser.add_argument("--items", action=argparse.BooleanOptionalAction, default=True)
    parser.add_argument("--sizes", type=int, nargs="*", default=SIZES, help="visits a week of the baskets")
    told = vars(parser.parse_args(arguments))
    effort = Effort(**{name: told[name] for name in asdict(Effort())})
    done = measure(effort, told["workers"], items=told["items"], sizes=told["sizes"])
    sys.stdout.write("\n".join(printed(done)) + "\n")
    if told["out"]:
        bars = [{**asdict(bar), "missed": bar.missed} for bar in done.bars]
        data = {"effort": asdict(effort), "rows": done.rows, "bars": bars, "reference": done.levels}
        told["out"].write_text(json.dumps(data, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return int(any(bar.missed for bar in done.bars))


if __name__ == "__main__":
    sys.exit(main())

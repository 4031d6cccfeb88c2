"""The reference: levels (s, S) tuned by simulation, for each item, with the true rates known.

A grid of levels is simulated on chances of its own (not those the table is measured on), then a finer one around the
best. Nobody has this knowledge; the program's rule has to come close to it without any tuning.
"""

import itertools
import math

import numpy as np

from tests.benchmarks.policies import Levels, ProductRule
from tests.benchmarks.simulator import simulate
from tests.benchmarks.world import FEE_CENTS, HOLDING, YEAR, Article, Chance, draw

NAME = "(s, S) tuned by simulation"
SEED = 77
# What the whole table's command found, s and S in 0.01 mL; it tunes anew and prints these.
FOUND = {
    "A": (29873, 239763),
    "B": (17888, 25541),
    "C": (10035, 13834),
    "D": (20055, 63262),
    "E": (10871, 19659),
}


def levels_found(article: Article) -> Levels:
    """The levels that tuning found, without tuning again."""
    return Levels(NAME, article.pack, *FOUND[article.name])


def tuned(article: Article, replications: int, years: int) -> Levels:
    """The levels that cost least on so many replications of so many years."""
    chance = draw(article, replications, (years + 1) * YEAR, (SEED, *article.name.encode()))
    start = ProductRule("", article, [article.demand()]).known[0].level
    lot = math.sqrt(2 * FEE_CENTS * article.daily * YEAR / (HOLDING * article.price))
    lows = start * np.linspace(0.5, 1.4, 10)
    widths = np.geomspace(article.pack / 4, max(2 * article.pack, 1.6 * lot), 9)
    best = _best(article, chance, lows, widths)
    low_step, width_step = start * 0.1, math.exp(math.log(widths[1] / widths[0]))
    finer = np.linspace(-0.75, 0.75, 7)
    return _best(article, chance, best.low + finer * low_step, (best.high - best.low) * width_step**finer)


def _best(article: Article, chance: Chance, lows: np.ndarray, widths: np.ndarray) -> Levels:
    grid = [Levels(NAME, article.pack, low, low + width) for low, width in itertools.product(lows, widths)]
    costs = [outcome.cost.mean() for outcome in simulate(article, chance, grid)]
    return grid[int(np.argmin(costs))]

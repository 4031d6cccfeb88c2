"""How long a practice's weekly computation takes, as ratios to what cannot be avoided, in one interleaved run.

    python -m tests.benchmarks.planning_speed --out speed.json

Sixty items with two years of history each, in a plain practice (one kind of visit, one step an item) and a rich one
(two to four kinds of two steps). Their quantiles stand beside the bare transforms of the same arrays, which are noted
as the program makes them and repeated alone; the whole weekly check beside those and one walk of all shelves. The first
time a program has to work out what each kind of visit takes as well; later it has kept that, so both are
shown. Times on a shared machine tell little, ratios of neighbouring runs a lot; medians are shown. Never a test.
"""

import argparse
import json
import sys
import time
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from pathlib import Path
from statistics import median
from typing import Any
from unittest.mock import patch

import numpy as np

from inventory.domain import demand
from inventory.domain.basket import SupplierTerms, fill_baskets
from inventory.domain.courses import mean_case
from inventory.domain.demand import Demand, Forecast, StepUse, Stream, learn_rate
from inventory.domain.position import Position
from inventory.domain.shelf import OpenedLife, Parcel, walk_all
from inventory.domain.supply import Supply
from inventory.domain.vocabulary import BaseUnit

ITEMS = 60
WEEKS = 104
STRETCHES = (12,)
QUANTILES = (500_000, 950_000, 990_000)
TODAY = date(2026, 3, 2)
MOST_FOR_QUANTILES = 2
MOST_FOR_THE_WEEK = 10
Work = Callable[[], Any]


def practice(kind: str, items: int = ITEMS) -> list[Position]:
    """Items of four suppliers, plain or rich in kinds of visits, with lots of several dates and one unit opened."""
    generator = np.random.default_rng(60)
    return [_item(k, _streams(kind, generator)) for k in range(items)]


def _streams(practice_kind: str, generator: np.random.Generator) -> list[Stream]:
    streams = []
    for kind in range(int(generator.integers(2, 5)) if practice_kind == "rich" else 1):
        weekly = generator.poisson(generator.uniform(0.3, 6), WEEKS).tolist()
        mean = float(generator.uniform(600, 3000))
        steps = (StepUse(mean, 0.35 * mean, 50, 0.05), StepUse(mean, 0.35 * mean, 50, 0.05, 0.5))
        streams.append(Stream(f"kind {kind}", learn_rate(weekly), steps if practice_kind == "rich" else steps[:1]))
    return streams


def _item(k: int, streams: Sequence[Stream]) -> Position:
    uses = Demand(tuple(streams))
    weekly_use = Forecast(uses, TODAY).expected(7)
    each = max(5000, round(2 * weekly_use / 5000) * 5000)
    lots = [Parcel(f"{k}-{n}", each, TODAY + timedelta(days=60 + 90 * n), cents=6000) for n in range(4)]
    opened = Parcel(f"{k}-opened", 2500, TODAY + timedelta(days=40), opened=True, cents=800)
    supply = Supply(f"supplier {k % 4}", 4, 6000, 5 + k % 10, fee_cents=1500)
    return Position(
        f"item {k}",
        f"item {k}",
        BaseUnit.CML,
        5000,
        (opened, *(lots if k % 3 else lots[:1])),
        uses,
        supply,
        lives=tuple(range(240, 600, 12)),
        opened_life=OpenedLife(5000, 120),
    )


def forget() -> None:
    """Drop the transforms kept from earlier calls."""
    demand._visit.cache_clear()


def quantiles(positions: Sequence[Position]) -> None:
    """Three quantiles of each item's use."""
    for position in positions:
        (use,) = Forecast(position.demand, TODAY).distributions(STRETCHES)
        for ppm in QUANTILES:
            use.quantile(ppm)


def week(positions: Sequence[Position]) -> None:
    """The whole weekly check: walks, reorder points, numbers of packs, baskets, and every derivation."""
    terms = {f"supplier {k}": SupplierTerms(f"supplier {k}", 0, 1500, 15000) for k in range(4)}
    fill_baskets(positions, terms, TODAY)


def transforms_of(work: Work) -> list[Work]:
    """The bare transforms that some work makes, ready to be repeated."""
    noted: list[Work] = []

    def noting(kind: Callable[..., Any]) -> Callable[..., Any]:
        def transform(table: Any, points: int) -> Any:
            noted.append(lambda: kind(table, points))
            return kind(table, points)

        return transform

    forget()
    with patch("numpy.fft.rfft", noting(np.fft.rfft)), patch("numpy.fft.irfft", noting(np.fft.irfft)):
        work()
    return noted


def milliseconds(work: Work) -> float:
    start = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - start)


def measure(kind: str, rounds: int) -> dict[str, float]:
    """Medians of the times, in milliseconds, and of the ratios within each round."""
    positions = practice(kind)
    of_quantiles = transforms_of(lambda: quantiles(positions))
    cases = [mean_case(p.parcels, Forecast(p.demand, TODAY), TODAY, p.opened_life) for p in positions]
    works: dict[str, Work] = {
        "transforms": lambda: [each() for each in of_quantiles],
        "walk": lambda: walk_all(cases, TODAY),
        "quantiles": lambda: quantiles(positions),
        "week": lambda: week(positions),
    }
    rows = []
    for _ in range(rounds):
        row = {}
        for name, work in works.items():
            forget()
            row[f"{name}, first time"] = milliseconds(work)
            row[name] = milliseconds(work)
        rows.append(row)
    return {
        **{name: median(row[name] for row in rows) for name in rows[0]},
        **{f"{name} / {below}": _ratio(rows, name, below) for name, below in RATIOS},
    }


RATIOS = tuple(
    (name + when, below)
    for when in ("", ", first time")
    for name, below in (("quantiles", "transforms"), ("week", "transforms + walk"))
)


def _ratio(rows: Sequence[dict[str, float]], name: str, below: str) -> float:
    return median(row[name] / sum(row[each] for each in below.split(" + ")) for row in rows)


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, print, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=15)
    parser.add_argument("--out", type=Path, help="where to write the figures as JSON")
    told = parser.parse_args(arguments)
    figures = {kind: measure(kind, told.rounds) for kind in ("plain", "rich")}
    for kind, own in figures.items():
        for name, value in own.items():
            sys.stdout.write(f"{kind:6s} {name:40s} {value:8.2f}{'' if ' / ' in name else ' ms'}\n")
    sys.stdout.write(f"asked: at most {MOST_FOR_QUANTILES} for the quantiles, {MOST_FOR_THE_WEEK} for the week\n")
    if told.out:
        told.out.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

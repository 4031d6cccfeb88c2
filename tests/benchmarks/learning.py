"""How well the program learns what steps take, from counts alone: practices whose true use is known.

    python -m tests.benchmarks.learning --out learning.json

Two hundred practices, each with its own true means, drawn around the program's defaults as widely as the program
believes (normal, standard deviation that of the default, above a tenth of it). Visits come by chance, a mean of eight
a week: final impressions in stock trays (half), in custom trays, relines (a quarter each); both arches (70 %), upper or
lower alone (15 % each); an attempt is taken again with the default's chance; each takes a gamma-distributed amount, a
tip's content and its purge. Heavy body is one article (load and border), light body another (wash), in cartridges of
50 mL. Counts are read to whole or quarter cartridges. Two designs: 26 weekly counts, or 13 four-weekly ones.

The program (`learn`, as it is, forgetting included) stands beside: never learning; least squares of the same numbers;
scikit-learn's BayesianRidge of what lies above the default. A line per need tells the root-mean-square error of its
mean and how often its 90 % interval held the truth.
"""

import argparse
import csv
import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from inventory.domain.learning import Count, Interval, Learning, Prior, learn

Array = NDArray[np.float64]

CARTRIDGE = 5000  # 0.01 mL
EXTRA = 115  # what a tip keeps and its purge
KINDS = (("stock tray", 0.5, ("load", "wash")), ("custom tray", 0.25, ("border", "wash")), ("reline", 0.25, ("wash",)))
ARCHES = ("maxillary", "mandibular")
BODY = {"load": "heavy", "border": "heavy", "wash": "light"}
ARCH_SHARES = (0.7, 0.15, 0.15)  # both, upper alone, lower alone
SHELF = 400 * CARTRIDGE  # enough that nothing has to be delivered


class Need(NamedTuple):
    kind: str
    step: str
    arch: str


@dataclass(frozen=True)
class Design:
    """How often, for how long and how finely a practice counts."""

    name: str
    counts: int
    weeks: int
    reading_unit: int
    visits: float = 8.0


DESIGNS = (
    Design("26 weekly counts, whole cartridges", 26, 1, CARTRIDGE),
    Design("13 four-weekly counts, whole cartridges", 13, 4, CARTRIDGE),
    Design("13 four-weekly counts, quarters", 13, 4, CARTRIDGE // 4),
    Design("13 four-weekly counts, whole cartridges, 3 visits a week", 13, 4, CARTRIDGE, 3.0),
    Design("13 four-weekly counts, quarters, 3 visits a week", 13, 4, CARTRIDGE // 4, 3.0),
)
ASKED = dict(zip((design.name for design in DESIGNS), (2.2, 2.5, 2.1), strict=False))  # mL, of the heavy body


@cache
def defaults() -> dict[tuple[str, str], tuple[Prior, float]]:
    """The program's belief and its chance of a retake, by step and arch, in 0.01 mL."""
    rows = csv.DictReader(
        files("seed_data").joinpath("defaults", "estimates.csv").read_text(encoding="utf-8").splitlines()
    )
    return {
        (row["figure"], row["arch"]): (
            Prior(100 * float(row["mean"]), 100 * float(row["sd"]), float(row["weight"])),
            float(row["retake"]),
        )
        for row in rows
        if row["figure"] in BODY
    }


def needs(body: str) -> list[Need]:
    """What is taken from one article."""
    return [
        Need(kind, step, arch) for kind, _, steps in KINDS for step in steps for arch in ARCHES if BODY[step] == body
    ]


def believed(body: str) -> dict[Need, Prior]:
    return {need: defaults()[need.step, need.arch][0] for need in needs(body)}


@dataclass(frozen=True)
class Told:
    """One practice and one article: what is true, and what its counts tell."""

    truth: Array
    intervals: list[Interval[Need]]


def drawn(body: str, design: Design, generator: np.random.Generator, wider: float = 1.0) -> Told:
    """A practice by chance; ``wider``: how much wider practices differ than believed."""
    priors = believed(body)
    truth = np.array([_above(generator, prior, wider) for prior in priors.values()])
    left, at = float(SHELF + generator.uniform(0, CARTRIDGE)), 0
    read = _read(left, design)
    intervals = []
    for number in range(design.counts):
        attempts, used = _stretch(list(priors), truth, design, generator)
        left -= used
        found = _read(left, design)
        start, end = (Count((body, at + step), design.reading_unit) for step in (0, 1))
        age = float((design.counts - 1 - number) * design.weeks)
        known = EXTRA * sum(attempts.values())
        intervals.append(Interval(start, end, read - found, attempts, known, age))
        read, at = found, at + 1
    return Told(truth, intervals)


def _above(generator: np.random.Generator, prior: Prior, wider: float) -> float:
    """A true mean, drawn around the belief and above a tenth of it."""
    while True:
        value = generator.normal(prior.mean, wider * prior.variance**0.5)
        if value > prior.mean / 10:
            return float(value)


def _read(left: float, design: Design) -> int:
    return round(left / design.reading_unit) * design.reading_unit


def _stretch(
    wanted: list[Need], truth: Array, design: Design, generator: np.random.Generator
) -> tuple[dict[Need, int], float]:
    """The attempts between two counts, and what they took together."""
    attempts = dict.fromkeys(wanted, 0)
    visits = generator.poisson(design.visits * design.weeks)
    kinds = generator.choice(len(KINDS), visits, p=[share for _, share, _ in KINDS])
    arches = generator.choice(3, visits, p=ARCH_SHARES)
    for kind, arch in zip(kinds, arches, strict=True):
        name, _, _ = KINDS[kind]
        for need in wanted:
            if need.kind == name and arch in (0, 1 + ARCHES.index(need.arch)):
                again = generator.random() < defaults()[need.step, need.arch][1]
                attempts[need] += 1 + int(again)
    used = 0.0
    for need, mean in zip(wanted, truth, strict=True):
        variation = defaults()[need.step, need.arch][0].variation
        if attempts[need]:
            used += float(generator.gamma(1 / variation**2, mean * variation**2, attempts[need]).sum())
    return attempts, used + EXTRA * sum(attempts.values())


@dataclass(frozen=True)
class Score:
    """Errors in mL, a row a practice and a column a need, by method; whether the 90 % intervals held the truth."""

    needs: list[Need]
    errors: dict[str, Array]
    held: NDArray[np.bool_]

    def rmse(self, method: str, need: int | None = None) -> float:
        errors = self.errors[method] if need is None else self.errors[method][:, need]
        return float(np.sqrt((errors**2).mean()))

    def uncertainty(self, method: str) -> float:
        """Standard error of the whole root-mean-square error, practices being what is drawn."""
        squares = (self.errors[method] ** 2).mean(axis=1)
        return float(squares.std(ddof=1) / np.sqrt(len(squares)) / 2 / self.rmse(method))

    def coverage(self, need: int | None = None) -> float:
        return float(self.held.mean() if need is None else self.held[:, need].mean())


METHODS = ("never learning", "least squares", "BayesianRidge", "the program")


def score(body: str, design: Design, practices: int, seed: int, wider: float = 1.0, *, library: bool = True) -> Score:
    """Let every method learn from the same practices."""
    generator = np.random.default_rng(seed)
    wanted, priors = needs(body), believed(body)
    errors: dict[str, list[Array]] = {name: [] for name in METHODS if library or name != "BayesianRidge"}
    held = []
    for _ in range(practices):
        told = drawn(body, design, generator, wider)
        learned = learn(priors, told.intervals)
        found = _others(priors, told.intervals, library=library)
        found["the program"] = np.array([learned.needs[need].mean for need in wanted])
        for name, values in found.items():
            errors[name].append((values - told.truth) / 100)
        held.append(_holds(learned, wanted, told.truth))
    return Score(wanted, {name: np.array(rows) for name, rows in errors.items()}, np.array(held))


def _holds(learned: Learning[Need], wanted: list[Need], truth: Array) -> list[bool]:
    return [
        learned.needs[need].low <= value <= learned.needs[need].high for need, value in zip(wanted, truth, strict=True)
    ]


def _others(priors: Mapping[Need, Prior], intervals: list[Interval[Need]], *, library: bool) -> dict[str, Array]:
    """What the other methods say."""
    design = np.array([[each.attempts[need] for need in priors] for each in intervals], dtype=float)
    taken = np.array([each.taken - each.known for each in intervals], dtype=float)
    mean = np.array([prior.mean for prior in priors.values()])
    found = {"never learning": mean, "least squares": np.linalg.lstsq(design, taken)[0]}
    if library:
        from sklearn.linear_model import BayesianRidge  # type: ignore[import-untyped] # noqa: PLC0415 - slow to load

        found["BayesianRidge"] = mean + BayesianRidge(fit_intercept=False).fit(design, taken - design @ mean).coef_
    return found


@dataclass(frozen=True)
class Wild:
    """How far one count typed tenfold moves the estimates, in mL, a row a practice and a column a need, by method."""

    moves: dict[str, Array]
    found: int
    practices: int

    def typical(self, method: str) -> float:
        return float(np.sqrt((self.moves[method] ** 2).mean()))

    def largest(self, method: str) -> float:
        return float(np.abs(self.moves[method]).max())


def wild_counts(practices: int, seed: int) -> Wild:
    """The heavy body of the first design, one count in the middle typed as 40 cartridges instead of 4."""
    generator, priors = np.random.default_rng(seed), believed("heavy")
    moves: dict[str, list[Array]] = {"least squares": [], "the program": []}
    found = 0
    for _ in range(practices):
        right = drawn("heavy", DESIGNS[0], generator).intervals
        number = int(generator.integers(len(right) - 1))
        wrong = spoil(right, number, 36 * CARTRIDGE)
        learned = [learn(priors, each) for each in (right, wrong)]
        plain = [_others(priors, each, library=False)["least squares"] for each in (right, wrong)]
        means = [np.array([need.mean for need in each.needs.values()]) for each in learned]
        moves["least squares"].append((plain[1] - plain[0]) / 100)
        moves["the program"].append((means[1] - means[0]) / 100)
        named = {each.names for each in learned[1].left_out}
        found += {(("heavy", at), ("heavy", at + 1)) for at in (number, number + 1)} <= named
    return Wild({name: np.array(rows) for name, rows in moves.items()}, found, practices)


def spoil(intervals: Sequence[Interval[Need]], number: int, more: int) -> list[Interval[Need]]:
    """The intervals if the count after the ``number``-th of them had found ``more`` than there was."""
    changed = {number: -more, number + 1: more}
    return [
        Interval(each.start, each.end, each.taken + changed.get(k, 0), each.attempts, each.known, each.age)
        for k, each in enumerate(intervals)
    ]


@dataclass(frozen=True)
class Rests:
    """What rests that are thrown away do to learning: errors in mL, and whether the 90 % intervals held."""

    errors: dict[str, Array]
    held: dict[str, NDArray[np.bool_]]

    def rmse(self, treatment: str) -> float:
        return float(np.sqrt((self.errors[treatment] ** 2).mean()))


REST, MORE = Need("any", "rest", ""), Need("any", "more than a rest", "")


def rests(practices: int, seed: int, *, hasty: bool = False) -> Rests:
    """The heavy body of the third design, rests that serve no load thrown away.

    *Believed*: the book's own rest (a full cartridge less what was expected of it) is taken for what was thrown away.
    *Unknown*: each rest is one more attempt of an unknown need, between nothing and the least load; or, where the book
    believes in more than a third of a cartridge (the best of a fifth, a quarter and a third here), of another one,
    between nothing and a full cartridge.
    """
    design, priors = DESIGNS[2], believed("heavy")
    generator, wanted = np.random.default_rng(seed), needs("heavy")
    least = min(prior.mean for prior in priors.values())
    unknown = {
        **priors, REST: Prior(least / 2, least / 12**0.5), MORE: Prior(CARTRIDGE / 2, CARTRIDGE / 12**0.5),
    }  # fmt: skip
    errors: dict[str, list[Array]] = {"never learning": [], "believed": [], "unknown": []}
    held: dict[str, list[list[bool]]] = {"believed": [], "unknown": []}
    for _ in range(practices):
        truth = np.array([_above(generator, prior, 1) for prior in priors.values()])
        shelf = _Cartridges(generator, priors, truth, hasty=hasty)
        both = list(zip(*(shelf.stretch(wanted, design, number) for number in range(design.counts)), strict=True))
        errors["never learning"].append((np.array([prior.mean for prior in priors.values()]) - truth) / 100)
        for name, believing, told in zip(("believed", "unknown"), (priors, unknown), both, strict=True):
            found = learn(believing, told)
            errors[name].append((np.array([found.needs[need].mean for need in wanted]) - truth) / 100)
            held[name].append(_holds(found, wanted, truth))
    return Rests(
        {name: np.array(rows) for name, rows in errors.items()}, {name: np.array(rows) for name, rows in held.items()}
    )


class _Cartridges:
    """A practice that takes each load whole from one cartridge, and keeps what is left for a smaller one.

    The opened cartridge with the least in it that is still enough serves; where none is, a fresh one is opened. What is
    less than the smallest of the true means is thrown away; by a hasty one whatever is left when a load does not fit.
    Each is kept as what it holds, and what the book believes.
    """

    def __init__(
        self, generator: np.random.Generator, priors: Mapping[Need, Prior], truth: Array, *, hasty: bool
    ) -> None:
        self.generator, self.priors, self.truth, self.hasty = generator, priors, truth, hasty
        self.bin: list[tuple[float, float]] = []
        self.opened: list[tuple[float, float]] = []
        self.gone, self.read = 0.0, 0

    def stretch(self, wanted: list[Need], design: Design, number: int) -> tuple[Interval[Need], Interval[Need]]:
        """One stretch between two counts, as it is told with rests believed, and with rests unknown."""
        attempts, _ = _stretch(wanted, self.truth, design, self.generator)
        loads = [need for need, times in attempts.items() for _ in range(times)]
        for at in self.generator.permutation(len(loads)):
            self._draw(wanted, loads[at])
        thrown = self._thrown()
        read = round(self.gone / design.reading_unit) * design.reading_unit
        taken, self.read = read - self.read, read
        start, end = (Count(("heavy", at), design.reading_unit) for at in (number, number + 1))
        age = float((design.counts - 1 - number) * design.weeks)
        known = EXTRA * len(loads)
        more = sum(booked > CARTRIDGE / 3 for booked in thrown)
        return (
            Interval(start, end, taken, attempts, known + sum(thrown), age),
            Interval(start, end, taken, {**attempts, REST: len(thrown) - more, MORE: more}, known, age),
        )

    def _draw(self, wanted: list[Need], need: Need) -> None:
        """Take one load."""
        prior, mean = self.priors[need], float(self.truth[wanted.index(need)])
        qty = float(self.generator.gamma(1 / prior.variation**2, mean * prior.variation**2)) + EXTRA
        enough = [each for each in self.opened if each[0] >= qty]
        chosen = min(enough, default=(float(CARTRIDGE), float(CARTRIDGE)))
        if enough:
            self.opened.remove(chosen)
        elif self.hasty:
            self.bin, self.opened = [*self.bin, *self.opened], []
        self.opened.append((chosen[0] - qty, chosen[1] - prior.mean - EXTRA))
        self.gone += qty

    def _thrown(self) -> list[int]:
        """Throw away what serves no load; returns what the book believes of each."""
        least = float(self.truth.min()) + EXTRA
        thrown = [*self.bin, *(each for each in self.opened if each[0] < least)]
        self.bin = []
        self.opened = [each for each in self.opened if each[0] >= least]
        self.gone += sum(left for left, _ in thrown)
        return [round(max(booked, 0.0)) for _, booked in thrown]


def rests_told(found: Rests, *, hasty: bool) -> Iterator[str]:
    """The treatments, a line each."""
    which = "whatever is left when a load does not fit" if hasty else "rests that serve no load"
    yield f"Heavy body, thrown away: {which}; 13 four-weekly counts in quarters"
    for name in found.errors:
        held = f"{100 * float(found.held[name].mean()):11.1f}%" if name in found.held else ""
        yield f"  {name:36s}{found.rmse(name):10.2f}{held}"


def lines(name: str, body: str, found: Score) -> Iterator[str]:
    """The rows of a table: the whole article, then its needs."""
    yield f"{name}: {body} body"
    yield f"  {'mL':36s}" + "".join(f"{method:>16s}" for method in found.errors) + f"{'90 % held':>12s}"
    whole = "".join(f"{found.rmse(method):10.2f} ±{found.uncertainty(method):4.2f}" for method in found.errors)
    yield f"  {'all needs':36s}{whole}{100 * found.coverage():11.1f}%"
    for number, need in enumerate(found.needs):
        row = "".join(f"{found.rmse(method, number):16.2f}" for method in found.errors)
        yield f"  {' '.join(need):36s}{row}{100 * found.coverage(number):11.1f}%"


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, print, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--practices", type=int, default=200)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--out", type=Path, help="where to write the figures as JSON")
    asked = parser.parse_args(arguments)
    kept: dict[str, Any] = {}
    for design in DESIGNS:
        for body, wider in (("heavy", 1.0), ("light", 1.0), ("heavy", 1.5), ("heavy", 0.5)):
            name = design.name if wider == 1 else f"{design.name}; practices differ {wider:g} times as believed"
            found = score(body, design, asked.practices, asked.seed, wider)
            sys.stdout.write("\n".join([*lines(name, body, found), "", ""]))
            kept[f"{name}: {body}"] = {
                "rmse": {method: found.rmse(method) for method in found.errors},
                "needs": {
                    " ".join(need): {method: found.rmse(method, number) for method in found.errors}
                    for number, need in enumerate(found.needs)
                },
                "coverage": found.coverage(),
            }
            if body == "heavy" and wider == 1 and design.name in ASKED:
                bar = ASKED[design.name]
                reached = "reached" if found.rmse("the program") <= bar else "missed"
                sys.stdout.write(f"  asked: at most {bar:g} mL: {reached}\n\n")
    wild = wild_counts(asked.practices, asked.seed)
    sys.stdout.write(f"One count of 4 cartridges typed as 40; found in {wild.found} of {wild.practices} practices\n")
    kept["one count tenfold"] = {"found": wild.found, "of": wild.practices}
    for method in wild.moves:
        typical, largest = wild.typical(method), wild.largest(method)
        kept["one count tenfold"][method] = {"typical move": typical, "largest move": largest}
        sys.stdout.write(
            f"  {method}: moves an estimate by {typical:.2f} mL (root mean square), {largest:.2f} at most\n"
        )
    for hasty in (False, True):
        thrown = rests(asked.practices, asked.seed, hasty=hasty)
        sys.stdout.write("\n".join([*rests_told(thrown, hasty=hasty), ""]))
        kept[f"thrown away, hasty: {hasty}"] = {
            name: {"rmse": thrown.rmse(name), "coverage": float(thrown.held[name].mean())} for name in thrown.held
        }
    if asked.out:
        asked.out.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

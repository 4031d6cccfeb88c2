"""How much of an item will be used over a stretch of days: an exact distribution, not only a mean.

Use has three uncertain parts: how many visits of each kind come, which steps are taken (and retaken) at a visit, and
how much one attempt takes. Visits booked in the calendar are known demand, thinned by the share of patients who come;
only visits beyond them are forecast, from the weekly counts of the past, so nothing is counted twice. Everything is
put on one grid of base units and multiplied as transforms (a compound distribution by fast Fourier transform), which
is exact up to the grid; small counts are where a normal approximation fails, and a denture practice has small counts.

Terms: the *rate* of a kind is its number of visits a week; forecasts are negative binomial with exponential forgetting
(half-life 26 weeks), Poisson where nothing speaks for more spread. An *attempt* takes a gamma-distributed amount plus
what its mixing tip keeps and its purge. All amounts are in the item's base unit.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property, lru_cache
from itertools import accumulate
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

HALF_LIFE_WEEKS = 26
PRIOR_WEEKS = 0.5  # weight of the prior rate, in weeks of history
PRIOR_RATE = 1.0  # visits a week of a kind nobody has seen yet: own judgement, shown as such
PRIOR_SHOWS = 0.95  # share of booked patients who come: own judgement, weighed as twenty booked visits
PRIOR_BOOKINGS = 20
WEEK = 7
SHRINK_WEEKS = 10  # the spread seen is believed by n / (n + 10)
MILLION = 1_000_000
GRID_POINTS = 2048
MOST_POINTS = 16384
_NO_SPREAD = 1e-6  # a smaller standard deviation, relative to the mean, is none
_TAIL_LOGS = 16  # and where a tail has fallen to e^-16
_UPPER_SPREADS = 12  # the grid ends this many standard deviations above the mean


@dataclass(frozen=True)
class Rate:
    """Visits of one kind: mean a week, weeks of evidence behind it, variance-to-mean ratio of the weekly count."""

    weekly: float
    weeks: float = math.inf
    ratio: float = 1.0


@dataclass(frozen=True)
class StepUse:
    """What one step takes at a visit, in base units.

    Args:
        mean: of one attempt, net.
        sd: its standard deviation.
        fixed: kept in the tip and purged, at each attempt.
        retake: chance that the attempt is taken again once.
        chance: share of visits of this kind that have the step at all (one arch only, optional); above 1 it is taken so
            many times, and once more by what is left.
    """

    mean: float
    sd: float = 0.0
    fixed: float = 0.0
    retake: float = 0.0
    chance: float = 1.0

    @property
    def expected(self) -> float:
        return self.chance * (1 + self.retake) * (self.mean + self.fixed)

    @property
    def variance(self) -> float:
        once, attempts = self.mean + self.fixed, 1 + self.retake
        taken = self.retake * (1 - self.retake) * once**2 + attempts * self.sd**2  # given that the step is taken
        _, part = divmod(self.chance, 1)
        return self.chance * taken + part * (1 - part) * (attempts * once) ** 2


@dataclass(frozen=True)
class Stream:
    """Further visits of one kind, and what each takes of the item."""

    kind: str
    rate: Rate
    steps: tuple[StepUse, ...]


@dataclass(frozen=True)
class Booking:
    """One visit in the calendar, what it takes of the item, and the chance that the patient comes."""

    on: date
    kind: str
    steps: tuple[StepUse, ...]
    shows: float = 1.0


@dataclass(frozen=True)
class Demand:
    """Everything that will use an item: further visits by kind and the visits booked."""

    streams: tuple[Stream, ...] = ()
    bookings: tuple[Booking, ...] = ()
    history_weeks: float = 0.0


@dataclass(frozen=True)
class Distribution:
    """Use over a stretch of days: ``masses[k]`` is the chance of ``k * step`` base units."""

    step: int
    masses: NDArray[np.float64]

    @property
    def mean(self) -> float:
        return self.step * float(self.masses @ _ramp(len(self.masses)))

    @property
    def variance(self) -> float:
        ramp = _ramp(len(self.masses))
        return self.step**2 * float(self.masses @ ramp**2) - self.mean**2

    def quantile(self, ppm: int) -> int:
        """Smallest grid amount that suffices with a chance of at least ``ppm`` in a million."""
        reached = int(self._reached.searchsorted(ppm / MILLION - 1e-12))
        return self.step * min(reached, len(self.masses) - 1)

    @cached_property
    def _reached(self) -> NDArray[np.float64]:
        """Chance that no more than each amount is used."""
        return self.masses.cumsum()

    def at_most(self, amount: float) -> float:
        """Chance that no more than this is used."""
        if amount < 0:
            return 0.0
        return float(min(1.0, self._reached[min(int(amount // self.step), len(self.masses) - 1)]))

    def expected_left(self, amounts: NDArray[np.float64]) -> NDArray[np.float64]:
        """E(amount - use)+ for each amount: what is still there when the stretch ends."""
        import numpy as np  # noqa: PLC0415 - loaded only when planning runs

        cumulative = np.concatenate(([0.0], self._reached))
        integral = np.concatenate(([0.0], np.cumsum(cumulative[1:]))) * self.step
        at = np.clip(amounts, 0, None) / self.step
        whole = np.minimum(at.astype(np.int64), len(self.masses))
        beyond = (at - whole) * self.step
        share = cumulative[np.minimum(whole + 1, len(self.masses))]
        result: NDArray[np.float64] = integral[whole] + beyond * share
        return result


def learn_rate(weekly: Sequence[int], prior: float = PRIOR_RATE) -> Rate:
    """Visits of one kind a week, learned with exponential forgetting from weekly counts.

    Args:
        weekly: visits in each past week, oldest first; empty on day one.
        prior: visits a week believed before any history, with the weight of half a week.

    Returns:
        Mean, effective weeks (sum w)^2 / sum w^2 and variance ratio 1 + n/(n+10) (v/m - 1)+.
    """
    weights = [0.5 ** (age / HALF_LIFE_WEEKS) for age in range(len(weekly) - 1, -1, -1)]
    total = sum(weights)
    mean = (sum(w * y for w, y in zip(weights, weekly, strict=True)) + PRIOR_WEEKS * prior) / (total + PRIOR_WEEKS)
    if not weights or mean == 0:
        return Rate(mean, PRIOR_WEEKS)
    effective = total**2 / sum(w * w for w in weights)
    variance = sum(w * (y - mean) ** 2 for w, y in zip(weights, weekly, strict=True)) / total
    excess = max(0.0, variance / mean - 1)
    return Rate(mean, effective, 1 + effective / (effective + SHRINK_WEEKS) * excess)


def learn_show_rate(came: int, booked: int) -> float:
    """Share of booked visits that take place, from those that did and the prior."""
    return (came + PRIOR_SHOWS * PRIOR_BOOKINGS) / (booked + PRIOR_BOOKINGS)


def expected_use(demand: Demand, start: date, end: date) -> float:
    """Mean use from ``start`` up to, not including, ``end``, in base units."""
    return Forecast(demand, start).expected((end - start).days)


def use_over(demand: Demand, start: date, end: date, step: int | None = None) -> Distribution:
    """The exact distribution of the use from ``start`` up to, not including, ``end``; see `Forecast.distributions`."""
    return Forecast(demand, start).distributions([(end - start).days], step)[0]


class Forecast:
    """A demand seen from one day; all stretches start there and are given in days.

    Args:
        demand: what will use the item.
        start: the first day.
    """

    def __init__(self, demand: Demand, start: date) -> None:
        self.demand = demand
        ahead = [((b.on - start).days, b) for b in demand.bookings if b.on >= start]
        self.bookings = sorted(ahead, key=lambda pair: pair[0])
        self._days = [day for day, _ in self.bookings]
        self._reached = [0.0, *accumulate(b.shows * _moments(b.steps)[0] for _, b in self.bookings)]
        self._varied = [0.0, *accumulate(_booked_variance(booking) for _, booking in self.bookings)]
        self._each = [(stream, *_moments(stream.steps)) for stream in demand.streams]
        self._known: dict[str, dict[int, float]] = {s.kind: {} for s in demand.streams}
        for day, booking in self.bookings:
            weeks = self._known.get(booking.kind)
            if weeks is not None:
                weeks[day // WEEK] = weeks.get(day // WEEK, 0.0) + booking.shows

    def visits(self, stream: Stream, days: float) -> tuple[float, float]:
        """Mean and variance of the number of visits of a kind beyond those booked.

        Week by week, bookings leave open what the rate exceeds them by. The variance is predictive: VMR M from week to
        week, plus M^2 VMR / (m n) because the rate m itself is only learned from n weeks; M is the mean.
        """
        rate, mean = stream.rate, self._beyond(stream, days)
        return mean, rate.ratio * (mean + mean * mean / (rate.weekly * rate.weeks)) if mean else 0.0

    def _beyond(self, stream: Stream, days: float) -> float:
        weekly = stream.rate.weekly
        mean = weekly * days / WEEK
        for week, known in self._known[stream.kind].items():
            if week * WEEK < days:
                mean -= min(weekly, known) * min(1.0, days / WEEK - week)
        return mean if mean > _NO_SPREAD * weekly else 0.0

    def expected(self, days: int) -> float:
        """Mean use, in base units."""
        further = sum(self._beyond(stream, days) * each for stream, each, _ in self._each)
        return further + self._reached[bisect_left(self._days, days)]

    def spread(self, days: int) -> float:
        """Standard deviation of the use, in base units."""
        total = 0.0
        for stream, each, each_variance in self._each:
            mean, variance = self.visits(stream, days)
            total += mean * each_variance + variance * each * each
        return math.sqrt(total + self._varied[bisect_left(self._days, days)])

    def distributions(
        self, stretches: Sequence[int], step: int | None = None, most_points: int = GRID_POINTS
    ) -> list[Distribution]:
        """The exact distributions of the use over several stretches, on one grid that suits the longest.

        Compound distributions by transforms: g = exp(lambda (f - 1)) for Poisson numbers of visits,
        (p / (1 - (1 - p) f))^r for negative binomial ones; kinds add in the logarithm, booked visits are multiplied in.

        Args:
            stretches: days of each, from the first day on.
            step: grid in base units; chosen from the spread where None. Use 1 for pieces.
            most_points: how many points a chosen grid may have; a power of two.
        """
        import numpy as np  # noqa: PLC0415 - loaded only when planning runs

        if not stretches:
            return []
        upper = self._practically_most(max(stretches))
        grid = step or _grid(upper, self._typical_attempt(max(stretches)), most_points)
        points = 1 << max(4, math.ceil(math.log2(upper / grid + 2)))
        # So many visits that amounts need a finer grid than their sum: the sum's high frequencies are nothing, and
        # leaving them out is the same distribution on a coarser grid.
        kept = points if step else min(points, most_points)
        narrowest = self.spread(min(stretches))
        while kept < points and grid * points // kept > narrowest:
            kept *= 2
        half = kept // 2 + 1
        logs = np.zeros((len(stretches), half), dtype=np.complex128)
        for stream in self.demand.streams:
            visits = [self.visits(stream, days) for days in stretches]
            logs += _log_compound(_visit(stream.steps, grid, points)[:half], visits)
        transforms = np.exp(logs)
        for day, booking in self.bookings:
            rows = [row for row, days in enumerate(stretches) if day < days]
            if rows:
                transforms[rows] *= 1 - booking.shows + booking.shows * _visit(booking.steps, grid, points)[:half]
        masses = np.maximum(np.fft.irfft(transforms, kept), 0)
        return [Distribution(grid * points // kept, row / row.sum()) for row in masses]

    def _practically_most(self, days: int) -> float:
        """An amount beyond which no mass worth counting lies: many spreads out, and down the tail of the visits.

        A negative binomial tail falls by (V - M) / V from one visit to the next.
        """
        biggest = max((_largest(step) for _, step in self._steps(days)), default=0.0)
        tail = 0.0
        for stream, each, _ in self._each:
            visits, variance = self.visits(stream, days)
            if variance > visits:
                falls = -math.log((variance - visits) / variance)
                tail = max(tail, _TAIL_LOGS / falls * each)
        return self.expected(days) + max(_UPPER_SPREADS * self.spread(days), tail) + 2 * biggest

    def _typical_attempt(self, days: int) -> float:
        """Mean attempt, each weighed by what it takes: large ones make the spread."""
        amounts = [(visits * s.chance * (1 + s.retake), s.mean + s.fixed) for visits, s in self._steps(days)]
        total = sum(number * amount for number, amount in amounts)
        return sum(number * amount**2 for number, amount in amounts) / total if total else 0.0

    def _steps(self, days: int) -> list[tuple[float, StepUse]]:
        """Every step of a visit that may come, with the expected number of such visits."""
        further = [(self._beyond(stream, days), step) for stream in self.demand.streams for step in stream.steps]
        return further + [(b.shows, step) for day, b in self.bookings if day < days for step in b.steps]


def _grid(upper: float, typical: float, most_points: int) -> int:
    """A grid in base units: coarse enough for the points, fine enough for the amounts.

    Sharing an amount between two grid points widens it by up to a quarter of the grid squared: at half the amount that
    is a sixteenth of its square at most.
    """
    fine = _round_step(typical / 2) if typical > 2 else 1
    fine = fine if fine <= max(1.0, typical / 2) else max(1, fine // 2)
    return max(min(_round_step(upper / most_points), fine), _round_step(upper / MOST_POINTS))


def _round_step(least: float) -> int:
    """The next of 1, 2, 5, 10, 20 ...: few different grids, so that transforms of visits can be kept."""
    power: int = 10 ** math.floor(math.log10(max(1.0, least)))
    return next(power * digit for digit in (1, 2, 5, 10) if power * digit >= least)


def _log_compound(visit: NDArray[np.complex128], visits: Sequence[tuple[float, float]]) -> NDArray[np.complex128]:
    """Logarithms of compound transforms, a row for each mean and variance of the number of visits."""
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    mean, variance = np.array(visits).T[:, :, None]
    spread = variance - mean
    plain = spread <= mean * 1e-9  # Poisson
    if plain.all():
        return np.asarray(mean * (visit - 1))
    size = np.where(plain, 1.0, mean**2 / np.where(plain, 1.0, spread))
    stays = size / (size + mean)
    base = 1 - (1 - stays) * visit  # its real part is above nothing: the plain logarithm, in two quick halves
    real = np.log(stays) - 0.5 * np.log(base.real**2 + base.imag**2)
    mixed = size * (real - 1j * np.arctan2(base.imag, base.real))
    return np.asarray(np.where(plain, mean * (visit - 1), mixed) if plain.any() else mixed)


@lru_cache(maxsize=1024)
def _visit(steps: tuple[StepUse, ...], grid: int, points: int) -> NDArray[np.complex128]:
    """Transform of what one visit takes: the product over its steps, each perhaps skipped, perhaps retaken."""
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    product = np.ones(points // 2 + 1, dtype=np.complex128)
    for step in steps:
        once = np.fft.rfft(_attempt(step, grid, points), points)
        taken = once * (1 - step.retake + step.retake * once)
        times, part = divmod(step.chance, 1)
        product *= taken**times * (1 - part + part * taken) if times else 1 - part + part * taken
    product.flags.writeable = False
    return product


def _attempt(step: StepUse, grid: int, points: int) -> NDArray[np.float64]:
    """Masses of one attempt on the grid, each amount shared between its two neighbours so that the mean is kept."""
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    amounts, weights = _gamma_nodes(step.mean, step.sd, grid)
    at = (amounts + step.fixed) / grid
    low = at.astype(np.int64)
    share = at - low
    masses = np.bincount(low, weights * (1 - share), points) + np.bincount(low + 1, weights * share, points)
    return np.asarray(masses[:points], dtype=np.float64)


def _gamma_nodes(mean: float, sd: float, grid: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Amounts and weights that stand for a gamma distribution finely enough for the grid."""
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    if sd <= _NO_SPREAD * mean:
        return np.array([max(0.0, mean)]), np.ones(1)
    shape = (mean / sd) ** 2
    low, high = max(0.0, mean - 8 * sd), mean + 12 * sd
    nodes = max(128, math.ceil(4 * (high - low) / grid))
    # Below shape 1 the density has a pole at nothing; in u = x^shape it has none.
    power = min(1.0, shape)
    u = low**power + (np.arange(nodes) + 0.5) * (high**power - low**power) / nodes
    amounts = u ** (1 / power)
    logs = (shape - power) * np.log(amounts) - amounts * shape / mean
    weights = np.exp(logs - logs.max())
    return amounts, weights / weights.sum()


@lru_cache(maxsize=4096)
def _moments(steps: tuple[StepUse, ...]) -> tuple[float, float]:
    """Mean and variance of what one visit takes."""
    return sum(u.expected for u in steps), sum(u.variance for u in steps)


def _booked_variance(booking: Booking) -> float:
    each, variance = _moments(booking.steps)
    return booking.shows * (variance + (1 - booking.shows) * each * each)


def _largest(step: StepUse) -> float:
    return 2 * math.ceil(step.chance) * (step.mean + step.fixed + 6 * step.sd)


def _ramp(points: int) -> NDArray[np.float64]:
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    return np.arange(points, dtype=np.float64)

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
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
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
        reached = int(self.masses.cumsum().searchsorted(ppm / MILLION - 1e-12))
        return self.step * min(reached, len(self.masses) - 1)

    def at_most(self, amount: float) -> float:
        """Chance that no more than this is used."""
        if amount < 0:
            return 0.0
        return float(min(1.0, self.masses[: int(amount // self.step) + 1].sum()))

    def expected_left(self, amounts: NDArray[np.float64]) -> NDArray[np.float64]:
        """E(amount - use)+ for each amount: what is still there when the stretch ends."""
        import numpy as np  # noqa: PLC0415 - loaded only when planning runs

        cumulative = np.concatenate(([0.0], np.cumsum(self.masses)))
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
    further = sum(further_visits(demand, s, start, end)[0] * _moments(s.steps)[0] for s in demand.streams)
    return further + sum(b.shows * _moments(b.steps)[0] for b in booked(demand, start, end))


def spread_of_use(demand: Demand, start: date, end: date) -> float:
    """Standard deviation of the use from ``start`` up to, not including, ``end``, in base units."""
    total = 0.0
    for stream in demand.streams:
        mean, variance = further_visits(demand, stream, start, end)
        each, each_var = _moments(stream.steps)
        total += mean * each_var + variance * each * each
    for booking in booked(demand, start, end):
        each, each_var = _moments(booking.steps)
        total += booking.shows * (each_var + each * each) - (booking.shows * each) ** 2
    return math.sqrt(total)


def further_visits(demand: Demand, stream: Stream, start: date, end: date) -> tuple[float, float]:
    """Mean and variance of the number of visits of a kind beyond those booked.

    The variance is predictive: VMR M from week to week, plus M^2 VMR / (m n) because the rate m itself is only learned
    from n weeks. Without bookings M is m H, over H weeks.
    """
    rate = stream.rate
    mean = sum(visits * share for visits, share in open_weeks(demand, stream, start, end))
    return mean, rate.ratio * (mean + mean * mean / (rate.weekly * rate.weeks)) if mean > 0 else 0.0


def open_weeks(demand: Demand, stream: Stream, start: date, end: date) -> list[tuple[float, float]]:
    """Week by week: visits forecast for the whole week beyond its bookings, and the share of it before ``end``."""
    days = (end - start).days
    known = [0.0] * math.ceil(days / WEEK)
    for booking in demand.bookings:
        week = (booking.on - start).days // WEEK
        if booking.kind == stream.kind and 0 <= week < len(known):
            known[week] += booking.shows
    weekly = stream.rate.weekly
    return [(max(0.0, weekly - came), min(1.0, days / WEEK - week)) for week, came in enumerate(known)]


def booked(demand: Demand, start: date, end: date) -> list[Booking]:
    """Bookings from ``start`` up to, not including, ``end``."""
    return [b for b in demand.bookings if start <= b.on < end]


def use_over(demand: Demand, start: date, end: date, step: int | None = None) -> Distribution:
    """The exact distribution of the use from ``start`` up to, not including, ``end``.

    Args:
        demand: what will use the item.
        start: first day.
        end: first day not looked at any more.
        step: grid in base units; chosen from the spread where None. Use 1 for pieces.

    Returns:
        The compound distribution, by transforms: g = exp(lambda (f - 1)) for Poisson numbers of visits,
        (p / (1 - (1 - p) f))^r for negative binomial ones, booked visits multiplied in.
    """
    return uses_over(demand, start, [end], step)[0]


def uses_over(demand: Demand, start: date, ends: Sequence[date], step: int | None = None) -> list[Distribution]:
    """The distributions of `use_over` for several ends, on one grid that suits the last of them."""
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    if not ends:
        return []
    upper = _practically_most(demand, start, max(ends))
    grid = step or max(1, math.ceil(upper / GRID_POINTS))
    points = 1 << max(4, math.ceil(math.log2(upper / grid + 2)))
    transforms = np.ones((len(ends), points // 2 + 1), dtype=np.complex128)
    for stream in demand.streams:
        visit = _visit(stream.steps, grid, points)
        for row, end in enumerate(ends):
            visits, variance = further_visits(demand, stream, start, end)
            if visits > 0:
                transforms[row] *= _compound(visit, visits, variance)
    for booking in booked(demand, start, max(ends)):
        visit = 1 - booking.shows + booking.shows * _visit(booking.steps, grid, points)
        transforms[[booking.on < end for end in ends]] *= visit
    masses = np.clip(np.fft.irfft(transforms, points), 0, None)
    return [Distribution(grid, row / row.sum()) for row in masses]


def _practically_most(demand: Demand, start: date, end: date) -> float:
    """An amount beyond which no mass worth counting lies: many spreads out, and down the tail of the numbers of visits.

    A negative binomial tail falls by (V - M) / V from one visit to the next.
    """
    mean, spread = expected_use(demand, start, end), spread_of_use(demand, start, end)
    biggest = max((_largest(u) for u in _all_steps(demand)), default=0.0)
    tail = 0.0
    for stream in demand.streams:
        visits, variance = further_visits(demand, stream, start, end)
        if variance > visits:
            falls = -math.log((variance - visits) / variance)
            tail = max(tail, _TAIL_LOGS / falls * _moments(stream.steps)[0])
    return mean + max(_UPPER_SPREADS * spread, tail) + 2 * biggest


def _compound(visit: NDArray[np.complex128], mean: float, variance: float) -> NDArray[np.complex128]:
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    if variance <= mean * (1 + 1e-9):
        return np.exp(mean * (visit - 1))
    size = mean * mean / (variance - mean)
    stays = size / (size + mean)
    return np.exp(size * (math.log(stays) - np.log(1 - (1 - stays) * visit)))


def _visit(steps: Sequence[StepUse], grid: int, points: int) -> NDArray[np.complex128]:
    """Transform of what one visit takes: the product over its steps, each perhaps skipped, perhaps retaken."""
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    product = np.ones(points // 2 + 1, dtype=np.complex128)
    for step in steps:
        once = np.fft.rfft(_attempt(step, grid, points), points)
        taken = once * (1 - step.retake + step.retake * once)
        times, part = divmod(step.chance, 1)
        product *= taken**times * (1 - part + part * taken)
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


def _moments(steps: Sequence[StepUse]) -> tuple[float, float]:
    return sum(u.expected for u in steps), sum(u.variance for u in steps)


def _all_steps(demand: Demand) -> list[StepUse]:
    return [u for s in demand.streams for u in s.steps] + [u for b in demand.bookings for u in b.steps]


def _largest(step: StepUse) -> float:
    return 2 * math.ceil(step.chance) * (step.mean + step.fixed + 6 * step.sd)


def _ramp(points: int) -> NDArray[np.float64]:
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    return np.arange(points, dtype=np.float64)

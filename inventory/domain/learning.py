"""How much a step really takes, learned from counts and from amounts that people entered.

Nobody weighs an impression. What is known is what two counts of an article tell: so much disappeared between them, and
these visits took place. One interval says little about one step, many of them say a lot, because the mix of visits
changes from interval to interval. The model is a linear one, learned by Bayes' rule:

    y = sum over needs of n_k theta_k + e        y: gone between two counts, less what stays in tips and is purged
                                                 n_k: attempts of need k among the visits between them
    Var e = sum n_k (c_k theta_k)^2 + u^2/12 + u^2/12
    Cov of neighbours = -u^2/12                  they share the count between them, read in units of u

c_k is the need's coefficient of variation between cases, kept as believed. The belief about theta_k before anything
was counted is normal with the default's mean and the variance sd^2 / weight. An amount that a person entered is one
more observation of a single need; the interval in which it lies is asked only for the rest. As Var e depends on theta,
it is computed anew from the last estimate four times. The posterior is that of any Bayesian linear regression with
known covariance (Gelman et al., Bayesian Data Analysis, 3rd ed., section 14.8; from memory), here in the form that
needs no inverse of the prior:

    C = S + N V0 N',  V = V0 - V0 N' C^-1 N V0,  m = m0 + V0 N' C^-1 (y - N m0)

*One wild count.* An observation is left out, and named, where it lies more than three standard deviations from what
all others predict: [C^-1 (y - N m0)]_t / sqrt([C^-1]_tt) is that residual exactly. The worst goes first.

*Forgetting.* The variance of an observation doubles with every half-life of its age (power discounting).

*Only a sum.* Where two needs always occur together no count can tell them apart. Directions along which the counts
say next to nothing beside the prior (small eigenvalues of the information, in units of the prior) are looked for, and
needs that such a direction ties together are named, with the sum that is known.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

K = TypeVar("K", bound=Hashable)

HALF_LIFE_WEEKS = 104.0  # own judgement: a year-old count still weighs 0.7
TOO_FAR = 3.0  # standard deviations; beyond, an observation is left out
ITERATIONS = 4  # of the spread
Z90 = 1.6448536269514722  # half the width of a 90 % interval, in standard deviations
_BOOK = 1 / 6  # variance of the book's own rounding to whole base units, of two counts
_NOTHING_SAID = 0.1  # information of the data along a direction, relative to the prior's, that counts as none
_TIED = 0.1  # share of such a direction that ties two needs together


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed of a need, in base units: net use of one attempt, its spread between cases.

    ``weight`` says how many observed cases the belief counts for.
    """

    mean: float
    sd: float
    weight: float = 1.0

    @property
    def variance(self) -> float:
        """Variance of the practice's own mean around the belief."""
        return self.sd**2 / self.weight

    @property
    def variation(self) -> float:
        """Spread between cases relative to their mean."""
        return self.sd / self.mean if self.mean else 0.0


@dataclass(frozen=True, slots=True)
class Count:
    """One count of an article: what names it, the unit it was read in, how many readings were rounded to that unit.

    Sealed units are counted exactly; each opened one is a reading (tenths of a cartridge: a tenth of its content).
    """

    key: Hashable
    reading_unit: int
    readings: int = 1

    @property
    def variance(self) -> float:
        return self.readings * self.reading_unit**2 / 12


@dataclass(frozen=True, slots=True)
class Interval(Generic[K]):
    """What disappeared of an article between two counts.

    Attributes:
        start, end: the counts.
        taken: base units gone, after deliveries, transfers and discards; may be negative where a count was wrong.
        attempts: by need, how often it was served from the article, retakes included.
        known: the part of ``taken`` that is known: tip volume, purge, amounts that a person entered.
        age: weeks since its end.
        known_variance: how far ``known`` may be off, squared.
    """

    start: Count
    end: Count
    taken: int
    attempts: Mapping[K, int]
    known: int = 0
    age: float = 0.0
    known_variance: float = 0.0


@dataclass(frozen=True, slots=True)
class Entered(Generic[K]):
    """What a person entered for one attempt of a need, net of tip and purge, in base units.

    ``reading_unit`` is the unit in which it was read; ``name`` says which it was.
    """

    need: K
    qty: int
    reading_unit: int
    name: Hashable = ""
    age: float = 0.0


@dataclass(frozen=True, slots=True)
class LeftOut:
    """An observation that lies too far off: its counts or its name, what it says and what the others say of it.

    ``distance`` is in standard deviations.
    """

    names: tuple[Hashable, ...]
    said: int
    expected: int
    distance: float


@dataclass(frozen=True, slots=True)
class Together(Generic[K]):
    """Needs that the counts can't tell apart, and what one attempt of each takes together."""

    needs: tuple[K, ...]
    mean: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Learned(Generic[K]):
    """What is learned of a need, in base units; nothing is rounded.

    Attributes:
        mean: net use of one attempt.
        sd_of_mean: how well that is known.
        sd: spread between cases.
        low, high: the mean lies between them with a chance of 90 %.
        intervals, entered: observations behind it.
        attempts: attempts in those intervals.
        together: it is known only in sum with others; None where it is known by itself, or nothing was seen.
    """

    need: K
    prior: Prior
    mean: float
    sd_of_mean: float
    low: float
    high: float
    intervals: int = 0
    entered: int = 0
    attempts: int = 0
    together: Together[K] | None = None

    @property
    def sd(self) -> float:
        return self.prior.variation * self.mean

    @property
    def observations(self) -> int:
        return self.intervals + self.entered

    @property
    def weight(self) -> float:
        """How many observed cases the estimate counts for."""
        return self.sd**2 / self.sd_of_mean**2 if self.sd_of_mean else self.prior.weight


@dataclass(frozen=True, slots=True)
class Learning(Generic[K]):
    """What is learned of every need, and the observations left out."""

    needs: Mapping[K, Learned[K]]
    left_out: tuple[LeftOut, ...]


def learn(
    priors: Mapping[K, Prior],
    intervals: Sequence[Interval[K]] = (),
    entered: Sequence[Entered[K]] = (),
    half_life: float = HALF_LIFE_WEEKS,
) -> Learning[K]:
    """Learn what needs take.

    Args:
        priors: what is believed of each need; every need of the observations has to be among them.
        intervals: between counts, of any articles; counts with the same key are the same count.
        entered: amounts that people entered.
        half_life: weeks after which an observation counts for half; `math.inf` forgets nothing.

    Raises:
        ValueError: an observation of an unknown need, or a belief without weight.
    """
    if any(prior.weight <= 0 for prior in priors.values()):
        raise ValueError("a belief has some weight")
    unknown = {key for each in intervals for key in each.attempts} | {each.need for each in entered}
    if not unknown <= set(priors):
        raise ValueError(f"nothing is believed of {sorted(map(str, unknown - set(priors)))}")
    found: dict[K, Learned[K]] = {}
    left_out: list[LeftOut] = []
    near = _near(intervals)
    for group in _apart(priors, near):
        table = _Table.of(
            {need: prior for need, prior in priors.items() if need in group},
            [each for each, needs in zip(intervals, near, strict=True) if needs & group],
            [each for each in entered if each.need in group],
            half_life,
        )
        kept = table.screened()
        found |= _told(table, kept, *table.fitted(kept))
        left_out.extend(table.left_out(kept))
    return Learning({need: found[need] for need in priors}, tuple(left_out))


def _near(intervals: Sequence[Interval[K]]) -> list[set[K]]:
    """By interval: its needs and those of its neighbours, with which it shares a count."""
    touching: dict[Hashable, set[K]] = defaultdict(set)
    for each in intervals:
        for count in (each.start, each.end):
            touching[count.key] |= set(each.attempts)
    return [touching[each.start.key] | touching[each.end.key] for each in intervals]


def _apart(priors: Mapping[K, Prior], near: Sequence[set[K]]) -> list[set[K]]:
    """Groups of needs that no interval has in common: each is learned by itself."""
    groups: list[set[K]] = [{need} for need in priors]
    for needs in {frozenset(each) for each in near}:
        met = [group for group in groups if group & needs]
        apart = [group for group in groups if not group & needs]
        groups = [*apart, set().union(*met)] if met else groups
    return groups


def posterior(mean: Array, prior: Array, attempts: Array, taken: Array, noise: Array) -> tuple[Array, Array]:
    """Mean and covariance of the coefficients of a Bayesian linear regression with known covariance of the noise.

    Args:
        mean: prior means, shape (p,).
        prior: their covariance, shape (p, p); may be singular.
        attempts: the design, shape (n, p).
        taken: the observations, shape (n,).
        noise: covariance of their errors, shape (n, n), positive definite.
    """
    import numpy as np  # noqa: PLC0415 - loaded only when something is learned

    shared = prior @ attempts.T
    gain = np.linalg.solve(noise + attempts @ shared, shared.T).T
    covariance = prior - gain @ shared.T
    return mean + gain @ (taken - attempts @ mean), (covariance + covariance.T) / 2


def deleted_residuals(mean: Array, prior: Array, attempts: Array, taken: Array, noise: Array) -> tuple[Array, Array]:
    """How far each observation lies from what all others predict: the residuals, and their standard deviations."""
    import numpy as np  # noqa: PLC0415 - see above

    inverse = np.linalg.inv(noise + attempts @ prior @ attempts.T)
    precision = np.diag(inverse)
    return inverse @ (taken - attempts @ mean) / precision, 1 / np.sqrt(precision)


@dataclass(frozen=True, slots=True)
class _Table(Generic[K]):
    """The observations as arrays: a row for each interval, then one for each amount entered."""

    priors: Mapping[K, Prior]
    intervals: Sequence[Interval[K]]
    entered: Sequence[Entered[K]]
    mean: Array
    prior: Array
    variation: Array
    attempts: Array
    taken: Array
    rounding: Array  # covariance by rounding and by what is known
    faded: Array  # square root of how much more an old observation varies

    @classmethod
    def of(
        cls,
        priors: Mapping[K, Prior],
        intervals: Sequence[Interval[K]],
        entered: Sequence[Entered[K]],
        half_life: float,
    ) -> _Table[K]:
        import numpy as np  # noqa: PLC0415 - see above

        column = {key: number for number, key in enumerate(priors)}
        attempts = np.zeros((len(intervals) + len(entered), len(priors)))
        for row, interval in enumerate(intervals):
            for key, times in interval.attempts.items():
                attempts[row, column[key]] = times
        for row, each in enumerate(entered, start=len(intervals)):
            attempts[row, column[each.need]] = 1
        taken = [float(each.taken - each.known) for each in intervals] + [float(each.qty) for each in entered]
        ages = np.array([each.age for each in intervals] + [each.age for each in entered], dtype=float)
        return cls(
            priors, intervals, entered,
            np.array([each.mean for each in priors.values()], dtype=float),
            np.diag(np.array([each.variance for each in priors.values()], dtype=float)),
            np.array([each.variation for each in priors.values()], dtype=float),
            attempts, np.array(taken, dtype=float), _rounding(intervals, entered), np.exp2(ages / half_life / 2),
        )  # fmt: skip

    def noise(self, mean: Array) -> Array:
        """Covariance of the observations' errors if the needs took ``mean``."""
        import numpy as np  # noqa: PLC0415 - see above

        between = self.attempts @ (self.variation * mean) ** 2
        return (self.rounding + np.diag(between)) * np.outer(self.faded, self.faded)

    def fitted(self, rows: list[int]) -> tuple[Array, Array]:
        """The posterior from some rows; no need takes less than nothing."""
        mean, covariance = self.mean, self.prior
        for _ in range(ITERATIONS):
            noise = self.noise(mean)[rows][:, rows]
            mean, covariance = posterior(self.mean, self.prior, self.attempts[rows], self.taken[rows], noise)
            mean = _not_negative(mean, covariance)
        return mean, covariance

    def residuals(self, rows: list[int]) -> tuple[Array, Array]:
        """`deleted_residuals` of some rows, the spread taken from their own posterior."""
        noise = self.noise(self.fitted(rows)[0])[rows][:, rows]
        return deleted_residuals(self.mean, self.prior, self.attempts[rows], self.taken[rows], noise)

    def screened(self) -> list[int]:
        """The rows to keep: the farthest off goes until none is too far; then those that fit the rest come back."""
        import numpy as np  # noqa: PLC0415 - see above

        rows = list(range(len(self.taken)))
        while rows:
            off, spread = self.residuals(rows)
            far = np.abs(off / spread)
            if far.max() <= TOO_FAR:
                break
            del rows[int(far.argmax())]
        while (nearest := min(self.distances(rows), default=(math.inf, 0)))[0] <= TOO_FAR:
            rows = sorted([*rows, nearest[1]])
        return rows

    def distances(self, kept: list[int]) -> list[tuple[float, int]]:
        """How far off each row that was not kept lies from what the others say, in standard deviations; the row."""
        return [(abs(off / spread), row) for row, off, spread in self._beside(kept)]

    def left_out(self, kept: list[int]) -> tuple[LeftOut, ...]:
        """The rows that were not kept, each beside what those that were say of it."""
        return tuple(
            LeftOut(self._names(row), self._said(row), round(self._said(row) - off), abs(off / spread))
            for row, off, spread in self._beside(kept)
        )

    def _beside(self, kept: list[int]) -> list[tuple[int, float, float]]:
        """The rows that were not kept, each with its residual and the spread of that, beside those that were."""
        found = []
        for row in sorted(set(range(len(self.taken))) - set(kept)):
            off, spread = self.residuals([*kept, row])
            found.append((row, float(off[-1]), float(spread[-1])))
        return found

    def _said(self, row: int) -> int:
        return self.intervals[row].taken if row < len(self.intervals) else self.entered[row - len(self.intervals)].qty

    def _names(self, row: int) -> tuple[Hashable, ...]:
        if row < len(self.intervals):
            return self.intervals[row].start.key, self.intervals[row].end.key
        return (self.entered[row - len(self.intervals)].name,)


def _rounding(intervals: Sequence[Interval[K]], entered: Sequence[Entered[K]]) -> Array:
    """Covariance of the observations by rounding: neighbours share the count between them, with opposite signs."""
    import numpy as np  # noqa: PLC0415 - see above

    counts = {count.key: count for each in intervals for count in (each.start, each.end)}
    column = {key: number for number, key in enumerate(counts)}
    shares = np.zeros((len(intervals), len(counts)))
    for row, each in enumerate(intervals):
        shares[row, column[each.start.key]] += 1
        shares[row, column[each.end.key]] -= 1
    own = [_BOOK + each.known_variance for each in intervals]
    between = shares * np.array([count.variance for count in counts.values()]) @ shares.T
    whole = np.diag([*own, *(_BOOK + each.reading_unit**2 / 12 for each in entered)])
    whole[: len(intervals), : len(intervals)] += between
    return whole


def _not_negative(mean: Array, covariance: Array) -> Array:
    """The most probable means none of which is negative: those that were are held at 0, the others follow."""
    import numpy as np  # noqa: PLC0415 - see above

    held = np.zeros(len(mean), dtype=bool)
    found = mean
    while (found < -1e-9).any():
        held |= found < 0
        across = covariance[:, held] @ np.linalg.pinv(covariance[held][:, held])
        found = mean - across @ mean[held]
        found[held] = 0
    return np.maximum(found, 0)


def _told(table: _Table[K], rows: list[int], mean: Array, covariance: Array) -> dict[K, Learned[K]]:
    """The posterior by need, with what stands behind it."""
    counted = table.attempts[[row for row in rows if row < len(table.intervals)]]
    entered = Counter(table.entered[row - len(table.intervals)].need for row in rows if row >= len(table.intervals))
    ties = _ties(table, rows, mean, covariance)
    told = {}
    for number, (key, prior) in enumerate(table.priors.items()):
        sd = math.sqrt(max(float(covariance[number, number]), 0.0))
        value, times = float(mean[number]), counted[:, number]
        told[key] = Learned(
            key, prior, value, sd, max(value - Z90 * sd, 0.0), value + Z90 * sd,
            int((times > 0).sum()), entered[key], int(times.sum()), ties.get(key),
        )  # fmt: skip
    return told


def _ties(table: _Table[K], rows: list[int], mean: Array, covariance: Array) -> dict[K, Together[K]]:
    """For each need that the data can't tell from others: those, and what they take together."""
    keys = list(table.priors)
    found = {}
    for group in _groups(table, rows, mean):
        value = float(mean[group].sum())
        sd = math.sqrt(max(float(covariance[group][:, group].sum()), 0.0))
        needs = tuple(keys[number] for number in group)
        found.update(dict.fromkeys(needs, Together(needs, value, max(value - Z90 * sd, 0.0), value + Z90 * sd)))
    return found


def _groups(table: _Table[K], rows: list[int], mean: Array) -> list[list[int]]:
    """Columns tied together by directions along which the rows say next to nothing, needs never seen left out."""
    import numpy as np  # noqa: PLC0415 - see above

    seen = [number for number in range(len(mean)) if table.attempts[rows, number].any() and table.prior[number, number]]
    if not seen:
        return []
    design = table.attempts[rows][:, seen] * np.sqrt(np.diag(table.prior)[seen])
    information = design.T @ np.linalg.solve(table.noise(mean)[rows][:, rows], design)
    sizes, directions = np.linalg.eigh(information)
    dark = directions[:, sizes < _NOTHING_SAID]
    tied = np.abs(dark @ dark.T) > _TIED
    groups: list[set[int]] = []
    for number in range(len(seen)):
        group = {number, *tied[number].nonzero()[0].tolist()}
        apart = [other for other in groups if not other & group]
        groups = [*apart, group.union(*(other for other in groups if other & group))]
    return [[seen[number] for number in sorted(group)] for group in groups if len(group) > 1]

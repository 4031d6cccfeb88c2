"""Which tray sizes to keep: the size mix of the patients to come, and the smallest stock that fits them all.

Nobody knows the next patient's size, only what was fitted so far. Let the shares of the sizes of one tray line and arch
be uncertain with Dirichlet weights alpha = prior + fitted. The sizes of the next n patients are then Dirichlet-
multinomial, which is the law of independent negative binomial counts given their sum. So

    P(all n fitted from a stock s) = [z^n] prod_k sum_{x <= s_k} NB(x; alpha_k) z^x  /  NB(n; sum alpha),

a few short convolutions. A quantile per size would miss the joint target, because sizes run out together.

A visit takes more than the tray that fits:

* *known sizes*: of a booked visit whose size is known from an earlier one, that size is taken for certain;
* *retakes*: with chance ``retake`` an attempt needs a new tray of the same size, again and again (geometric);
* *try-ins*: with chance ``try_in`` a patient of unknown size first has a neighbouring size tried, either side alike,
  and that tray is lost to the stock. Try-ins couple neighbours, so the product becomes a walk along the run of sizes
  that carries the patients so far, the trays lost to the next size and the room left in this one.

Both arches of one case are needed together: their chances are multiplied for each number of cases and mixed only then.
A *stock* here is trays by size in the order of the run; ``stocks`` has one for each arch.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from itertools import accumulate
from math import comb, prod
from typing import TYPE_CHECKING

from inventory.errors import BadInput

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Stock = tuple[int, ...]
Stocks = tuple[Stock, ...]
Cases = Mapping[tuple[int, ...], float]
"""Probabilities of how many cases of unknown size come, by arch: ``{(6, 6): 1.0}`` is six cases with both arches."""

HIGHEST_TARGET = 0.9999
NEVER = 1e-9


@dataclass(frozen=True, slots=True)
class SizeOutlook:
    """What is known of one tray line and arch; all tuples in the order of its run of sizes.

    Attributes:
        weights: Dirichlet weights, prior plus fitted; none negative, not all nothing.
        try_in: chance that a patient of unknown size has a neighbouring size tried and lost.
        retake: chance that an attempt needs a new tray of the same size.
        known: booked visits whose size is known; empty for none.

    Raises:
        ValueError: figures that are no weights or no chances.
    """

    weights: tuple[float, ...]
    try_in: float = 0.0
    retake: float = 0.0
    known: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if min(self.weights, default=-1) < 0 or sum(self.weights) <= 0:
            raise ValueError("size weights: none negative, and not all nothing")
        if not (0 <= self.try_in <= 1 and 0 <= self.retake < 1):
            raise ValueError("try-ins and retakes are chances, and a retake must end some time")
        if self.known and len(self.known) != len(self.weights):
            raise ValueError("known sizes: one number for each size of the run")

    def known_of(self, size: int) -> int:
        return self.known[size] if self.known else 0


def learned_weights(prior: Sequence[float], fitted: Sequence[int]) -> tuple[float, ...]:
    """Dirichlet weights after so many trays of each size were fitted; the prior's sum is its weight in patients.

    Where there is neither a prior nor a patient, every size counts alike, as one patient each.
    """
    weights = tuple(weight + count for weight, count in zip(prior, fitted, strict=True))
    return weights if any(weights) else (1.0,) * len(weights)


def learned_rate(prior: float, weight: float, events: int, chances: int) -> float:
    """Rate of try-ins or retakes: the mean of a beta law that believes ``prior`` as if seen in ``weight`` cases."""
    return (prior * weight + events) / (weight + chances)


def shared(cases: int | Sequence[float], arches: int = 1) -> Cases:
    """Cases that need every arch.

    Args:
        cases: how many, or the probabilities of 0, 1, 2 ... cases.
        arches: how many arches share them.
    """
    if isinstance(cases, int):
        return {(cases,) * arches: 1.0}
    return {(count,) * arches: chance for count, chance in enumerate(cases) if chance > 0}


def expected_take(outlook: SizeOutlook, cases: float) -> tuple[float, ...]:
    """Trays of each size that visits are expected to take: fitted, tried in and lost, taken again at a retake.

    Args:
        outlook: of one arch.
        cases: mean number of cases of unknown size; those of known size are in the outlook.
    """
    total = sum(outlook.weights)
    shares = [cases * weight / total for weight in outlook.weights]
    lost = [0.0] * len(shares)
    for size, share in enumerate(shares):
        beside = neighbours(size, len(shares))
        for neighbour in beside:
            lost[neighbour] += share * outlook.try_in / len(beside)
    return tuple(
        (share + outlook.known_of(size)) / (1 - outlook.retake) + lost[size] for size, share in enumerate(shares)
    )


@lru_cache(maxsize=8192)
def chance_by_cases(outlook: SizeOutlook, stock: Stock, most: int) -> tuple[float, ...]:
    """Probability that 0, 1 ... ``most`` cases of unknown size, and all of known size, are fitted from one stock."""
    room = [have - outlook.known_of(size) for size, have in enumerate(stock)]
    if min(room) < 0:
        return (0.0,) * (most + 1)
    total = sum(outlook.weights)
    scale = most / (most + total)
    counts = [_counts(weight, scale, most) for weight in outlook.weights]
    joint = (_walk if outlook.try_in and len(stock) > 1 else _product)(outlook, counts, room)
    return tuple(min(1.0, part / whole) for part, whole in zip(joint, _counts(total, scale, most), strict=True))


def _counts(weight: float, scale: float, most: int) -> list[float]:
    """Negative binomial probabilities of 0 ... ``most``; any scale gives the same law once the sum is known."""
    chances = [(1 - scale) ** weight]
    for count in range(most):
        chances.append(chances[-1] * scale * (count + weight) / (count + 1))
    return chances


def again(retake: float, patients: int, trays: int) -> float:
    """Probability that so many patients need exactly so many trays beyond their first."""
    if patients == 0:
        return float(trays == 0)
    return comb(patients + trays - 1, trays) * (1 - retake) ** patients * retake**trays


@lru_cache(maxsize=1024)
def _at_most(retake: float, patients: int, most: int) -> tuple[float, ...]:
    """Probability that so many patients need at most 0, 1 ... ``most`` trays beyond their first."""
    return tuple(accumulate(again(retake, patients, trays) for trays in range(most + 1)))


def _product(outlook: SizeOutlook, counts: Sequence[Sequence[float]], room: Sequence[int]) -> list[float]:
    """Joint law of fitting so many patients, without try-ins: truncated series, multiplied."""
    most, widest = len(counts[0]) - 1, max(room)
    joint = [1.0] + [0.0] * most
    for size, free in enumerate(room):
        known = outlook.known_of(size)
        series = [
            counts[size][new] * _at_most(outlook.retake, known + new, widest)[free - new]
            for new in range(min(free, most) + 1)
        ]
        joint = [
            sum(joint[done - new] * series[new] for new in range(min(done, len(series) - 1) + 1))
            for done in range(most + 1)
        ]
    return joint


def neighbours(size: int, sizes: int) -> tuple[int, ...]:
    """The sizes beside one in the run."""
    return tuple(other for other in (size - 1, size + 1) if 0 <= other < sizes)


def _walk(outlook: SizeOutlook, counts: Sequence[Sequence[float]], room: Sequence[int]) -> list[float]:
    """Joint law of fitting so many patients, with try-ins.

    ``ahead[r, m, l]``: m patients are fitted by the sizes so far, r trays of the size to come were lost to their
    try-ins, and the size just passed has room for at least l trays more. ``behind[l, m, u]``: the same after the size
    was dealt with, room for at least l trays of it and u lost of the next one. Losses that are as good as impossible
    (chance below `NEVER`) are left out.
    """
    import numpy as np  # noqa: PLC0415 - heavy, and only needed where try-ins are lost

    most, widest, last = len(counts[0]) - 1, max(room), len(room) - 1
    worst = _most_lost(outlook.try_in, most)
    ahead = np.zeros((1, most + 1, 1))
    ahead[0, 0, 0] = 1
    for size, free in enumerate(room):
        below = min(worst, room[size - 1]) if size else 0
        above = min(worst, room[size + 1]) if size < last else 0
        lost = _lost(*_sides(outlook, size), most, min(worst, widest))
        at_most = _taken_again(outlook.retake, outlook.known_of(size), most, widest)
        left = free - np.arange(min(free, worst) + 1)[:, None] - np.arange(len(ahead))
        behind = np.zeros((len(left), most + 1, above + 1))
        for new in range(min(free, most) + 1):
            tried = counts[size][new] * lost[new, : min(new, below) + 1, : min(new, above) + 1]
            kept = np.where(left >= new, at_most[new][np.maximum(left - new, 0)], 0.0)
            passed = np.ascontiguousarray(ahead[:, : most + 1 - new, : len(tried)]).reshape(-1, len(tried)) @ tried
            shape = (len(left), most + 1 - new, tried.shape[1])
            behind[:, new:, : tried.shape[1]] += (kept @ passed.reshape(len(ahead), -1)).reshape(shape)
        ahead = behind.transpose(2, 1, 0)
    return [float(chance) for chance in ahead[0, :, 0]]


def _sides(outlook: SizeOutlook, size: int) -> tuple[float, float]:
    """Chances that a patient of a size loses a tray of the size below, and of the one above."""
    beside = neighbours(size, len(outlook.weights))
    down, up = (outlook.try_in / len(beside) if side in beside else 0.0 for side in (size - 1, size + 1))
    return down, up


@lru_cache(maxsize=256)
def _most_lost(try_in: float, patients: int) -> int:
    """Trays of one size that patients lose to try-ins on one side: more than so many have a chance below `NEVER`."""
    chances = [comb(patients, lost) * try_in**lost * (1 - try_in) ** (patients - lost) for lost in range(patients + 1)]
    beyond = 1.0
    for lost, chance in enumerate(chances):
        beyond -= chance
        if beyond < NEVER:
            return lost
    return patients


@lru_cache(maxsize=256)
def _lost(down: float, up: float, most: int, widest: int) -> "NDArray[np.float64]":
    """Probability [n, l, u] that n patients lose l trays of the size below and u of the one above, l and u bounded."""
    import numpy as np  # noqa: PLC0415 - see above

    table = np.zeros((most + 1, widest + 1, widest + 1))
    table[0, 0, 0] = 1
    for patients in range(1, most + 1):
        before, now = table[patients - 1], table[patients]
        now += (1 - down - up) * before
        now[1:] += down * before[:-1]
        now[:, 1:] += up * before[:, :-1]
    return table


@lru_cache(maxsize=256)
def _taken_again(retake: float, known: int, most: int, widest: int) -> "NDArray[np.float64]":
    """Probability [n, w] that n patients of a size and the known ones need at most w trays beyond their first."""
    import numpy as np  # noqa: PLC0415 - see above

    return np.array([_at_most(retake, known + new, widest) for new in range(most + 1)])


def chance_all_fitted(outlooks: Sequence[SizeOutlook], stocks: Stocks, cases: Cases) -> float:
    """Probability that every case to come is fitted in every arch it needs.

    Args:
        outlooks: one for each arch; their sizes are independent, their number of cases is not.
        stocks: trays by size, one tuple for each arch.
        cases: how many cases come, see `Cases`.
    """
    most = [max(counts[arch] for counts in cases) for arch in range(len(outlooks))]
    chances = [chance_by_cases(*of_arch) for of_arch in zip(outlooks, stocks, most, strict=True)]
    return sum(
        weight * prod(chances[arch][count] for arch, count in enumerate(counts)) for counts, weight in cases.items()
    )


@dataclass(frozen=True, slots=True)
class Stocking:
    """A stock by arch and size, and the chance that it fits every case."""

    stocks: Stocks
    chance: float

    @property
    def trays(self) -> int:
        return sum(map(sum, self.stocks))


@dataclass(frozen=True, slots=True)
class Gain:
    """One more tray of one arch and size (positions), and the chance with it."""

    arch: int
    size: int
    chance: float


def buy_next(outlooks: Sequence[SizeOutlook], stocks: Stocks, cases: Cases) -> tuple[Gain, ...]:
    """Every size, the one whose next tray helps most first."""
    ranked = sorted(
        ((_merit(outlooks, _changed(stocks, place, 1), cases), place) for place in _places(stocks)),
        key=lambda found: found[0],
        reverse=True,
    )
    return tuple(Gain(arch, size, merit[0]) for merit, (arch, size) in ranked)


def with_one_more(stocks: Stocks, arch: int, size: int) -> Stocks:
    """The stocks with one tray more."""
    return _changed(stocks, (arch, size), 1)


def smallest_stock(outlooks: Sequence[SizeOutlook], cases: Cases, target: float) -> Stocking:
    """The fewest trays that fit every case with at least the chance asked, and of these the best spread.

    Trays are added where they help most until the target is reached; then exchanges improve the spread and the tray
    that is missed least is taken away, as long as the target holds. Equal to enumeration wherever we compared.

    Raises:
        BadInput: a target that is not a chance, or so near to certainty that no stock reaches it.
    """
    if not 0 < target <= HIGHEST_TARGET:
        raise BadInput(
            f"target: {target} is not between 0 and {HIGHEST_TARGET}.",
            "Ask for a chance such as 0.95; 1 needs no end of trays.",
        )
    best = _near(outlooks, cases, target)
    while chance_all_fitted(outlooks, best, cases) < target:
        best = _best(outlooks, (_changed(best, place, 1) for place in _places(best)), cases)
    while True:
        best = _rearranged(outlooks, best, cases)
        fewer = [_changed(best, place, -1) for place in _places(best) if best[place[0]][place[1]]]
        smaller = _best(outlooks, fewer or [best], cases)
        if not fewer or chance_all_fitted(outlooks, smaller, cases) < target:
            return Stocking(best, chance_all_fitted(outlooks, best, cases))
        best = smaller


def _near(outlooks: Sequence[SizeOutlook], cases: Cases, target: float) -> Stocks:
    """Where the search starts: what would do without try-ins, which is found much faster and is not far off."""
    if any(outlook.try_in for outlook in outlooks):
        return smallest_stock([replace(outlook, try_in=0.0) for outlook in outlooks], cases, target).stocks
    return tuple(_mean_stock(outlook, cases, arch) for arch, outlook in enumerate(outlooks))


def _mean_stock(outlook: SizeOutlook, cases: Cases, arch: int) -> Stock:
    """Whole trays below the expected take, and what known sizes need."""
    mean = sum(counts[arch] * chance for counts, chance in cases.items())
    takes = expected_take(outlook, mean)
    return tuple(max(int(take), outlook.known_of(size)) for size, take in enumerate(takes))


_Place = tuple[int, int]  # arch, size


def _places(stocks: Stocks) -> list[_Place]:
    return [(arch, size) for arch, stock in enumerate(stocks) for size in range(len(stock))]


def _changed(stocks: Stocks, place: _Place, trays: int) -> Stocks:
    return tuple(
        tuple(have + trays if (arch, size) == place else have for size, have in enumerate(stock))
        for arch, stock in enumerate(stocks)
    )


def _merit(outlooks: Sequence[SizeOutlook], stocks: Stocks, cases: Cases) -> tuple[float, int, float]:
    """The chance asked for; where it is nothing yet, what known sizes lack, then the cases fitted in a row."""
    chance = chance_all_fitted(outlooks, stocks, cases)
    lacking = sum(
        max(0, known - there)
        for outlook, of_arch in zip(outlooks, stocks, strict=True)
        for known, there in zip(outlook.known, of_arch, strict=False)  # known is empty where no size is
    )
    if lacking:
        return chance, -lacking, 0.0  # no case of unknown size is fitted either: the booked ones come first
    most = [max(counts[arch] for counts in cases) for arch in range(len(outlooks))]
    in_a_row = sum(sum(chance_by_cases(*of_arch)) for of_arch in zip(outlooks, stocks, most, strict=True))
    return chance, 0, in_a_row


def _best(outlooks: Sequence[SizeOutlook], candidates: Iterable[Stocks], cases: Cases) -> Stocks:
    return max(candidates, key=lambda stocks: _merit(outlooks, stocks, cases))


def _rearranged(outlooks: Sequence[SizeOutlook], stocks: Stocks, cases: Cases) -> Stocks:
    """The best of as many trays that exchanges of one tray for another lead to."""
    while True:
        swaps = [
            _changed(_changed(stocks, less, -1), more, 1)
            for less in _places(stocks)
            for more in _places(stocks)
            if less != more and stocks[less[0]][less[1]]
        ]
        better = _best(outlooks, [stocks, *swaps], cases)
        if better == stocks:
            return stocks
        stocks = better


class SizeWord(StrEnum):
    """How a size stands, worst first."""

    NONE = "none"
    SHORT = "short"
    LOW = "low"
    ENOUGH = "enough"


@dataclass(frozen=True, slots=True)
class SizeStatus:
    """A word and the figures behind it."""

    word: SizeWord
    reason: str


def size_status(available: int, away: int, expected: float, target: int, *, to_order: bool = False) -> SizeStatus:
    """How one size of one arch stands.

    Args:
        available: trays ready for use.
        away: trays that come back: in reprocessing, at the laboratory.
        expected: trays that the booked visits are expected to take.
        target: trays of this size in the smallest stock for the cases ahead.
        to_order: whether the weekly check would order it: visits not yet booked will need it too.

    Returns:
        NONE: nothing ready although it is needed; SHORT: less than the booked visits will likely take; LOW: less than
        the target, or to be ordered; ENOUGH: anything else, also where none is needed.
    """
    have = (f"{available}" if available else "none") + " available" + (f", {away} away" if away else "")
    visits = f", booked visits need about {expected:.1f}" if expected > 0 else ""
    aim = f", target {target}" if target > 0 else ""
    aim += ", to be ordered" if to_order else ""
    if not visits and not aim:
        return SizeStatus(SizeWord.ENOUGH, f"{have}, none needed")
    if available == 0:
        word = SizeWord.NONE
    elif available < expected:
        word = SizeWord.SHORT
    else:
        word = SizeWord.LOW if available < target or to_order else SizeWord.ENOUGH
    return SizeStatus(word, have + visits + aim)


@dataclass(frozen=True, slots=True)
class SizeHeld:
    """Trays of one article on the shelf, with its history.

    Attributes:
        item_id: the article, or the caller's number for a size.
        on_hand: trays held.
        cents: what they cost together.
        taken: how often it was fitted or tried in, over the time looked at.
    """

    item_id: int
    on_hand: int
    cents: int
    taken: int


def never_used(held: Iterable[SizeHeld]) -> tuple[SizeHeld, ...]:
    """Sizes that lie on the shelf and were never taken, the most money first."""
    idle = [size for size in held if size.on_hand > 0 and size.taken == 0]
    return tuple(sorted(idle, key=lambda size: (-size.cents, size.item_id)))

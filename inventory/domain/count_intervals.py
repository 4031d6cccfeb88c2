"""From counts of an article to what they teach: how much disappeared between two of them, and for which attempts.

A count says what is there of the whole article, everywhere, opened units included; a count that finds what the book
expects says as much as one that does not. Between two counts the stock changes by deliveries, discards, returns and the
like, which are known, and by use, which is what is asked. What was booked for a visit is not asked for the amount,
because it is mostly what the form had expected; it only says which attempts there were, what stayed in tips and was
purged, and which amounts a person had really read.
"""

from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Generic, TypeVar

from inventory.domain.learning import Count, Interval

K = TypeVar("K", bound=Hashable)
_WEEK = timedelta(weeks=1)


@dataclass(frozen=True, slots=True)
class Counted:
    """What a count found of an article, in base units, and when."""

    count: Count
    qty: int
    at: datetime


@dataclass(frozen=True, slots=True)
class Flow:
    """A change of stock that is no use and no count correction, in base units; what went is negative."""

    qty: int
    at: datetime


@dataclass(frozen=True, slots=True)
class Attempt(Generic[K]):
    """One attempt that an article served.

    Attributes:
        need: what it was for; None where the whole amount is known.
        known: of what it took, what is known: tip volume and purge, or all of it.
        at: when it happened, whenever it was booked.
        variance: how far ``known`` may be off, squared.
    """

    need: K | None
    known: int
    at: datetime
    variance: float = 0.0


def intervals(
    counts: Sequence[Counted], flows: Iterable[Flow], attempts: Iterable[Attempt[K]], now: datetime
) -> tuple[Interval[K], ...]:
    """What disappeared between each count of an article and its next one, oldest first.

    What happens at the very moment of a count lies before it.
    """
    ordered = sorted(counts, key=lambda each: each.at)
    moved, served = tuple(flows), tuple(attempts)
    return tuple(_between(start, end, moved, served, now) for start, end in pairwise(ordered))


def _between(
    start: Counted, end: Counted, flows: Iterable[Flow], attempts: Iterable[Attempt[K]], now: datetime
) -> Interval[K]:
    inside = [each for each in attempts if start.at < each.at <= end.at]
    came = sum(each.qty for each in flows if start.at < each.at <= end.at)
    return Interval(
        start.count,
        end.count,
        start.qty + came - end.qty,
        Counter(each.need for each in inside if each.need is not None),
        sum(each.known for each in inside),
        (now - end.at) / _WEEK,
        sum(each.variance for each in inside),
    )

"""How stock ages: the shelf is walked forward in time, earliest expiry first, and what is left past its date is lost.

This is the only model of ageing in the program. A *parcel* is a quantity that ages together: the sealed stack of a
lot at a place, one opened unit, or a delivery on order. At each period of the walk the use is served from the opened
units that are still in their life, then from the earliest effective use-by, undated parcels last; a use-by date is
inclusive. A sealed unit that is opened on the way starts its opened life, and its rest is lost when that ends. What
can't be served is short and does not come back.

The walk moves whole tables at once: one row for each possible course of the use. One row with the mean use is the
deterministic version; many rows are the distribution. Parcels on hold are left out, expired ones too; both are told.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING

from inventory.domain.use_by import in_date

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


NEVER = 10**6  # days from today; stands for "no date limits it"
WEEK = 7
MONTH = 28  # days: longest period of a walk in which nothing but use happens
LEAST_LOOK = 26 * WEEK  # days; so far at least, to see when stock runs out that has no date
LONGEST_LOOK = 366 * 5  # days; stock that outlasts five years is not a question of ageing
MILLION = 1_000_000


class IssueOrder(StrEnum):
    """Which parcel is taken first. The practice issues by earliest expiry; the other is for comparison."""

    EARLIEST_EXPIRY = "earliest_expiry"
    LATEST_EXPIRY = "latest_expiry"


@dataclass(frozen=True)
class Parcel:
    """A quantity that ages together.

    Args:
        key: the caller's name for it, handed back in the results.
        qty: content, in base units.
        use_by: effective last day of use, inclusive; None where nothing limits it.
        opened: one opened unit (taken first).
        arrives: the day it is expected, for a delivery on order; None for what is there.
        cents: what all of it cost.
        held: on hold or recalled: never used, never counted.
    """

    key: str
    qty: int
    use_by: date | None = None
    opened: bool = False
    arrives: date | None = None
    cents: int = 0
    held: bool = False


@dataclass(frozen=True)
class OpenedLife:
    """What opening does to an item: content of a unit (base units) and the days its rest stays usable."""

    unit_qty: int
    days: int


@dataclass(frozen=True)
class Uses:
    """Use over time: period k starts ``days[k]`` days from today; ``amounts[path, k]`` base units are taken then.

    ``end`` is the first day not looked at any more. Every path is equally likely.
    """

    days: tuple[int, ...]
    end: int
    amounts: NDArray[np.int64]


@dataclass(frozen=True)
class Fate:
    """What becomes of one parcel within the walk.

    Args:
        key: the parcel's.
        qty: its content at the start, in base units.
        lost: expected outdating, in base units, to the nearest one.
        lost_cents: the same in money.
        used_up: chance, in a million, that nothing of it is lost.
    """

    key: str
    qty: int
    lost: int
    lost_cents: int
    used_up: int


@dataclass(frozen=True)
class Outlook:
    """The walk's result.

    Args:
        fates: of every usable parcel, in issue order.
        usable: what may be used now, in base units.
        arriving: what is on order, in base units.
        expired: what is past its date but still on the shelf, in base units.
        held: what is on hold, in base units.
        runs_out: day from which use can't be served in full, by 10, 50 and 90 % of the paths; None beyond the walk's
            end. Within a period the use is taken to be even.
        short: expected use that can't be served within the walk, in base units.
    """

    fates: tuple[Fate, ...]
    usable: int
    arriving: int
    expired: int
    held: int
    runs_out: tuple[date | None, date | None, date | None]
    short: int

    @property
    def lost(self) -> int:
        """Expected outdating of everything, in base units."""
        return sum(fate.lost for fate in self.fates)

    @property
    def lost_cents(self) -> int:
        return sum(fate.lost_cents for fate in self.fates)


@dataclass
class Shelf:
    """Stock on its way through time: tables of one row a path and one column a parcel, in issue order.

    ``last`` is each column's last day of use and ``comes`` the day it is there, both in days from today. All three, and
    ``opened``, are tables too or one row for all. ``unit_qty`` and ``opened_days`` are what opening does, for each row;
    None where it does nothing.
    """

    stock: NDArray[np.int64]
    last: NDArray[np.int64]
    comes: NDArray[np.int64]
    opened: NDArray[np.bool_]
    unit_qty: NDArray[np.int64] | None = None
    opened_days: NDArray[np.int64] | None = None
    lost: NDArray[np.int64] = field(init=False)
    rest: NDArray[np.int64] = field(init=False)
    rest_last: NDArray[np.int64] = field(init=False)

    def __post_init__(self) -> None:
        import numpy as np  # noqa: PLC0415 - loaded only when planning runs

        self.lost = np.zeros_like(self.stock)
        self.rest = np.zeros_like(self.stock)  # of units opened on the way, under the column they came from
        self.rest_last = np.full(len(self.stock), NEVER, dtype=np.int64)

    def period(self, day: int | NDArray[np.int64], use: NDArray[np.int64]) -> NDArray[np.int64]:
        """Let what ended before ``day`` be lost, then serve one use per path.

        Args:
            day: in days from today; one for all, or one for each path.
            use: base units, one for each path.

        Returns:
            What could not be served, for each path.
        """
        import numpy as np  # noqa: PLC0415 - loaded only when planning runs

        self.expire(day)
        there = self.stock * (self.comes <= np.asarray(day)[..., None])
        if self.unit_qty is not None and self.opened_days is not None:
            return self._open_and_serve(there, use, self.unit_qty[:, None], day + self.opened_days)
        taken = serve(there, use)
        self.stock -= taken
        return np.asarray(use - taken.sum(axis=1))

    def expire(self, day: int | NDArray[np.int64]) -> None:
        """Move everything whose last day of use lies before ``day`` to what is lost."""
        import numpy as np  # noqa: PLC0415 - loaded only when planning runs

        gone = self.stock * (self.last < np.asarray(day)[..., None])
        self.stock -= gone
        self.lost += gone
        if self.unit_qty is not None:
            over = self.rest * (self.rest_last < day)[:, None]
            self.rest -= over
            self.lost += over

    def _open_and_serve(
        self, there: NDArray[np.int64], use: NDArray[np.int64], unit: NDArray[np.int64], rest_until: NDArray[np.int64]
    ) -> NDArray[np.int64]:
        import numpy as np  # noqa: PLC0415 - loaded only when planning runs

        taken = serve(there * self.opened, use)
        self.stock -= taken
        use = use - taken.sum(axis=1)
        taken = serve(self.rest, use)
        self.rest -= taken
        use = use - taken.sum(axis=1)
        sealed = there * ~self.opened
        taken = serve(sealed, use)
        out = np.minimum(-(-taken // unit) * unit, sealed)
        self.stock -= out
        left = out - taken
        fresh = left.any(axis=1)
        self.rest += left
        origin_last = np.where(left > 0, self.last, NEVER).min(axis=1)
        self.rest_last = np.where(fresh, np.minimum(origin_last, rest_until), self.rest_last)
        return np.asarray(use - taken.sum(axis=1))


def serve(stock: NDArray[np.int64], use: NDArray[np.int64]) -> NDArray[np.int64]:
    """Take a use from the columns in their order.

    Args:
        stock: ``[..., columns]`` base units, first column first.
        use: ``[...]`` base units.

    Returns:
        What is taken from each column; its sum is the use, or everything where that is less.
    """
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    before = stock.cumsum(axis=-1) - stock
    return np.asarray(np.minimum(np.maximum(use[..., None] - before, 0), stock))


def in_issue_order(parcels: Sequence[Parcel], order: IssueOrder = IssueOrder.EARLIEST_EXPIRY) -> list[Parcel]:
    """Parcels as they are taken: opened ones first, then by effective use-by, undated last, then by arrival."""
    turned = -1 if order is IssueOrder.LATEST_EXPIRY else 1

    def place(parcel: Parcel) -> tuple[bool, int, date]:
        last = parcel.use_by.toordinal() if parcel.use_by else date.max.toordinal() + 1
        return (not parcel.opened, turned * last, parcel.arrives or date.min)

    return sorted(parcels, key=place)


def usable_parcels(parcels: Sequence[Parcel], today: date) -> list[Parcel]:
    """Parcels that may be used today or when they arrive: in date and not on hold."""
    return [p for p in parcels if not p.held and p.qty > 0 and in_date(p.use_by, today)]


def periods(parcels: Sequence[Parcel], today: date, end: int, longest: int = MONTH, weekly: int = 0) -> tuple[int, ...]:
    """Starts of the walk's periods, cut where a parcel arrives or has ended.

    Args:
        parcels: what is there and on order.
        today: day 0.
        end: first day not looked at any more.
        longest: most days a period may have.
        weekly: so many days from today on are walked week by week.
    """
    cuts = {*range(0, min(end, weekly), WEEK), *range(min(end, weekly), end, longest)}
    cuts.update((p.use_by - today).days + 1 for p in parcels if p.use_by)
    cuts.update((p.arrives - today).days for p in parcels if p.arrives)
    return tuple(sorted(day for day in cuts if 0 <= day < end))


def mean_uses(means: Sequence[float], days: Sequence[int], end: int) -> Uses:
    """The single path of mean use, from the mean of each period.

    It is rounded over the whole course, so that nothing is gained or lost by rounding.
    """
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    reached = [round(total) for total in (0.0, *accumulate(means))]
    amounts = [[b - a for a, b in pairwise(reached)]]
    return Uses(tuple(days), end, np.array(amounts, dtype=np.int64).reshape(1, len(days)))


def look_ahead(parcels: Sequence[Parcel], today: date) -> int:
    """First day, counted from today, on which every dated parcel has ended: from half a year to five years."""
    ends = [(p.use_by - today).days + 1 for p in usable_parcels(parcels, today) if p.use_by]
    return max(LEAST_LOOK, min(LONGEST_LOOK, max(ends, default=0)))


@dataclass(frozen=True)
class Case:
    """One shelf to walk: what is there and what is on order, the use, and how opening limits a unit's life."""

    parcels: Sequence[Parcel]
    uses: Uses
    life: OpenedLife | None = None


def walk(
    parcels: Sequence[Parcel],
    uses: Uses,
    today: date,
    life: OpenedLife | None = None,
    order: IssueOrder = IssueOrder.EARLIEST_EXPIRY,
) -> Outlook:
    """Walk the shelf forward.

    Args:
        parcels: what is there and what is on order.
        uses: one path (deterministic) or many (distribution).
        today: day 0 of the walk.
        life: how opening limits a unit's life; None where the leaflet states nothing.
        order: which parcel is taken first.

    Returns:
        Expected outdating by parcel, the chance that each is used up in time, the day the stock runs out.
    """
    return walk_all([Case(parcels, uses, life)], today, order)[0]


def walk_all(cases: Sequence[Case], today: date, order: IssueOrder = IssueOrder.EARLIEST_EXPIRY) -> list[Outlook]:
    """`walk` for many shelves at once: their paths are rows of one table, each with its own periods."""
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    if not cases:
        return []
    columns = [in_issue_order(usable_parcels(case.parcels, today), order) for case in cases]
    paths = [len(case.uses.amounts) for case in cases]
    shelf = set_up(cases, columns, paths, today)
    first_short, short = _run(shelf, cases, np.array(paths))
    starts = [0, *accumulate(paths)]
    return [
        _outlook(case, parcels, shelf.lost[a:b], first_short[a:b], short[a:b], today=today)
        for case, parcels, (a, b) in zip(cases, columns, pairwise(starts), strict=True)
    ]


def set_up(cases: Sequence[Case], columns: Sequence[Sequence[Parcel]], paths: Sequence[int], today: date) -> Shelf:
    """The table of all shelves before the walk.

    Args:
        cases: the shelves.
        columns: the usable parcels of each, in issue order.
        paths: number of courses of each.
        today: day 0.
    """
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    width = max(1, *map(len, columns))  # a shelf with nothing on it still has a place for it

    def table(value: Callable[[Parcel], int]) -> NDArray[np.int64]:
        rows = [[value(p) for p in parcels] + [0] * (width - len(parcels)) for parcels in columns]
        return np.repeat(np.array(rows, dtype=np.int64).reshape(len(cases), width), paths, axis=0)

    shelf = Shelf(
        stock=table(lambda p: p.qty),
        last=table(lambda p: (p.use_by - today).days if p.use_by else NEVER),
        comes=table(lambda p: (p.arrives - today).days if p.arrives else 0),
        opened=table(lambda p: p.opened).astype(np.bool_),
    )
    if any(case.life for case in cases):
        lives = [case.life or OpenedLife(1, NEVER) for case in cases]
        shelf.unit_qty = np.repeat([life.unit_qty for life in lives], paths)
        shelf.opened_days = np.repeat([life.days for life in lives], paths)
    return shelf


def schedule(cases: Sequence[Case], paths: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Each row's starts of periods with the walk's end behind them, and its use in each period.

    A shelf with fewer periods than another one ends with periods of no length and no use.
    """
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    longest = max(len(case.uses.days) for case in cases)
    starts = [[*c.uses.days, *[c.uses.end] * (longest + 1 - len(c.uses.days))] for c in cases]
    days = np.repeat(np.array(starts, dtype=np.int64), paths, axis=0)
    uses = np.zeros((len(days), longest), dtype=np.int64)
    for case, row in zip(cases, np.cumsum(paths) - paths, strict=True):
        uses[row : row + len(case.uses.amounts), : len(case.uses.days)] = case.uses.amounts
    return days, uses


def _run(shelf: Shelf, cases: Sequence[Case], paths: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First short day of every path, and the use that it can't serve."""
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    days, uses = schedule(cases, paths)
    ends = days[:, -1]
    first_short = np.full(len(ends), NEVER, dtype=np.int64)
    total = np.zeros(len(ends), dtype=np.int64)
    for k in range(uses.shape[1]):
        day, after, use = days[:, k], days[:, k + 1], uses[:, k]
        short = shelf.period(day, use)
        total += short
        reached = day + (after - day) * (use - short) // np.maximum(use, 1)
        first_short = np.where((short > 0) & (first_short == NEVER), reached, first_short)
    shelf.expire(ends)
    return first_short, total


def _outlook(
    case: Case,
    columns: Sequence[Parcel],
    lost: NDArray[np.int64],
    first_short: NDArray[np.int64],
    short: NDArray[np.int64],
    *,
    today: date,
) -> Outlook:
    return Outlook(
        fates=_fates(columns, lost),
        usable=sum(p.qty for p in columns if p.arrives is None),
        arriving=sum(p.qty for p in columns if p.arrives is not None),
        expired=sum(p.qty for p in case.parcels if not p.held and not in_date(p.use_by, today)),
        held=sum(p.qty for p in case.parcels if p.held),
        runs_out=_runs_out(first_short, today),
        short=_nearest(int(short.sum()), len(short)),
    )


def _fates(columns: Sequence[Parcel], lost: NDArray[np.int64]) -> tuple[Fate, ...]:
    paths = len(lost)
    totals = [int(total) for total in lost.sum(axis=0)]
    kept = [int(count) for count in (lost == 0).sum(axis=0)]
    return tuple(
        Fate(p.key, p.qty, _nearest(total, paths), _nearest(total * p.cents, paths * p.qty), used * MILLION // paths)
        for p, total, used in zip(columns, totals, kept, strict=False)  # the table may be wider than this shelf
    )


def _runs_out(first_short: NDArray[np.int64], today: date) -> tuple[date | None, date | None, date | None]:
    ordered = sorted(int(day) for day in first_short)

    def reached(percent: int) -> date | None:
        day = ordered[max(0, -(-percent * len(ordered) // 100) - 1)]
        return None if day == NEVER else today + timedelta(days=day)

    return reached(10), reached(50), reached(90)


def _nearest(total: int, parts: int) -> int:
    return (2 * total + parts) // (2 * parts)

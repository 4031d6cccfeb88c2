"""How stock goes down: what is usable week by week, and the day on which each parcel is used up.

The walk is the one of `shelf`, looked at on its way. Many drawn courses of use give the band of what will be there;
the one course of mean use gives the day on which each parcel ends.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from inventory.domain.courses import PATHS, draw_uses, mean_course
from inventory.domain.demand import Demand, Forecast
from inventory.domain.shelf import (
    WEEK,
    Case,
    OpenedLife,
    Parcel,
    Shelf,
    in_issue_order,
    look_ahead,
    periods,
    schedule,
    set_up,
    usable_parcels,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

BAND = (10, 50, 90)  # percent of the courses


@dataclass(frozen=True, slots=True)
class Level:
    """What is usable at the beginning of a day, in base units: at most ``low`` in 10 of 100 courses, and so on."""

    day: date
    low: int
    median: int
    high: int


def levels(
    parcels: Sequence[Parcel],
    demand: Demand,
    today: date,
    life: OpenedLife | None = None,
    *,
    end: int,
    generator: np.random.Generator,
    paths: int = PATHS,
) -> tuple[Level, ...]:
    """What is usable from today on, at least once a week, over drawn courses of use.

    Args:
        parcels: what is there and what is on order.
        demand: what will use it.
        today: day 0.
        life: how opening limits a unit's life.
        end: first day not looked at any more, in days from today.
        generator: draws the courses.
        paths: number of courses.
    """
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    days = periods(parcels, today, end, longest=WEEK)
    uses = draw_uses(demand, today, days, end, generator=generator, paths=paths)
    moments = _Walk([Case(parcels, uses, life)], today).moments()
    bands = (np.percentile(moment.there.sum(axis=1), BAND, method="inverted_cdf") for moment in moments)
    return tuple(
        Level(today + timedelta(days=day), *(int(qty) for qty in band)) for day, band in zip(days, bands, strict=True)
    )


@dataclass(frozen=True)
class Stocked:
    """One item's shelf and demand."""

    parcels: Sequence[Parcel]
    demand: Demand
    life: OpenedLife | None = None


@dataclass(frozen=True, slots=True)
class Ending:
    """How a parcel ends at mean use: the day on which all of it is used, None where none is foreseen; what is lost."""

    used_up: date | None
    lost: int


def endings(items: Sequence[Stocked], today: date) -> list[Mapping[str, Ending]]:
    """How each usable parcel ends at mean use, by its key, for each item.

    Args:
        items: shelves and demands, all walked at once.
        today: day 0.
    """
    if not items:
        return []
    walk = _Walk([_mean_case(one, today) for one in items], today)
    days: dict[tuple[int, int], date] = {}
    for moment in walk.moments():
        for row, column in zip(*(place.tolist() for place in moment.emptied.nonzero()), strict=True):
            days[row, column] = today + timedelta(days=int(moment.reached[row, column]))
    lost = walk.lost()
    return [
        {parcel.key: Ending(days.get((row, at)), int(lost[row, at])) for at, parcel in enumerate(parcels)}
        for row, parcels in enumerate(walk.columns)
    ]


def _mean_case(one: Stocked, today: date) -> Case:
    end = look_ahead(one.parcels, today)
    days = periods(one.parcels, today, end, longest=WEEK)
    return Case(one.parcels, mean_course(Forecast(one.demand, today), days, end), one.life)


@dataclass(frozen=True)
class _Moment:
    """One period: what is usable at its beginning, which parcels it uses up, and on which day (from today) each."""

    there: NDArray[np.int64]
    emptied: NDArray[np.bool_]
    reached: NDArray[np.int64]


class _Walk:
    """A walk of several shelves at once, looked at before and after the use of every period."""

    def __init__(self, cases: Sequence[Case], today: date) -> None:
        import numpy as np  # noqa: PLC0415 - loaded only when planning runs

        self.columns = [in_issue_order(usable_parcels(case.parcels, today)) for case in cases]
        paths = [len(case.uses.amounts) for case in cases]
        self._shelf = set_up(cases, self.columns, paths, today)
        self._days, self._uses = schedule(cases, np.array(paths))

    def moments(self) -> Iterator[_Moment]:
        for k in range(self._uses.shape[1]):
            yield self._moment(self._shelf, self._days[:, k], self._days[:, k + 1], self._uses[:, k])

    def lost(self) -> NDArray[np.int64]:
        """What was lost of each parcel, in base units, once all moments are over."""
        self._shelf.expire(self._days[:, -1])
        return self._shelf.lost

    @staticmethod
    def _moment(shelf: Shelf, day: NDArray[np.int64], after: NDArray[np.int64], use: NDArray[np.int64]) -> _Moment:
        import numpy as np  # noqa: PLC0415 - loaded only when planning runs

        shelf.expire(day)
        there = shelf.stock * (shelf.comes <= day[:, None]) + shelf.rest
        shelf.period(day, use)
        emptied = (there > 0) & (shelf.stock + shelf.rest == 0)
        served = np.minimum(there.cumsum(axis=1), use[:, None])  # within a period the use is taken to be even
        reached = day[:, None] + (after - day)[:, None] * served // np.maximum(use, 1)[:, None]
        return _Moment(there, emptied, reached)

"""Possible courses of the use of an item, drawn from its demand, for the shelf walk.

Each course first draws how many visits a week there really are (the rate is only learned), then the visits of every
period, then what each takes. The caller brings the generator, so the same seed gives the same courses.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING

from inventory.domain.demand import Booking, Demand, Forecast, Rate, StepUse
from inventory.domain.shelf import (
    Case,
    OpenedLife,
    Outlook,
    Parcel,
    Uses,
    look_ahead,
    mean_uses,
    periods,
    walk,
    walk_all,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

PATHS = 400
NEAR = 56  # days in which opened lives are walked week by week; further off, month by month


def outlook(
    parcels: Sequence[Parcel],
    demand: Demand,
    today: date,
    life: OpenedLife | None = None,
    *,
    end: int | None = None,
    generator: np.random.Generator | None = None,
    paths: int = PATHS,
) -> Outlook:
    """Walk the shelf, until every dated parcel has ended (at most five years) where no end is given.

    Args:
        parcels: what is there and what is on order.
        demand: what will use it.
        today: day 0.
        life: how opening limits a unit's life.
        end: first day not looked at any more, in days from today.
        generator: draws the courses; None walks the mean use alone.
        paths: number of courses.

    Returns:
        The walk's result: with a generator its chances and run-out days are those of the distribution.
    """
    if generator is None:
        return walk_all([mean_case(parcels, Forecast(demand, today), today, life, end)], today)[0]
    end = look_ahead(parcels, today) if end is None else end
    days = periods(parcels, today, end, weekly=NEAR if life else 0)
    return walk(parcels, draw_uses(demand, today, days, end, generator=generator, paths=paths), today, life)


def mean_case(
    parcels: Sequence[Parcel], forecast: Forecast, today: date, life: OpenedLife | None = None, end: int | None = None
) -> Case:
    """The shelf with its mean use, to be walked until every dated parcel has ended, or to an end."""
    end = look_ahead(parcels, today) if end is None else end
    days = periods(parcels, today, end, weekly=NEAR if life else 0)
    return Case(parcels, mean_course(forecast, days, end), life)


def mean_course(forecast: Forecast, days: Sequence[int], end: int) -> Uses:
    """The one course of mean use, bookings on their days."""
    reached = [forecast.expected(day) for day in (*days, end)]
    return mean_uses([after - before for before, after in pairwise(reached)], days, end)


def draw_uses(
    demand: Demand, today: date, days: Sequence[int], end: int, *, generator: np.random.Generator, paths: int
) -> Uses:
    """Draw courses of the use.

    Args:
        demand: what will use the item.
        today: day 0.
        days: start of each period, in days from today.
        end: first day not looked at any more.
        generator: the source of chance, seeded by the caller.
        paths: number of courses.

    Returns:
        ``paths`` rows of whole base units, one column a period.
    """
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    forecast = Forecast(demand, today)
    amounts = np.zeros((paths, len(days)))
    for stream in demand.streams:
        reached = [forecast.visits(stream, day)[0] for day in (*days, end)]
        visits = _visits(stream.rate, np.diff(reached).clip(0), generator, paths)
        for step in stream.steps:
            amounts += _amounts(step, visits, generator)
    for day, booking in forecast.bookings:
        if day < end:
            amounts[:, bisect_right(days, day) - 1] += _booked_amount(booking, generator, paths)
    return Uses(tuple(days), end, np.rint(amounts).astype(np.int64))


def _visits(rate: Rate, means: NDArray[np.float64], generator: np.random.Generator, paths: int) -> NDArray[np.int64]:
    """Visits by path and period: the rate is drawn once a path, the counts around it with its variance ratio."""
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    evidence = rate.weekly * rate.weeks / rate.ratio
    belief = (
        generator.gamma(evidence, 1 / evidence, paths) if np.isfinite(evidence) and evidence > 0 else np.ones(paths)
    )
    expected = np.outer(belief, means)
    if rate.ratio > 1:
        shape = expected / (rate.ratio - 1)
        expected = generator.gamma(shape) * (rate.ratio - 1)
    return generator.poisson(expected)


def _amounts(step: StepUse, visits: NDArray[np.int64], generator: np.random.Generator) -> NDArray[np.float64]:
    """What a step takes at so many visits together: a sum of gamma amounts is a gamma amount again."""
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    times, part = divmod(step.chance, 1)
    done = visits * int(times) + (generator.binomial(visits, part) if part > 0 else 0)
    attempts = done + generator.binomial(done, step.retake) if step.retake > 0 else done
    if step.sd <= 0:
        return np.asarray(attempts * (step.mean + step.fixed))
    shape = (step.mean / step.sd) ** 2
    return np.asarray(generator.gamma(attempts * shape) * step.mean / shape + attempts * step.fixed)


def _booked_amount(booking: Booking, generator: np.random.Generator, paths: int) -> NDArray[np.float64]:
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    came = (generator.random(paths) < booking.shows).astype(np.int64)
    total = np.zeros(paths)
    for step in booking.steps:
        total += _amounts(step, came, generator)
    return total

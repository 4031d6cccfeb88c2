"""Whether each booked visit can be done: from stock, once a delivery has come, or not at all unless somebody orders.

Stock is walked forward in the order of the visits. A visit is *ready* where everything it needs is there on its day
after the visits before it took theirs; *ready if* where a delivery that is on its way makes it so; *short* otherwise.
What a short visit needs stays claimed by it, for it comes first and what it lacks will be ordered: so neither a lot nor
a delivery more ever makes a visit less ready. That is exact for pieces, and for material of one article a need that is
not split, as long as no opened rest ends within the weeks looked at. Beyond that whole loads out of single cartridges
make a puzzle that no quick rule always solves: of random shelves made to be difficult, one in sixty thousand broke the
law where rests end, one in four thousand with substitutes, and one in seven hundred where split loads and scarce tips
come together.

Reusable trays come back: one that was used is there again some days later, see `Stack.back_after`.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from inventory.domain.allocation import Allocation, Shortfall, Stack
from inventory.domain.estimates import ExpectedLine, LineKey, serve_visits
from inventory.domain.supply import Coming, Supply

Wanted = tuple[date, Sequence[ExpectedLine]]


class Answer(StrEnum):
    """The three answers."""

    READY = "ready"
    IF = "ready if"
    SHORT = "short of"


@dataclass(frozen=True, slots=True)
class Ready:
    """How one visit stands.

    Attributes:
        waits_for: the deliveries that make it ready, in the order in which they come.
        short: what it lacks even with every delivery; empty unless the answer is SHORT.
    """

    waits_for: tuple[Coming, ...] = ()
    short: tuple[Shortfall[LineKey], ...] = ()

    @property
    def answer(self) -> Answer:
        if self.short:
            return Answer.SHORT
        return Answer.IF if self.waits_for else Answer.READY


def readiness(
    visits: Sequence[Wanted], stacks: Collection[Stack], coming: Iterable[Coming] = (), units: Mapping[int, int] = {}
) -> tuple[Ready, ...]:
    """Walk the stock forward and say how each visit stands.

    Args:
        visits: day and lines of each, in the order in which they are served; trays of unknown size left out.
        stacks: what is in usable places.
        coming: what is on order; a day that is past counts as today.
        units: by item on order, the content of one sealed unit in base units (1 where not given).

    Returns:
        One answer for each visit, in their order.
    """
    now = serve_visits(visits, stacks, ahead=True)
    wanted = {item for (_, lines), served in zip(visits, now, strict=True) for item in _lacking(lines, served)}
    helping = (one for one in coming if one.item_id in wanted)
    arriving = sorted(helping, key=lambda one: (one.arrives, one.order, one.item_id))
    waits: list[tuple[Coming, ...] | None] = [() if served.complete else None for served in now]
    last = now
    for number in range(1, len(arriving) + 1):
        if None not in waits:
            break
        if number < len(arriving) and _together(arriving[number - 1], arriving[number]):
            continue
        so_far = arriving[:number]
        last = serve_visits(visits, [*stacks, *_stacks(so_far, units)], ahead=True)
        for visit, (_, lines) in enumerate(visits):
            if waits[visit] is None and last[visit].complete:
                lacking = _lacking(lines, now[visit])
                waits[visit] = tuple(one for one in so_far if one.item_id in lacking)
    return tuple(
        Ready(short=served.shortfalls) if waited is None else Ready(waited)
        for waited, served in zip(waits, last, strict=True)
    )


def last_order_day(supply: Supply, needed_on: date) -> date:
    """The last day on which an order can be placed that is there on the day it is needed."""
    day = needed_on - timedelta(days=supply.lead_days)
    if not supply.order_weekdays:
        return day
    return next(d for d in (day - timedelta(days=n) for n in range(7)) if d.weekday() in supply.order_weekdays)


def _together(one: Coming, other: Coming) -> bool:
    """Two lines of one order that come on one day are one delivery."""
    return (one.arrives, one.order) == (other.arrives, other.order)


def _stacks(coming: Sequence[Coming], units: Mapping[int, int]) -> list[Stack]:
    """What is on order as stock that is there from its day on; it has no number in the book yet."""
    return [
        Stack(-number, 0, one.item_id, one.qty, units.get(one.item_id, 1), one.arrives, arrives=one.arrives)
        for number, one in enumerate(coming, start=1)
    ]


def _lacking(lines: Sequence[ExpectedLine], served: Allocation[LineKey]) -> set[int]:
    """Articles that would serve what a visit lacks."""
    short = {(one.key.need_id, one.key.tip) for one in served.shortfalls}
    return {
        article
        for line in lines
        for tip in (False, True)
        if (line.need.need_id, tip) in short
        for article in (line.need.tip.articles if tip and line.need.tip else line.articles)
    }

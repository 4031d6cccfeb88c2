"""Topping up an operatory to its own level from the store room: how many units of which stacks are carried.

A level counts sealed units that may be used today: what stands open there is in use and does not count, nor does what
is expired, on hold or recalled. From the store room goes what expires first, undated stock last, and only what may be
used. So the level is never passed, and nothing is carried that nobody may use.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.domain.use_by import in_date


@dataclass(frozen=True, slots=True)
class Stack:
    """The sealed stack of a lot at one place: whole units, its effective use-by (inclusive), whether it is blocked."""

    holding_id: int
    item_id: int
    units: int
    last_day: date | None
    blocked: bool
    received: date
    walk_order: int = 0

    def usable(self, today: date) -> bool:
        """Whether it may be used: neither on hold nor recalled, and in date."""
        return not self.blocked and in_date(self.last_day, today)


@dataclass(frozen=True, slots=True)
class Pick:
    """So many units of one stack."""

    holding_id: int
    units: int


@dataclass(frozen=True, slots=True)
class TopUp:
    """What is done for one item: its level, what is there, what is carried, and what the store room lacks for it."""

    item_id: int
    level: int
    there: int
    picks: tuple[Pick, ...]

    @property
    def carried(self) -> int:
        return sum(pick.units for pick in self.picks)

    @property
    def lacks(self) -> int:
        """Units that are still missing after it."""
        return max(0, self.level - self.there - self.carried)


def top_up(levels: Mapping[int, int], there: Iterable[Stack], store: Sequence[Stack], today: date) -> tuple[TopUp, ...]:
    """What to carry for each item that has a level of its own, in the order of the levels.

    Args:
        levels: by item, to how many sealed units the place is topped up.
        there: the sealed stacks at the place.
        store: the sealed stacks in the store rooms.
        today: the practice-local date.
    """
    stands: dict[int, int] = {}
    for stack in there:
        if stack.usable(today):
            stands[stack.item_id] = stands.get(stack.item_id, 0) + stack.units
    free = sorted((stack for stack in store if stack.usable(today)), key=_goes_first)
    return tuple(
        TopUp(item, level, stands.get(item, 0), tuple(_picks(item, level - stands.get(item, 0), free)))
        for item, level in levels.items()
    )


def _goes_first(stack: Stack) -> tuple[date, date, int, int]:
    return stack.last_day or date.max, stack.received, stack.walk_order, stack.holding_id


def _picks(item_id: int, wanted: int, stacks: Iterable[Stack]) -> Iterable[Pick]:
    for stack in stacks:
        units = min(wanted, stack.units)
        if stack.item_id == item_id and units > 0:
            wanted -= units
            yield Pick(stack.holding_id, units)

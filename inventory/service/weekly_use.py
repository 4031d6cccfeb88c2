"""What an item's weeks looked like: what was used in each, and what was thrown away.

What visits took counts as used, purges of mixing tips included; of items used by count alone, the units opened, and
pieces found missing. What was lost while working or discarded stands apart.
"""

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain.vocabulary import BaseUnit, MovementKind, WayOfUse
from inventory.errors import BadInput, NotFound
from inventory.service.practice import Practice
from inventory.store.queries import planning, weekly

WEEKS = 26
MOST_WEEKS = 104
USED = {MovementKind.USE, MovementKind.PURGE, MovementKind.OPENING, MovementKind.COUNT}
LOST = {MovementKind.WASTE, MovementKind.DISCARD}


@dataclass(frozen=True, slots=True)
class Week:
    """One week from its Monday on: base units used, and base units wasted or discarded."""

    begins: date
    used: int
    lost: int


@dataclass(frozen=True, slots=True)
class WeeklyUse:
    """An item's weeks, oldest first; the last one is under way. Quantities in base units.

    Attributes:
        mean: used in a full week.
    """

    today: date
    item: str
    name: str
    base: BaseUnit
    unit_qty: int
    weeks: tuple[Week, ...]

    @property
    def full(self) -> tuple[Week, ...]:
        """The weeks that are over."""
        return self.weeks[:-1]

    @property
    def mean(self) -> int:
        return round(sum(week.used for week in self.full) / len(self.full)) if self.full else 0

    @property
    def used(self) -> int:
        return sum(week.used for week in self.weeks)

    @property
    def lost(self) -> int:
        return sum(week.lost for week in self.weeks)


def weekly_use(practice: Practice, item: str, *, weeks: int = WEEKS) -> WeeklyUse:
    """What was used of an item in each of the last weeks.

    Args:
        practice: the practice at work.
        item: its code.
        weeks: so many, the one under way included.

    Raises:
        NotFound: no such item.
        BadInput: no number of weeks that can be looked at.
    """
    if not 2 <= weeks <= MOST_WEEKS:
        raise BadInput(f"weeks: {weeks} is not from 2 to {MOST_WEEKS}.", "Look at fewer weeks.")
    with practice.reading() as desk:
        known = planning.items(desk.session)
        row = next((row for row in known.values() if row.code == item.strip().upper()), None)
        if row is None or row.id is None:
            raise NotFound(f"There is no item {item!r}.", "Look it up with 'items'.")
        first = desk.today - timedelta(days=desk.today.weekday() + 7 * (weeks - 1))
        taken = weekly.taken_by_day(desk.session, row.id, first, (*_uses(row.way_of_use, row.base), *LOST))
        used: Counter[date] = Counter()
        lost: Counter[date] = Counter()
        for on, kind, qty in taken:
            (used if kind in USED else lost)[on - timedelta(days=on.weekday())] += qty
        mondays = (first + timedelta(weeks=week) for week in range(weeks))
        seen = tuple(Week(monday, used[monday], lost[monday]) for monday in mondays)
        return WeeklyUse(desk.today, row.code, row.name, row.base, row.unit_qty, seen)


def _uses(way: WayOfUse, base: BaseUnit) -> tuple[MovementKind, ...]:
    """Which movements are use: of what is used by count, what was opened; of pieces, what was found missing."""
    if way is not WayOfUse.COUNT:
        return MovementKind.USE, MovementKind.PURGE
    return (MovementKind.USE, MovementKind.COUNT) if base is BaseUnit.PIECE else (MovementKind.OPENING,)

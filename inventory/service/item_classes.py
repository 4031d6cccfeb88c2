"""Which items to count how often, why, and which are due: classes by the value of their use and by need.

The value is what went at work in the last year, at the price of each lot. An item is due when it was not counted for
longer than its weeks; one that never was, that long after its first delivery. Where nothing is on the shelf there is
nothing to count.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from inventory.domain import abc_classes as law
from inventory.domain.abc_classes import Classed, Sums, Valued
from inventory.domain.usage import account
from inventory.domain.vocabulary import Criticality
from inventory.domain.words import clean
from inventory.service import catalogue
from inventory.service.practice import Desk, Practice
from inventory.service.usage import changes, lot_prices
from inventory.store.queries import classes as query
from inventory.store.queries import planning
from inventory.store.queries import usage as moved

YEAR = timedelta(days=365)


@dataclass(frozen=True, slots=True)
class ItemClass:
    """An item in its class, and its counts.

    Attributes:
        classed: class, category, weeks, the arithmetic.
        unpriced: base units used in the year without a known price; they are not in the value.
        last_counted: the last day something of it was counted; None: never.
        since: that day, else the day the first of it came; None where nothing is on the shelf.
    """

    code: str
    classed: Classed
    unpriced: int
    last_counted: date | None
    since: date | None

    @property
    def name(self) -> str:
        return self.classed.item.name

    @property
    def due_on(self) -> date | None:
        """The last day on which the next count is in time."""
        return None if self.since is None else self.since + timedelta(weeks=self.classed.weeks)

    def due(self, today: date) -> bool:
        """Whether it was not counted for longer than its weeks."""
        return self.due_on is not None and today > self.due_on


@dataclass(frozen=True, slots=True)
class ItemClasses:
    """All items in use, most value first."""

    today: date
    since: date
    lines: tuple[ItemClass, ...]
    sums: tuple[Sums, ...]

    @property
    def due(self) -> tuple[ItemClass, ...]:
        """The items to be counted now, longest due first."""
        late = [line for line in self.lines if line.due(self.today)]
        return tuple(sorted(late, key=lambda line: (line.due_on or self.today, line.code)))


def item_classes(practice: Practice) -> ItemClasses:
    """The classes of all items in use, and when each is to be counted."""
    with practice.reading() as desk:
        return classes_of(desk)


def classes_of(desk: Desk) -> ItemClasses:
    """The same within a unit of work."""
    since = desk.today - YEAR + timedelta(days=1)
    items = planning.items(desk.session)
    valued, unpriced = _values(desk, since)
    found = law.classes(
        (
            Valued(number, item.name, valued.get(number, 0), item.criticality, item.count_every_weeks)
            for number, item in items.items()
        ),
        desk.settings["abc_percent"], desk.settings["count_weeks"],
    )  # fmt: skip
    counted, first, there = _counted(desk), query.first_received(desk.session), moved.on_hand(desk.session)
    lines = []
    for one in found:
        number = one.item.item_id
        start = counted.get(number, first.get(number)) if there.get(number) else None
        lines.append(ItemClass(items[number].code, one, unpriced.get(number, 0), counted.get(number), start))
    return ItemClasses(desk.today, since, tuple(lines), law.sums(found))


def set_counting(
    practice: Practice,
    code: str,
    *,
    criticality: Criticality | None = None,
    weeks: int | None = None,
    usual: bool = False,
    by: str,
    reason: str = "",
) -> ItemClass:
    """Judge an item: how badly it is missed, and how often it is counted.

    Args:
        practice: the practice at work.
        code: the item's code.
        criticality: another one; None leaves it.
        weeks: weeks of its own between counts.
        usual: forget them again: counted by its category.
        by: initials.
        reason: why, in a few words.

    Raises:
        NotFound: no such item.
        BadInput: no such number of weeks, or unknown initials.
    """
    reason = clean(reason, "reason", 500, needed=False)
    draft = catalogue.item(practice, code).draft
    if criticality is not None:
        draft = replace(draft, criticality=criticality)
    if weeks is not None or usual:
        draft = replace(draft, count_every_weeks=None if usual else weeks)
    saved = catalogue.change_item(practice, code, draft, by=by, reason=reason)
    return next(line for line in item_classes(practice).lines if line.code == saved.name)


def _values(desk: Desk, since: date) -> tuple[dict[int, int], dict[int, int]]:
    """By item: the value of what went at work since a day, in cents; and what of it has no price, in base units."""
    rows = [row for row in moved.moved(desk.session, since, desk.today) if row.kind in moved.AT_WORK]
    lots = moved.lots(desk.session, {row.lot_id for row in rows})
    known = planning.items(desk.session, {lot.item_id for lot in lots.values()})
    prices = lot_prices(desk, lots)
    value, unpriced = {}, {}
    for number, of_item in changes(rows, lots, known).items():
        _, cents, without = account(of_item, prices)
        value[number], unpriced[number] = max(cents.at_work, 0), without
    return value, unpriced


def _counted(desk: Desk) -> dict[int, date]:
    """By item: the practice-local day of its last count, by a round or by a correction."""
    found = {number: at.astimezone(desk.zone).date() for number, at in query.last_read(desk.session).items()}
    for number, on in query.last_corrected(desk.session).items():
        found[number] = max(on, found.get(number, on))
    return found

"""What became of stock in a period: used, purged, retaken, lost, expired, thrown away, miscounted; and what it cost.

A practice that orders well still loses money where nobody looks: in tips, in retakes, on the shelf. So every change of
stock of a period is put under exactly one heading, and the headings of an item come to what its stock changed by, to
the last unit:

    received - used - purged - retaken - lost - expired - discarded - returned + miscounted = after - before

A retake costs its material, its tip and its purge again: all of that stands under *retaken*. What is thrown away on or
after its last day of use is *expired*. Openings and transfers only move stock and have no heading. What was undone
cancels itself: a reversal happened on the day of what it undoes, and turns its sign.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta
from enum import StrEnum
from fractions import Fraction
from math import sqrt

from inventory.domain.vocabulary import BaseUnit, ItemKind, MovementKind


class Became(StrEnum):
    """The headings; the values are the fields of `Account`."""

    RECEIVED = "received"
    USED = "used"
    PURGED = "purged"
    RETAKEN = "retaken"
    LOST = "lost"
    EXPIRED = "expired"
    DISCARDED = "discarded"
    RETURNED = "returned"
    MISCOUNTED = "miscounted"


ADDED = (Became.RECEIVED, Became.MISCOUNTED)
"""What is told as it changed the stock; of everything else it is told how much went."""

_AT_WORK = {MovementKind.USE: Became.USED, MovementKind.PURGE: Became.PURGED}
_ELSE = {
    MovementKind.RECEIPT: Became.RECEIVED,
    MovementKind.WASTE: Became.LOST,
    MovementKind.RETURN: Became.RETURNED,
    MovementKind.COUNT: Became.MISCOUNTED,
}


def became(
    kind: MovementKind, attempt: int | None = None, on: date | None = None, last_day: date | None = None
) -> Became | None:
    """The heading of a movement; None for one that only moves stock.

    Args:
        kind: what it is.
        attempt: of a step, 2 and more for a retake.
        on: the day a discard happened.
        last_day: the last day of use of what was discarded; None where nothing limits it.
    """
    if kind in _AT_WORK:
        return Became.RETAKEN if (attempt or 1) > 1 else _AT_WORK[kind]
    if kind is MovementKind.DISCARD:
        late = on is not None and last_day is not None and on >= last_day
        return Became.EXPIRED if late else Became.DISCARDED
    return _ELSE.get(kind)


@dataclass(frozen=True, slots=True)
class Account:
    """What became of stock, by heading, in base units of one item or in cents.

    ``received`` and ``miscounted`` are signed as they changed the stock (miscounted below 0: less was there than the
    book said); all others tell how much went.
    """

    received: int = 0
    used: int = 0
    purged: int = 0
    retaken: int = 0
    lost: int = 0
    expired: int = 0
    discarded: int = 0
    returned: int = 0
    miscounted: int = 0

    @classmethod
    def of(cls, changes: Iterable[tuple[Became, int]]) -> "Account":
        """From signed changes of stock."""
        sums = dict.fromkeys(Became, 0)
        for heading, qty in changes:
            sums[heading] += qty if heading in ADDED else -qty
        return cls(**{heading.value: total for heading, total in sums.items()})

    def at(self, heading: Became) -> int:
        """What stands under a heading."""
        return int(getattr(self, heading.value))

    @property
    def change(self) -> int:
        """What all of it changed the stock by."""
        return sum(self.at(heading) * (1 if heading in ADDED else -1) for heading in Became)

    @property
    def at_work(self) -> int:
        """What went at work: used, purged, retaken and lost."""
        return self.used + self.purged + self.retaken + self.lost

    @property
    def wasted(self) -> int:
        """What went without serving a first attempt, missing stock included; found stock makes up for it."""
        return self.purged + self.retaken + self.lost + self.expired + self.discarded - self.miscounted

    def __add__(self, other: "Account") -> "Account":
        return Account(*(getattr(self, each.name) + getattr(other, each.name) for each in fields(self)))


@dataclass(frozen=True, slots=True)
class Price:
    """What a lot cost: a pack's price in cents, the units in it, the base units in one."""

    pack_cents: int
    units_per_pack: int
    unit_qty: int

    def of(self, qty: int) -> Fraction:
        """The exact cost of an amount, in cents."""
        return Fraction(qty * self.pack_cents, self.unit_qty * self.units_per_pack)


@dataclass(frozen=True, slots=True)
class Change:
    """Signed changes of one lot under one heading, in base units."""

    lot_id: int
    heading: Became
    qty: int


def account(changes: Sequence[Change], prices: dict[int, Price]) -> tuple[Account, Account, int]:
    """What became of an item, in base units and in cents, and how much of what moved has no known price.

    Cents are rounded once for each heading.
    """
    worth = dict.fromkeys(Became, Fraction(0))
    unpriced = 0
    for change in changes:
        if change.lot_id in prices:
            worth[change.heading] += prices[change.lot_id].of(change.qty)
        else:
            unpriced += abs(change.qty)
    qty = Account.of((change.heading, change.qty) for change in changes)
    return qty, Account.of((heading, round(cents)) for heading, cents in worth.items()), unpriced


@dataclass(frozen=True, slots=True)
class Spread:
    """Costs of several visits, in cents: their mean, their standard deviation (None for one alone), the extremes."""

    number: int
    mean: int
    sd: int | None
    lowest: int
    highest: int
    total: int


def spread(cents: Sequence[int]) -> Spread:
    """The spread of at least one cost; the standard deviation is that of a sample (n - 1)."""
    number, total = len(cents), sum(cents)
    squares = number * sum(each * each for each in cents) - total * total
    sd = round(sqrt(squares / (number * (number - 1)))) if number > 1 else None
    return Spread(number, round(Fraction(total, number)), sd, min(cents), max(cents), total)


@dataclass(frozen=True, slots=True)
class ItemUse:
    """What became of one item; ``before`` and ``after`` are its stock at both ends, in base units.

    ``unpriced`` base units moved without a known price and are not in ``cents``.
    """

    item_id: int
    code: str
    name: str
    kind: ItemKind
    base: BaseUnit
    before: int
    after: int
    qty: Account
    cents: Account
    unpriced: int


@dataclass(frozen=True, slots=True)
class KindCost:
    """What the materials of a kind of visit cost; ``unpriced`` visits used something without a known price."""

    case_kind: str
    name: str
    cost: Spread
    unpriced: int


@dataclass(frozen=True, slots=True)
class Usage:
    """The report of a period, both days included.

    Attributes:
        since, until: the period.
        currency: of all money, which is in cents.
        items: those of which anything moved, most money first.
        cents: all items together.
        kinds: cost of materials by kind of visit, most money first.
        beside_cents: what went at work without a visit, e.g. a bottle used up.
    """

    since: date
    until: date
    currency: str
    items: tuple[ItemUse, ...]
    cents: Account
    kinds: tuple[KindCost, ...]
    beside_cents: int


PERIODS = ("this month", "last month", "this quarter", "last quarter", "this year", "last year", "twelve months")


def period(word: str, today: date) -> tuple[date, date]:
    """First and last day of one of `PERIODS`, not beyond today.

    Raises:
        KeyError: no such period.
    """
    month = today.replace(day=1)
    quarter = month.replace(month=(today.month - 1) // 3 * 3 + 1)
    year = month.replace(month=1)
    day = timedelta(days=1)
    return {
        "this month": (month, today),
        "last month": (_months_before(month, 1), month - day),
        "this quarter": (quarter, today),
        "last quarter": (_months_before(quarter, 3), quarter - day),
        "this year": (year, today),
        "last year": (_months_before(year, 12), year - day),
        "twelve months": (_months_before(month, 11), today),
    }[word]


def _months_before(first: date, months: int) -> date:
    """The first of a month so many months before another first."""
    number = first.year * 12 + first.month - 1 - months
    return date(number // 12, number % 12 + 1, 1)

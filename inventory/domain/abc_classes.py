"""Which items to count more often: by the yearly value of their use, and by how badly they are missed.

Counting costs time, so it goes where a wrong book costs most. Two views are put together:

*By value (ABC).* Items are sorted by the value of a year's use, dearest first. Class A is what comes to the first 80 %
of all value, B what follows up to 95 %, C the rest; the item that crosses a limit still belongs before it. A few items
are A and most are C: 10 to 20 % of the items usually come to 75 to 80 % of the value, and the many of class C to 5 to
10 % (glossary of the Pharmaceutical Pricing and Reimbursement Information network, "ABC analysis", read; it follows
Managing Access to Medicines and Health Technologies, MDS-3, from memory).

*By need.* Vital, essential or normal, as the practice judges each item.

*Together* they are the three categories of the ABC-VEN matrix: I is A or vital, II is B or essential, III the rest
(Mohammed and Workneh, Integrated Pharmacy Research and Practice 9, 2020, use it so; from memory). A category is counted
every so many weeks: every 4, 13 and 26 are our own judgement and a practice's settings; an item may have weeks of its
own.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from inventory.domain.vocabulary import Criticality
from inventory.domain.why import CENTS, Derivation, Op, Term, derive

MILLION = 1_000_000
PERCENT: Mapping[str, int] = {"A": 80, "B": 95}
WEEKS: Mapping[str, int] = {"I": 4, "II": 13, "III": 26}  # own judgement: every month, quarter, half-year


class Value(StrEnum):
    """Classes by the value of use."""

    A = "A"
    B = "B"
    C = "C"


class Category(StrEnum):
    """Value and need together."""

    I = "I"  # noqa: E741 - as the matrix numbers them
    II = "II"
    III = "III"


@dataclass(frozen=True, slots=True)
class Valued:
    """An item before it is put into a class: the value of its use over a year, in cents, and what was decided of it."""

    item_id: int
    name: str
    cents: int
    criticality: Criticality
    every_weeks: int | None = None


@dataclass(frozen=True, slots=True)
class Classed:
    """An item in its class.

    Attributes:
        share_ppm: its share of all value, in a million; ``before_ppm`` that of all dearer items together.
        value, category: its class, and that with its criticality.
        weeks: it is counted every so many; ``own`` where the practice has set that for this item.
    """

    item: Valued
    share_ppm: int
    before_ppm: int
    value: Value
    category: Category
    weeks: int
    own: bool
    why: tuple[Derivation, ...]

    @property
    def cumulative_ppm(self) -> int:
        """Share of all value of this item and all dearer ones."""
        return self.before_ppm + self.share_ppm


def category(value: Value, criticality: Criticality) -> Category:
    """The category of the matrix."""
    if value is Value.A or criticality is Criticality.VITAL:
        return Category.I
    return Category.II if value is Value.B or criticality is Criticality.ESSENTIAL else Category.III


def classes(
    items: Iterable[Valued], percent: Mapping[str, int] = PERCENT, weeks: Mapping[str, int] = WEEKS
) -> tuple[Classed, ...]:
    """Items with their classes, most value first; those of the same value by name.

    Args:
        items: each with the value of a year's use, from 0 up.
        percent: where A and B end, in percent of all value.
        weeks: every how many weeks each category is counted.
    """
    ordered = sorted(items, key=lambda item: (-item.cents, item.name, item.item_id))
    total = sum(item.cents for item in ordered)
    found, before = [], 0
    for item in ordered:
        found.append(_classed(item, before, total, percent, weeks))
        before += item.cents
    return tuple(found)


def _classed(item: Valued, before: int, total: int, percent: Mapping[str, int], weeks: Mapping[str, int]) -> Classed:
    value = _value(item.cents, before, total, percent)
    which = category(value, item.criticality)
    every = weeks[which.value] if item.every_weeks is None else item.every_weeks
    before_ppm = _ppm(before, total)
    return Classed(
        item, _ppm(before + item.cents, total) - before_ppm, before_ppm, value, which, every,
        item.every_weeks is not None,
        (_place(item, value, before, total, percent), _counted(item, value, which, every)),
    )  # fmt: skip


def _value(cents: int, before: int, total: int, percent: Mapping[str, int]) -> Value:
    """A while all dearer items come to less than its limit, else B likewise; what is not used is C."""
    if cents:
        for value in (Value.A, Value.B):
            if 100 * before < percent[value.value] * total:
                return value
    return Value.C


def _ppm(part: int, total: int) -> int:
    return MILLION * part // total if total else 0


def _place(item: Valued, value: Value, before: int, total: int, percent: Mapping[str, int]) -> Derivation:
    """The item's place among all, by value."""
    limits = [
        Term(f"{name} goes up to {percent[name]} of 100 of it", total * percent[name] // 100, CENTS, Op.TOLD)
        for name in ("A", "B")
    ]
    terms = [
        Term("use of all items in a year", total, CENTS, Op.TOLD),
        *limits,
        Term("of items used for more", before, CENTS),
        Term("of this item", item.cents, CENTS),
    ]
    return derive(f"{item.name}: class {value} by value", terms, "this item and all dearer ones", CENTS)


def _counted(item: Valued, value: Value, which: Category, every: int) -> Derivation:
    """What follows for its counts."""
    source = "set for this item" if item.every_weeks is not None else f"category {which}"
    title = f"class {value} and {item.criticality}: category {which}"
    return derive(title, [Term(source, every, "weeks")], "counted every", "weeks")


@dataclass(frozen=True, slots=True)
class Sums:
    """What one class by value comes to."""

    value: Value
    items: int
    cents: int


def sums(found: Sequence[Classed]) -> tuple[Sums, ...]:
    """The three classes with their items and their value."""
    of = {value: [one.item.cents for one in found if one.value is value] for value in Value}
    return tuple(Sums(value, len(cents), sum(cents)) for value, cents in of.items())

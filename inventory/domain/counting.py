"""Counting: from what is read at a shelf to an amount, and from the amount to what the book has to say.

A shelf is the sealed stack of a lot at a place, or one opened unit. Sealed units and pieces are counted; what is left
in an opened unit is read in tenths of it by eye, or weighed with its package: gross less tare, by density.

In a working practice the stock changes while it is counted, and not everything is booked at once. So each reading knows
its moment, and the book is asked what it expected then: what is on hand, less all that happened after that moment. What
happened before it, booked or not, is in the reading. Hence two rules. The correction is the reading less what was
expected, and it stays right whatever happens until it is posted. And what happened before a count in force but is
booked after it changes the book by nothing where it was counted: the reading has it already.
"""

import re
from collections.abc import Container, Hashable, Mapping
from dataclasses import dataclass
from typing import TypeVar

from inventory.domain.quantity import PER_SIGN, parse_decimal, show
from inventory.domain.stock_lines import value_of
from inventory.domain.vocabulary import BaseUnit, CountMethod
from inventory.errors import BadInput

K = TypeVar("K", bound=Hashable)

TENTHS = 10
MG_PER_CG = 10  # 0.01 g
MOST = 100_000  # units on one shelf, tenths or grams: beyond any practice, so it was mistyped or a label was scanned
_OVERFULL = 20  # a full unit may weigh a twentieth more than its content says; own judgement

_TYPED = re.compile(
    r"(?P<n>\d+(?:[.,]\d+)?)\s*(?P<sign>t|tenths?|/10|g|w|u|units?|pcs?|pieces?)?", re.IGNORECASE | re.ASCII
)


@dataclass(frozen=True, slots=True)
class ShelfFacts:
    """What a reading needs to know of its shelf: the item's unit, and what a weight says.

    Attributes:
        base: the item's base unit.
        unit_qty: content of one unit, in base units.
        unit_name: what one is called.
        opened: one opened unit, else a sealed stack.
        tare_mg: what an empty unit weighs.
        density_mg_per_ml: of the material, for items in mL.
    """

    base: BaseUnit
    unit_qty: int
    unit_name: str
    opened: bool
    tare_mg: int | None = None
    density_mg_per_ml: int | None = None

    @property
    def in_part(self) -> bool:
        """Whether part of a unit can be left."""
        return self.opened and self.base is not BaseUnit.PIECE

    @property
    def method(self) -> CountMethod:
        """How a bare number is meant."""
        return CountMethod.TENTHS if self.in_part else CountMethod.UNITS

    @property
    def lacks(self) -> tuple[str, ...]:
        """What has to be known of the item before it can be weighed, in words."""
        missing = [] if self.tare_mg is not None else ["tare"]
        if self.base is BaseUnit.CML and not self.density_mg_per_ml:
            missing.append("density")
        return tuple(missing)


@dataclass(frozen=True, slots=True)
class Reading:
    """What was read: so many units, tenths of a unit, or milligrams with the package."""

    method: CountMethod
    number: int


def parse_reading(text: str, shelf: ShelfFacts, method: CountMethod | None = None) -> Reading:
    """Read what was typed: ``3`` (units, or tenths where it is opened), ``4t`` (tenths), ``62.5 g`` (with package).

    A ``w`` is a weight in grams too: it is the nearer key.

    Args:
        text: what was typed.
        shelf: what is counted.
        method: how a bare number is meant; None: as is usual there.

    Raises:
        BadInput: no number, too large, or a broken unit or tenth.
    """
    match = _TYPED.fullmatch(text.strip())
    if match is None:
        raise BadInput(f"count: {text!r} can't be read.", f"Type {_examples(shelf)}.")
    sign = (match["sign"] or "").lower()
    if sign.startswith(("t", "/")):
        meant = CountMethod.TENTHS
    elif sign in ("g", "w"):
        meant = CountMethod.WEIGHT
    else:
        meant = CountMethod.UNITS if sign else method or shelf.method
    number = parse_decimal(match["n"], 1_000 if meant is CountMethod.WEIGHT else 1, "count")
    if number > MOST * (1_000 if meant is CountMethod.WEIGHT else 1):
        raise BadInput(f"count: {text.strip()} is more than any shelf holds.", f"Type {_examples(shelf)}.")
    return Reading(meant, number)


def _examples(shelf: ShelfFacts) -> str:
    return "tenths, e.g. 4 or 4t, or the weight with its package, e.g. 62.5 g" if shelf.in_part else "a whole number"


def counted_qty(reading: Reading, shelf: ShelfFacts) -> int:
    """How much is there, in base units, rounded to the nearest (halves up).

    By weight: (gross - tare) / density, in mL; of what is kept in grams, gross - tare.

    Raises:
        BadInput: the shelf can't be read that way, what a weight needs is not known, or more than fits.
    """
    if reading.method is CountMethod.UNITS:
        return _of_units(reading.number, shelf)
    if not shelf.in_part:
        raise BadInput("count: only an opened unit is counted in part.", "Type a whole number.")
    if reading.method is CountMethod.TENTHS:
        if reading.number > TENTHS:
            raise BadInput(f"count: {reading.number} tenths are more than a full {shelf.unit_name}.", "Type 0 to 10.")
        return (2 * reading.number * shelf.unit_qty + TENTHS) // (2 * TENTHS)
    return _of_weight(reading.number, shelf)


def _of_units(number: int, shelf: ShelfFacts) -> int:
    if shelf.in_part:
        raise BadInput(
            f"count: an opened {shelf.unit_name} is not counted in whole ones.", "Type tenths, 0 to 10, or its weight."
        )
    if shelf.opened and number > 1:
        raise BadInput(f"count: this is one opened {shelf.unit_name}.", "Type 0 or 1; count sealed ones apart.")
    return number * shelf.unit_qty


def _of_weight(gross_mg: int, shelf: ShelfFacts) -> int:
    if shelf.lacks:
        raise BadInput(
            f"count: it can't be weighed, for its {' and '.join(shelf.lacks)} "
            f"{'are' if len(shelf.lacks) > 1 else 'is'} not known.",
            "Count it in tenths, or enter what is missing with the item.",
        )
    net = gross_mg - (shelf.tare_mg or 0)
    if net < 0:
        raise BadInput(
            f"count: {show_grams(gross_mg)} is less than an empty one, {show_grams(shelf.tare_mg or 0)}.",
            "Weigh it again, or type 0 tenths where it is empty.",
        )
    if shelf.base is BaseUnit.CG:
        qty = (2 * net + MG_PER_CG) // (2 * MG_PER_CG)
    else:
        density = shelf.density_mg_per_ml or 0
        qty = (2 * net * PER_SIGN[BaseUnit.CML] + density) // (2 * density)
    if qty * _OVERFULL > shelf.unit_qty * (_OVERFULL + 1):
        raise BadInput(
            f"count: by its weight it would hold {show(qty, shelf.base)}, more than a full one "
            f"({show(shelf.unit_qty, shelf.base)}).",
            "Weigh it again, or check the item's tare and density.",
        )
    return min(qty, shelf.unit_qty)


def reading_unit_qty(method: CountMethod, shelf: ShelfFacts) -> int:
    """One step of a reading, in base units: a whole unit, a tenth of one, or a milligram, but never less than one."""
    if method is CountMethod.UNITS:
        return shelf.unit_qty
    return max(1, (shelf.unit_qty + TENTHS // 2) // TENTHS) if method is CountMethod.TENTHS else 1


def show_reading(reading: Reading) -> str:
    """A reading in words: ``3``, ``4 tenths``, ``62.5 g with package``."""
    if reading.method is CountMethod.TENTHS:
        return f"{reading.number} tenth{'' if reading.number == 1 else 's'}"
    return f"{show_grams(reading.number)} with package" if reading.method is CountMethod.WEIGHT else str(reading.number)


def show_grams(mg: int) -> str:
    """Milligrams as people read a balance: ``62500`` as ``62.5 g``."""
    whole, rest = divmod(mg, 1_000)
    decimals = f".{rest:03d}".rstrip("0") if rest else ""
    return f"{whole}{decimals} g"


@dataclass(frozen=True, slots=True)
class Compared:
    """A reading beside the book, in base units: what was counted, and what the book expected at that moment."""

    counted: int
    on_hand: int
    moved_since: int

    @property
    def expected(self) -> int:
        """What the book says was there: what is on hand less what happened after the reading."""
        return self.on_hand - self.moved_since

    @property
    def difference(self) -> int:
        """What has to be posted; negative where something is missing."""
        return self.counted - self.expected

    @property
    def after(self) -> int:
        """What the book will say is there now; below nothing where more was taken since than was counted."""
        return self.counted + self.moved_since


def money_of(difference: int, unit_qty: int, pack_cents: int, units_per_pack: int) -> int:
    """A difference in cents at the price of a pack, with its sign."""
    value = value_of(abs(difference), unit_qty, pack_cents, units_per_pack)
    return -value if difference < 0 else value


def put_back(changes: Mapping[K, int], counted: Container[K]) -> dict[K, int]:
    """What keeps counts in force when something is booked that happened before them: the opposite, where counted.

    Args:
        changes: what the booking changes at each shelf, in base units.
        counted: the shelves that were counted after it had happened.
    """
    return {shelf: -qty for shelf, qty in changes.items() if qty and shelf in counted}

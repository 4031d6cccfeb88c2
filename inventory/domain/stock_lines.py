"""How one stack or one opened unit of stock is judged and valued, for every list that shows it.

A person needs one word for what she sees on a shelf. Several things can be true of one cartridge at once; the word is
the one that matters most: recalled before on hold before expired, then what has to be looked at soon.
"""

from datetime import date, timedelta
from enum import StrEnum

from inventory.domain.use_by import in_date
from inventory.domain.vocabulary import LateReason, UseByReading


class StockState(StrEnum):
    """What is to be said of a stack or an opened unit, gravest first."""

    RECALLED = "recalled"
    HELD = "on hold"
    EXPIRED = "expired"
    SOON = "expires soon"
    NOT_READ = "date not read"
    IN_DATE = "in date"
    NONE_STATED = "maker states no date"

    @property
    def usable(self) -> bool:
        """Whether it may be used, as far as its lot and its date go."""
        return self not in (StockState.RECALLED, StockState.HELD, StockState.EXPIRED)


GRAVITY = {state: rank for rank, state in enumerate(StockState)}


def state_of(
    last_day: date | None, reading: UseByReading, blocked: LateReason | None, today: date, warn_days: int
) -> StockState:
    """Judge one stack or opened unit.

    Args:
        last_day: effective use-by, inclusive; None where nothing limits it.
        reading: how the lot's own date was read.
        blocked: on hold or recalled.
        today: the practice-local date.
        warn_days: with so many days left or fewer it expires soon.
    """
    if blocked is not None:
        return StockState.RECALLED if blocked is LateReason.RECALLED else StockState.HELD
    if not in_date(last_day, today):
        return StockState.EXPIRED
    if last_day is not None and last_day <= today + timedelta(days=warn_days):
        return StockState.SOON
    if reading is UseByReading.NOT_READ:
        return StockState.NOT_READ
    return StockState.NONE_STATED if last_day is None else StockState.IN_DATE


def value_of(qty: int, unit_qty: int, pack_cents: int, units_per_pack: int) -> int:
    """Money value of an amount at the price of a pack, in cents, rounded to the nearest (halves up).

    Args:
        qty: amount, in base units.
        unit_qty: content of one unit, in base units.
        pack_cents: price of a pack.
        units_per_pack: units in that pack.
    """
    per = unit_qty * units_per_pack
    return (2 * qty * pack_cents + per) // (2 * per)

"""Which stock of one practice is better used at another: the money saved by carrying whole units of a lot over.

Both shelves are walked over the same drawn courses of their own use, as they stand and with so many units carried from
one to the other. Moving k units of a lot gains

    what the sender is expected to lose less, minus what the receiver is expected to lose more,

each in cents of what the stock cost; the receiver's own stock that would then expire instead is counted so. What would
expire here anyway gains a little even where the other practice will hardly ever use it, so how many are carried is
decided with a tenth of their price against them. Only whole sealed units are carried: an opened one does not travel.
The courses are drawn once for each shelf, so that two numbers of units differ by what was carried and not by chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from inventory.domain.courses import NEAR, draw_uses
from inventory.domain.demand import Demand
from inventory.domain.shelf import Case, OpenedLife, Parcel, Uses, look_ahead, periods, walk_all

PATHS = 400
MOST_TRIED = 40  # numbers of units that are tried; of more, as many spread evenly
CARRIED = "carried over"
WORTH = 10  # a further unit goes only where it gains more than this part of its price; own judgement


@dataclass(frozen=True)
class Shelved:
    """One article at one practice: its stock, what will use it there, how opening limits a unit's life."""

    parcels: tuple[Parcel, ...]
    demand: Demand
    today: date
    life: OpenedLife | None = None


@dataclass(frozen=True)
class Transfer:
    """So many units of a parcel, and what carrying them over is expected to save and to cost, in cents."""

    units: int
    saved_cents: int
    added_cents: int

    @property
    def gain_cents(self) -> int:
        return self.saved_cents - self.added_cents


def best_transfer(
    sender: Shelved, receiver: Shelved, key: str, unit_qty: int, *, days: int = 1, seed: int = 0, paths: int = PATHS
) -> Transfer | None:
    """The number of units of one sealed parcel that is best carried over; None where none is.

    Args:
        sender: where the parcel stands.
        receiver: where it would go.
        key: the parcel's.
        unit_qty: content of one sealed unit, in base units.
        days: how long it is on its way.
        seed: of the drawn courses.
        paths: number of courses.
    """
    parcel = next(one for one in sender.parcels if one.key == key)
    arrives = receiver.today + timedelta(days=days)
    if parcel.opened or parcel.held or parcel.use_by is None or parcel.use_by < arrives:
        return None
    numbers = _tried(parcel.qty // unit_qty)
    carried = [replace(part_of(parcel, k * unit_qty), key=CARRIED, arrives=arrives) for k in numbers]
    saved = _losses(sender, [sender.parcels, *(less(sender.parcels, key, one.qty) for one in carried)], seed, paths)
    added = _losses(receiver, [receiver.parcels, *((*receiver.parcels, one) for one in carried)], seed, paths)
    found = [
        (Transfer(k, saved[0] - after, more - added[0]), one.cents)
        for k, one, after, more in zip(numbers, carried, saved[1:], added[1:], strict=True)
    ]
    worth = [(transfer.gain_cents - cents / WORTH, -transfer.units, transfer) for transfer, cents in found]
    best = max(worth, key=lambda one: one[:2], default=None)
    return best[2] if best is not None and best[0] > 0 else None


def part_of(parcel: Parcel, qty: int) -> Parcel:
    """So much of a parcel, with its share of the cost."""
    return replace(parcel, qty=qty, cents=parcel.cents * qty // parcel.qty)


def less(parcels: Sequence[Parcel], key: str, qty: int) -> tuple[Parcel, ...]:
    """A shelf from which so much of one parcel is gone."""
    left = ((one, one.qty - qty if one.key == key else one.qty) for one in parcels)
    return tuple(one if rest == one.qty else part_of(one, rest) for one, rest in left if rest)


def _tried(units: int) -> list[int]:
    if units <= MOST_TRIED:
        return list(range(1, units + 1))
    return sorted({units * step // MOST_TRIED for step in range(1, MOST_TRIED + 1)} | {1})


def _losses(shelf: Shelved, variants: Sequence[tuple[Parcel, ...]], seed: int, paths: int) -> list[int]:
    """What is expected to expire of each variant of a shelf, in cents, over the same courses of use."""
    uses = _uses(shelf, variants[-1] if len(variants[-1]) > len(shelf.parcels) else shelf.parcels, seed, paths)
    return [outlook.lost_cents for outlook in walk_all([Case(one, uses, shelf.life) for one in variants], shelf.today)]


def _uses(shelf: Shelved, parcels: tuple[Parcel, ...], seed: int, paths: int) -> Uses:
    import numpy as np  # noqa: PLC0415 - loaded only when planning runs

    end = look_ahead(parcels, shelf.today)
    days = periods(parcels, shelf.today, end, weekly=NEAR if shelf.life else 0)
    generator = np.random.default_rng(seed)
    return draw_uses(shelf.demand, shelf.today, days, end, generator=generator, paths=paths)

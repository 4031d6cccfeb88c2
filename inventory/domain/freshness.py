"""Whether a pack is small enough to be used in its life, and what a short-dated delivery is worth.

Fresh case cover is the content of a pack over the mean use in the life of a fresh delivery (International Journal of
Production Economics 209, 2019, 265): above one half, part of a pack is likely to expire, and no ordering rule helps
against that; a smaller pack does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction
from typing import TYPE_CHECKING

from inventory.domain.courses import NEAR, PATHS, draw_uses, mean_course
from inventory.domain.demand import MILLION, Demand, Forecast
from inventory.domain.pack_choice import representative
from inventory.domain.shelf import OpenedLife, Parcel, look_ahead, periods, walk
from inventory.domain.vocabulary import BaseUnit
from inventory.domain.why import CENTS, Derivation, Op, Term, derive

if TYPE_CHECKING:
    import numpy as np

TOO_BIG = Fraction(1, 2)


@dataclass(frozen=True)
class FreshCover:
    """Fresh case cover: content of a pack and mean use in the mean life of a delivery, both in base units."""

    pack_qty: int
    use_in_life: int

    @property
    def percent(self) -> int:
        return round(100 * self.pack_qty / self.use_in_life)

    @property
    def too_big(self) -> bool:
        return Fraction(self.pack_qty, self.use_in_life) > TOO_BIG


def fresh_cover(pack_qty: int, daily: float, lives: Sequence[int]) -> FreshCover | None:
    """How much of what is used in a delivery's life one pack is; None where nothing is dated or nothing used."""
    use_in_life = round(daily * sum(lives) / len(lives)) if lives else 0
    return FreshCover(pack_qty, use_in_life) if use_in_life > 0 else None


@dataclass(frozen=True)
class ShortDated:
    """The price at which a short-dated delivery is worth taking, the discount to it in a million, and why."""

    worth_cents: int
    discount_ppm: int
    why: Derivation


def short_dated(
    parcels: Sequence[Parcel],
    delivery: Parcel,
    demand: Demand,
    today: date,
    *,
    base: BaseUnit,
    usual_lives: Sequence[int],
    life: OpenedLife | None = None,
    generator: np.random.Generator | None = None,
    paths: int = PATHS,
) -> ShortDated:
    """What discount would make a short-dated delivery worth taking.

    The shelf is walked with it and with the same delivery at the lives deliveries usually have, over the same courses
    of use; what expires more, of it or of the stock it is used before, is not worth paying for.

    Args:
        parcels: what is there and on order.
        delivery: the one offered: content, date, day it would come, full price.
        demand: what will use the item.
        today: the practice's date.
        base: the item's base unit.
        usual_lives: days left at delivery, of deliveries recorded.
        life: how opening limits a unit's life.
        generator: draws the courses; None walks the mean use alone.
        paths: number of courses.

    Returns:
        The price worth paying, rounded down.
    """
    comes = delivery.arrives or today
    usual = [replace(delivery, use_by=comes + timedelta(days=days)) for days in representative(usual_lives)]
    everything = [*parcels, delivery, *usual]
    end = look_ahead(everything, today)
    days = periods(everything, today, end, weekly=NEAR if life else 0)
    if generator is None:
        uses = mean_course(Forecast(demand, today), days, end)
    else:
        uses = draw_uses(demand, today, days, end, generator=generator, paths=paths)

    def lost(offered: Parcel) -> int:
        return walk([*parcels, offered], uses, today, life).lost

    offered = lost(delivery)
    ordinary = round(sum(lost(one) for one in usual) / len(usual)) if usual else 0
    more = min(delivery.qty, max(0, offered - ordinary))
    less = -(-delivery.cents * more // delivery.qty)
    terms = [
        Term("expected to expire in all with this delivery", offered, base.value, Op.TOLD),
        Term("with an ordinary delivery instead", ordinary, base.value, Op.TOLD),
        Term("content of the delivery", delivery.qty, base.value, Op.TOLD),
        Term("full price", delivery.cents, CENTS),
        Term("the part of it that would expire besides", less, CENTS, Op.MINUS),
    ]
    why = derive("What the short-dated delivery is worth", terms, "worth taking at", CENTS)
    return ShortDated(why.result.value, less * MILLION // max(1, delivery.cents), why)

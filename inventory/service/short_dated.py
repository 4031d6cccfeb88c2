"""What a short-dated delivery is worth: the discount from which on taking it costs no more than an ordinary one.

Some suppliers offer packs near their date at a lower price. The shelf is walked with the offer and with an ordinary
delivery instead, over the same drawn courses of use; what expires more is not worth paying for.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain.freshness import ShortDated, short_dated
from inventory.domain.position import NO_SUPPLY, Position
from inventory.domain.quantity import ceil_div, show, show_money
from inventory.domain.shelf import Parcel
from inventory.domain.supply import next_order_day
from inventory.domain.use_by import in_date
from inventory.domain.why import Derivation
from inventory.errors import BadInput, NotAllowed, NotFound
from inventory.service import forecasting
from inventory.service.forecasting import Picture
from inventory.service.practice import Desk, Practice
from inventory.store.queries import planning

MOST_PACKS = 10_000
OFFER = "offer"


@dataclass(frozen=True, slots=True)
class Offer:
    """A short-dated delivery and what it is worth.

    Attributes:
        packs, units, qty: content; ``qty`` in base units.
        arrives: the day it would come.
        usual_days: life that deliveries usually have, None where none was recorded.
        full_cents: its full price.
        worth_cents: worth taking at this price or below; ``discount_ppm`` off the full one, in a million.
    """

    item: str
    name: str
    packs: int
    units: int
    qty: int
    use_by: date
    arrives: date
    usual_days: int | None
    supplier: str
    full_cents: int
    worth_cents: int
    discount_ppm: int
    why: Derivation

    @property
    def discount_percent(self) -> int:
        """The discount in whole percent, rounded up: less is not enough."""
        return -(-self.discount_ppm // 10_000)

    @property
    def sentence(self) -> str:
        """Whether to take it, in words."""
        if self.discount_ppm == 0:
            return "all of it is expected to be used in time: worth its full price"
        if self.worth_cents == 0:
            return "all of it is expected to expire: not worth taking at any price"
        return f"worth taking at {show_money(self.worth_cents)} or below, {self.discount_percent} percent off"


def offer(practice: Practice, item: str, packs: int, use_by: date, *, seed: int = 0) -> Offer:
    """What discount makes a short-dated delivery worth taking.

    Args:
        practice: the practice at work.
        item: code of the item.
        packs: how many packs are offered.
        use_by: their date.
        seed: of the drawn courses of use; the same seed gives the same answer.

    Raises:
        NotFound: no such item.
        NotAllowed: the item has no supplier, so nothing is known of its packs.
        BadInput: no number of packs, or a date that is past when they come.
    """
    if not 1 <= packs <= MOST_PACKS:
        raise BadInput(f"packs: {packs} is not from 1 to {MOST_PACKS}.", "Correct it.")
    with practice.reading() as desk:
        picture = forecasting.picture(desk)
        positions = _positions(desk, picture)
        position = positions.get(next((n for n, p in positions.items() if p.code == item.strip().upper()), 0))
        if position is None:
            raise NotFound(f"There is no item {item!r}.", "Look it up with 'items'.")
        if position.supply is None:
            raise NotAllowed(f"{position.name} has no supplier.", "Say first how it is bought.")
        arrives = next_order_day(position.supply, desk.today) + timedelta(days=position.supply.lead_days)
        if not in_date(use_by, arrives):
            raise BadInput(
                f"use-by {use_by.isoformat()}: it would come on {arrives.isoformat()}, past its date.", "Don't take it."
            )
        units = packs * position.supply.units_per_pack
        found = _worth(position, _parcel(position, units, use_by, arrives), desk.today, seed)
        lives = sorted(position.lives)
        return Offer(
            position.code, position.name, packs, units, units * position.unit_qty, use_by, arrives,
            lives[len(lives) // 2] if lives else None, position.supply.supplier,
            position.supply.price(packs), found.worth_cents, found.discount_ppm, found.why,
        )  # fmt: skip


def remarks(desk: Desk, received_on: date, lines: Iterable[tuple[int, int, date | None]]) -> Iterator[str]:
    """What to say of a delivery in hand, for lines of which some is expected to expire; dated soon or not.

    Args:
        desk: the unit of work.
        received_on: the day it came.
        lines: item, sealed units, use-by.
    """
    dated = [(item_id, units, use_by) for item_id, units, use_by in lines if use_by and in_date(use_by, received_on)]
    soon = [one for one in dated if (one[2] - received_on).days < desk.settings["short_life_days"]]
    if not soon:
        return
    positions = _positions(desk, forecasting.picture(desk))
    for item_id, units, use_by in soon:
        position = positions.get(item_id)
        if position is None or position.supply is None:
            continue
        found = _worth(position, _parcel(position, units, use_by, desk.today), desk.today, 0)
        if found.discount_ppm:
            lost = show(units * position.unit_qty * found.discount_ppm // 1_000_000, position.base)
            price = show_money(found.worth_cents)
            yield f"{position.code}: about {lost} of it is expected to expire; worth {price}. Ask for a lower price."


def _parcel(position: Position, units: int, use_by: date, arrives: date) -> Parcel:
    """What is offered, at its full price; loose units at their share of a pack's."""
    supply = position.supply or NO_SUPPLY
    packs = ceil_div(units, supply.units_per_pack)
    cents = supply.price(packs) * units // (packs * supply.units_per_pack)
    return Parcel(OFFER, units * position.unit_qty, use_by, arrives=arrives, cents=cents)


def _worth(position: Position, delivery: Parcel, today: date, seed: int) -> ShortDated:
    import numpy as np  # noqa: PLC0415 - heavy, and only needed here

    return short_dated(
        position.parcels,
        delivery,
        position.demand,
        today,
        base=position.base,
        usual_lives=position.lives,
        life=position.opened_life,
        generator=np.random.default_rng(seed),
    )


def _positions(desk: Desk, picture: Picture) -> dict[int, Position]:
    return forecasting.positions(desk, picture, planning.preferred_supplies(desk.session, desk.today))

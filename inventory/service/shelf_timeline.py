"""Every lot on its way to its last day: how long it may still be used, and when use will have taken all of it.

Lots are walked forward at mean use, earliest expiry first, as the weekly check does; what is past its date or on hold
stands among them and says so.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from inventory.domain.levels import Ending, Stocked, endings
from inventory.domain.use_by import in_date
from inventory.domain.vocabulary import BaseUnit
from inventory.errors import NotFound
from inventory.service import forecasting
from inventory.service.practice import Practice
from inventory.store.queries import planning
from inventory.store.queries.stock import Stand


class LotEnd(StrEnum):
    """How a lot ends; the words are those shown."""

    USED_UP = "used up in time"
    EXPIRES = "not used up before its last day"
    LASTS = "lasts beyond what is foreseen"
    EXPIRED = "past its last day"
    HELD = "on hold or recalled"


@dataclass(frozen=True, slots=True)
class LotBar:
    """One lot with all that stands of it at places from which it is used; quantities in base units.

    Attributes:
        last_day: the last on which anything of it may be used, opened lives counted; None where nothing limits it.
        used_up: the day on which mean use has taken all of it.
        lost: expected to be left on its last day.
        cents: what it cost, as far as that is known; ``lost_cents`` of it for what will be left.
    """

    item_id: int
    item: str
    name: str
    base: BaseUnit
    unit_qty: int
    lot_id: int
    lot: str
    qty: int
    last_day: date | None
    used_up: date | None
    lost: int
    cents: int
    lost_cents: int
    end: LotEnd


@dataclass(frozen=True, slots=True)
class Timeline:
    """Lots, the one that ends first on top, undated ones last."""

    today: date
    item: str
    lots: tuple[LotBar, ...]

    def within(self, days: int) -> tuple[LotBar, ...]:
        """The lots whose last day comes within so many days, those past it left out."""
        until = self.today + timedelta(days=days)
        return tuple(lot for lot in self.lots if lot.last_day is not None and self.today <= lot.last_day <= until)

    def ending(self, end: LotEnd) -> tuple[LotBar, ...]:
        """The lots that end so."""
        return tuple(lot for lot in self.lots if lot.end is end)


def timeline(practice: Practice, item: str = "") -> Timeline:
    """The lots of all items, or of one.

    Args:
        practice: the practice at work.
        item: an item's code; empty for all.

    Raises:
        NotFound: no such item.
    """
    code = item.strip().upper()
    with practice.reading() as desk:
        picture = forecasting.picture(desk)
        positions = forecasting.positions(desk, picture, planning.preferred_supplies(desk.session, desk.today))
    wanted = {number: one for number, one in positions.items() if code in ("", one.code)}
    if code and not wanted:
        raise NotFound(f"There is no item {item!r}.", "Look it up with 'items'.")
    shelves = [Stocked(one.parcels, one.demand, one.opened_life) for one in wanted.values()]
    ends = {key: end for of_item in endings(shelves, picture.today) for key, end in of_item.items()}
    by_lot: dict[int, list[Stand]] = defaultdict(list)
    for stand in picture.stands:
        if stand.item_id in wanted and stand.place_role.usable and stand.on_hand > 0:
            by_lot[stand.lot_id].append(stand)
    names = {number: (one.code, one.name, one.base) for number, one in wanted.items()}
    cents = {parcel.key: parcel.cents for one in wanted.values() for parcel in one.parcels}
    bars = (_bar(stands, names, ends, cents, picture.today) for stands in by_lot.values())
    return Timeline(picture.today, code, tuple(sorted(bars, key=_by_last_day)))


def _bar(
    stands: Sequence[Stand],
    names: Mapping[int, tuple[str, str, BaseUnit]],
    ends: Mapping[str, Ending],
    cents: Mapping[str, int],
    today: date,
) -> LotBar:
    first = stands[0]
    code, name, base = names[first.item_id]
    days = [stand.last_day for stand in stands]
    last_day = None if None in days else max(day for day in days if day is not None)
    parts = [ends[str(stand.holding_id)] for stand in stands if str(stand.holding_id) in ends]
    used_up = [part.used_up for part in parts]
    all_used = None if None in used_up else max((day for day in used_up if day is not None), default=None)
    lost = sum(part.lost for part in parts)
    qty = sum(stand.on_hand for stand in stands)
    worth = sum(cents[str(stand.holding_id)] for stand in stands)
    return LotBar(
        first.item_id, code, name, base, first.unit_qty, first.lot_id, first.lot_number,
        qty, last_day, all_used, lost, worth, round(worth * lost / qty), _end(first, last_day, all_used, lost, today),
    )  # fmt: skip


def _end(stand: Stand, last_day: date | None, used_up: date | None, lost: int, today: date) -> LotEnd:
    if stand.blocked is not None:
        return LotEnd.HELD
    if not in_date(last_day, today):
        return LotEnd.EXPIRED
    if lost:
        return LotEnd.EXPIRES
    return LotEnd.USED_UP if used_up is not None else LotEnd.LASTS


def _by_last_day(bar: LotBar) -> tuple[date, str, str]:
    return bar.last_day or date.max, bar.name, bar.lot

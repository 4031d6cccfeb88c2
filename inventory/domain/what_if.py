"""What if: the same rules asked again with one thing changed, and both answers side by side.

A supplier delivers late; more visits of a kind come; an item is bought in another pack. Each change turns a tuple of
positions into another one, and nothing else differs: so what the comparison shows is the change and its consequences,
not a second way of computing. Changes can be put together, one after the other.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from inventory.domain.basket import SupplierTerms, fill_baskets
from inventory.domain.demand import Booking, StepUse
from inventory.domain.position import Position, Rules
from inventory.domain.reordering import Proposal
from inventory.domain.supply import Supply, next_order_day
from inventory.domain.vocabulary import BaseUnit

Positions = tuple[Position, ...]
MORE = "more"  # the kind of visits added, so that they are not taken for those expected anyway


@dataclass(frozen=True, slots=True)
class Figures:
    """How one item stands; quantities in base units.

    Attributes:
        runs_out: the day from which the mean use can't be served; None beyond what was looked at.
        arrives: the day an order placed today would be there; None without a supplier.
        packs: to order now, at ``cents``.
        to_expire: expected to expire of what is there, on order, and to be ordered; worth ``to_expire_cents``.
        unit_cents: price of a unit, None without a supplier.
        fresh_percent: of what is used in a fresh delivery's life, so much is one pack; None where nothing limits it.
    """

    runs_out: date | None
    arrives: date | None
    packs: int
    cents: int
    to_expire: int
    to_expire_cents: int
    unit_cents: int | None
    fresh_percent: int | None

    @property
    def margin_days(self) -> int | None:
        """Days for which there is still stock when an order placed today is there; below 0 there is a gap."""
        if self.runs_out is None or self.arrives is None:
            return None
        return (self.runs_out - self.arrives).days

    @property
    def gap_days(self) -> int:
        """Days without stock even if it is ordered today; 0 for none."""
        return max(0, -(self.margin_days or 0))


@dataclass(frozen=True, slots=True)
class Change:
    """One item before and after."""

    code: str
    name: str
    base: BaseUnit
    before: Figures
    after: Figures

    @property
    def matters(self) -> bool:
        """Something else changed than the day an order would be there."""
        return replace(self.before, arrives=self.after.arrives) != self.after or (
            self.before.gap_days != self.after.gap_days
        )


def late(positions: Positions, supplier: str, days: int) -> Positions:
    """A supplier delivers so many days later: what is on order of its items, and everything ordered from now on."""

    def delayed(position: Position) -> Position:
        supply = position.supply
        if supply is None or supply.supplier != supplier:
            return position
        parcels = tuple(
            replace(parcel, arrives=parcel.arrives + timedelta(days=days)) if parcel.arrives else parcel
            for parcel in position.parcels
        )
        return replace(position, parcels=parcels, supply=replace(supply, lead_days=supply.lead_days + days))

    return tuple(map(delayed, positions))


def spread(today: date, visits: int, within_days: int) -> tuple[date, ...]:
    """The days of so many more visits, evenly over the days to come."""
    return tuple(today + timedelta(days=1 + number * within_days // visits) for number in range(visits))


def more_visits(
    positions: Positions, kind: str, days: Sequence[date], steps: Mapping[str, tuple[StepUse, ...]]
) -> Positions:
    """More visits of a kind come, on top of those booked and those expected anyway.

    Args:
        positions: as they are.
        kind: names the kind.
        days: of the visits.
        steps: by item code, what one visit takes of it.
    """

    def busier(position: Position) -> Position:
        uses = steps.get(position.code, ())
        if not uses:
            return position
        extra = tuple(Booking(day, f"{MORE} {kind}", uses) for day in days)
        return replace(position, demand=replace(position.demand, bookings=(*position.demand.bookings, *extra)))

    return tuple(map(busier, positions))


def other_pack(positions: Positions, code: str, units: int, pack_cents: int) -> Positions:
    """An item is bought in packs of so many units at this price; what else is in a pack comes in proportion."""

    def repacked(position: Position) -> Position:
        if position.code != code or position.supply is None:
            return position
        return replace(position, supply=_repacked(position.supply, units, pack_cents))

    return tuple(map(repacked, positions))


def _repacked(supply: Supply, units: int, pack_cents: int) -> Supply:
    further = tuple((code, qty * units // supply.units_per_pack) for code, qty in supply.further)
    return replace(supply, units_per_pack=units, pack_cents=pack_cents, breaks=(), further=further)


def compare(
    before: Positions, after: Positions, terms: Mapping[str, SupplierTerms], today: date, rules: Rules
) -> tuple[Change, ...]:
    """Every item before and after, the one that fails first on top.

    Args:
        before: the positions as they are.
        after: the same items, in the same order, changed.
        terms: by supplier.
        today: the practice's date.
        rules: the practice's settings.
    """
    was, becomes = (_figures(positions, terms, today, rules) for positions in (before, after))
    changes = (Change(p.code, p.name, p.base, was[p.code], becomes[p.code]) for p in before)
    return tuple(sorted(changes, key=_urgency))


def fails_first(changes: Sequence[Change]) -> Change | None:
    """The item that is first without stock although it would be ordered today."""
    return next((change for change in changes if change.after.gap_days), None)


def nearest(changes: Sequence[Change]) -> Change | None:
    """The item that runs out soonest after an order placed today is there."""
    ending = [change for change in changes if change.after.margin_days is not None]
    return min(ending, key=lambda change: change.after.margin_days or 0, default=None)


def _urgency(change: Change) -> tuple[bool, date, str]:
    return (not change.after.gap_days, change.after.runs_out or date.max, change.name)


def _figures(positions: Positions, terms: Mapping[str, SupplierTerms], today: date, rules: Rules) -> dict[str, Figures]:
    baskets = fill_baskets(positions, terms, today, rules)
    proposals = {proposal.code: proposal for basket in baskets for proposal in basket.proposals}
    return {position.code: _figure(position, proposals[position.code], today) for position in positions}


def _figure(position: Position, proposal: Proposal, today: date) -> Figures:
    supply = position.supply
    arrives = next_order_day(supply, today) + timedelta(days=supply.lead_days) if supply else None
    ordered_cents = proposal.cents * proposal.to_expire // proposal.qty if proposal.qty else 0
    return Figures(
        runs_out=proposal.outlook.runs_out[1],
        arrives=arrives,
        packs=proposal.packs,
        cents=proposal.cents,
        to_expire=proposal.outlook.lost + proposal.to_expire,
        to_expire_cents=proposal.outlook.lost_cents + ordered_cents,
        unit_cents=round(supply.pack_cents / supply.units_per_pack) if supply else None,
        fresh_percent=proposal.fresh.percent if proposal.fresh else None,
    )

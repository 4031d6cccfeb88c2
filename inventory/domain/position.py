"""What the ordering rule looks at: an item's stock, its demand, how it is bought, and the practice's settings."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from inventory.domain import handbook
from inventory.domain.courses import mean_case
from inventory.domain.demand import Demand, Forecast
from inventory.domain.shelf import OpenedLife, Outlook, Parcel, walk_all
from inventory.domain.supply import Supply, covered_until
from inventory.domain.vocabulary import BaseUnit, Criticality

LOOK_DAYS = 84  # the mean use a day is taken over so many days to come
NO_USE = 1e-6  # base units a day that are as good as none
NO_SUPPLY = Supply("", 1, 0, 0)


class Mode(StrEnum):
    """Which rule proposes: by the risk of running short, or the handbook's minimum and maximum."""

    BY_RISK = "by_risk"
    MIN_MAX = "min_max"


@dataclass(frozen=True)
class MinRule:
    """The practice's own floor for an item, in base units: at or under ``low``, order up to ``high``."""

    low: int
    high: int


@dataclass(frozen=True)
class Rules:
    """The practice's settings for ordering; every default is our own judgement and editable.

    Args:
        mode: which rule proposes.
        review_days: days between two checks.
        vital_ppm, essential_ppm, normal_ppm: chance, in a million, that stock lasts until the next delivery.
        fee_share_ppm: share of a delivery's fee that one item is charged with.
        holding_ppm: cost of holding stock for a year, in a million of its price.
        months: settings of the minimum-maximum mode.
    """

    mode: Mode = Mode.BY_RISK
    review_days: int = 7
    vital_ppm: int = 995_000
    essential_ppm: int = 990_000
    normal_ppm: int = 990_000
    fee_share_ppm: int = 250_000
    holding_ppm: int = 100_000
    months: handbook.Months = field(default_factory=handbook.Months)

    def service_ppm(self, criticality: Criticality) -> int:
        """The service target of items of this criticality, in a million."""
        return {
            Criticality.VITAL: self.vital_ppm,
            Criticality.ESSENTIAL: self.essential_ppm,
            Criticality.NORMAL: self.normal_ppm,
        }[criticality]


@dataclass(frozen=True)
class Position:
    """One item as the check sees it.

    Args:
        code: the item's code.
        name: as the manager reads it.
        base: base unit of every quantity here.
        unit_qty: content of one sealed unit, in base units.
        parcels: what is there (held and expired included, marked or dated so) and what is on order (with its day).
        demand: what will use it.
        supply: the preferred way to buy it; None where there is none yet.
        criticality: sets the service target, unless ``service_ppm`` does.
        service_ppm: the item's own target, in a million.
        min_rule: the practice's own floor.
        lives: days of life left at delivery, of the deliveries recorded; empty where nothing is dated.
        opened_life: how opening limits a unit's life.
        along: base units that come in the packs of other items ordered today.
    """

    code: str
    name: str
    base: BaseUnit
    unit_qty: int
    parcels: tuple[Parcel, ...] = ()
    demand: Demand = field(default_factory=Demand)
    supply: Supply | None = None
    criticality: Criticality = Criticality.NORMAL
    service_ppm: int | None = None
    min_rule: MinRule | None = None
    lives: tuple[int, ...] = ()
    opened_life: OpenedLife | None = None
    along: int = 0

    @property
    def pack_qty(self) -> int:
        """Content of a pack, in base units; of one unit where nothing is known about packs."""
        return self.unit_qty * (self.supply.units_per_pack if self.supply else 1)

    def service(self, rules: Rules) -> int:
        """The chance, in a million, that the stock must last until the next delivery."""
        return rules.service_ppm(self.criticality) if self.service_ppm is None else self.service_ppm


@dataclass(frozen=True)
class Check:
    """One item at one check: what the rules ask of its demand, worked out once.

    Args:
        position: the item.
        today: the practice's date.
        rules: the practice's settings.
        forecast: its demand seen from today.
        until: the day an order placed at the next check could be on the shelf.
        daily: mean use a day over the next weeks, in base units; 0 where it is as good as none.
        soon: the shelf walk of the mean use, to that day.
        outlook: the same over the dated parcels' whole life.
    """

    position: Position
    today: date
    rules: Rules
    forecast: Forecast
    until: date
    daily: float
    soon: Outlook
    outlook: Outlook

    @property
    def supply(self) -> Supply:
        """How it is bought; one unit at no price where nothing is known."""
        return self.position.supply or NO_SUPPLY

    @property
    def weekly_cents(self) -> float:
        """What a week's mean use costs."""
        return 7 * self.daily * self.supply.pack_cents / self.position.pack_qty

    @property
    def days(self) -> int:
        """From today until ``until``."""
        return (self.until - self.today).days


def look(positions: Sequence[Position], today: date, rules: Rules) -> list[Check]:
    """Look at all items today, with one walk of all shelves."""
    forecasts = [Forecast(position.demand, today) for position in positions]
    untils = [covered_until(p.supply or NO_SUPPLY, today, rules.review_days) for p in positions]
    cases = []
    for position, forecast, until in zip(positions, forecasts, untils, strict=True):
        # What ends on the last day of the stretch has served all of it: the near walk stops the day before.
        near = max(1, (until - today).days - 1)
        cases.append(mean_case(position.parcels, forecast, today, position.opened_life, near))
        cases.append(mean_case(position.parcels, forecast, today, position.opened_life))
    walks = walk_all(cases, today)
    return [
        Check(position, today, rules, forecast, until, _daily(forecast), soon, outlook)
        for position, forecast, until, soon, outlook in zip(
            positions, forecasts, untils, walks[::2], walks[1::2], strict=True
        )
    ]


def _daily(forecast: Forecast) -> float:
    daily = forecast.expected(LOOK_DAYS) / LOOK_DAYS
    return daily if daily > NO_USE else 0.0

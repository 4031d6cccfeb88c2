"""When to order an item and how many packs: a proposal with its arithmetic; the manager decides.

At each check the stock that counts (usable, plus on order once, less what will expire unused) is compared with what may
be used until an order placed at the *next* check could arrive. That use is a distribution; the reorder point is the
amount that suffices with the chance asked for. At or under it, whole packs are ordered.

Stock on hold and stock past its date never count and are told. A practice that prefers the handbook's minimum and
maximum chooses that mode; `handbook.py` has its rules.
"""

import math
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import StrEnum
from fractions import Fraction

from inventory.domain import handbook
from inventory.domain.courses import outlook
from inventory.domain.demand import Demand, Distribution, expected_use, use_over
from inventory.domain.shelf import OpenedLife, Outlook, Parcel
from inventory.domain.supply import Supply, covered_until
from inventory.domain.vocabulary import BaseUnit, Criticality
from inventory.domain.why import CENTS, DAYS, PACKS, Derivation, Op, Term, derive

COUNTED = "stock that counts"
REORDER_POINT = "reorder point"


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


@dataclass(frozen=True)
class Proposal:
    """What to order of one item, and why.

    Args:
        code: the item's code.
        packs: whole packs to order; 0 for none.
        qty: their content of this item, in base units.
        cents: their price.
        counted: stock that counts: usable + on order - expected outdating, in base units.
        reorder_point: at or under this, order; in base units.
        order_up_to: what the order brings ``counted`` to, or the reorder point where nothing is ordered.
        expected_use: until ``until``, in base units.
        until: the day an order placed at the next check could be on the shelf.
        brings: further articles the packs hold: item code and base units.
        outlook: the deterministic shelf walk over the dated lots' whole life.
        why: the arithmetic, in order; every sum adds up and carries the results before it.
        warnings: plain sentences.
    """

    code: str
    packs: int
    qty: int
    cents: int
    counted: int
    reorder_point: int
    order_up_to: int
    expected_use: int
    until: date
    brings: tuple[tuple[str, int], ...]
    outlook: Outlook
    why: tuple[Derivation, ...]
    warnings: tuple[str, ...] = ()


def propose(position: Position, today: date, rules: Rules | None = None) -> Proposal:
    """Propose what to order of one item today.

    Args:
        position: the item, its stock, its demand and how it is bought.
        today: the practice's date.
        rules: the practice's settings.

    Returns:
        The proposal with its derivation. Without a supply nothing is ordered, and a warning says so.
    """
    rules = rules or Rules()
    supply = position.supply or Supply("", 1, 0, 0)
    until = covered_until(supply, today, rules.review_days)
    counted = _counted(position, today, until)
    simple = rules.mode is Mode.MIN_MAX
    level = _minimum(position, today, rules) if simple else _reorder_point(position, today, until, rules)
    top = _top(position, level.result, today, rules)
    review = rules.months.review if simple else handbook.Review.CONTINUOUS
    due = handbook.due(level.result.value, max(top.value, level.result.value + 1), counted.result.value, review)
    packs = _packs(position, counted.result, level.result, top if due and top.value else None)
    number = packs.result.value if position.supply and packs.result.unit == PACKS else 0
    qty = number * supply.units_per_pack * position.unit_qty
    return Proposal(
        code=position.code,
        packs=number,
        qty=qty,
        cents=supply.price(number),
        counted=counted.result.value,
        reorder_point=level.result.value,
        order_up_to=counted.result.value + qty if number else level.result.value,
        expected_use=round(expected_use(position.demand, today, until)),
        until=until,
        brings=tuple((code, number * each) for code, each in supply.further) if number else (),
        outlook=_outlook(position, today),
        why=(counted, level, packs, *([_price(supply, number)] if number else [])),
        warnings=() if position.supply else (f"{position.name}: no supplier is set, so nothing can be proposed.",),
    )


def use_until(position: Position, today: date, until: date) -> Distribution:
    """The distribution of the use until that day; pieces stay whole."""
    return use_over(position.demand, today, until, 1 if position.base is BaseUnit.PIECE else None)


def _outlook(position: Position, today: date, days: int | None = None) -> Outlook:
    return outlook(position.parcels, position.demand, today, position.opened_life, end=days)


def _counted(position: Position, today: date, until: date) -> Derivation:
    seen = _outlook(position, today, (until - today).days)
    unit = position.base.value
    terms = [
        Term("usable stock", seen.usable, unit),
        Term("on order", seen.arriving, unit),
        Term("expected to expire unused by then", seen.lost, unit, Op.MINUS),
    ]
    told = [("past its date, not counted", seen.expired), ("on hold, not counted", seen.held)]
    terms += [Term(name, qty, unit, Op.TOLD) for name, qty in told if qty]
    return derive(f"{position.name}: stock that counts until {until.isoformat()}", terms, COUNTED, unit)


def _reorder_point(position: Position, today: date, until: date, rules: Rules) -> Derivation:
    unit = position.base.value
    target = rules.service_ppm(position.criticality) if position.service_ppm is None else position.service_ppm
    mean = round(expected_use(position.demand, today, until))
    enough = max(mean, use_until(position, today, until).quantile(target)) if mean else 0
    terms = [
        Term("until an order of the next check could arrive", (until - today).days, DAYS, Op.TOLD),
        Term("expected use in these days", mean, unit),
        Term(f"safety, to suffice in {target / 10_000:g} of 100 cases", enough - mean, unit),
    ]
    if position.min_rule:
        terms.append(Term("the practice's own minimum", position.min_rule.low, unit, Op.AT_LEAST))
    return derive(f"{position.name}: when to order", terms, REORDER_POINT, unit)


def _minimum(position: Position, today: date, rules: Rules) -> Derivation:
    """The handbook's minimum: months of lead time and safety, at the expected monthly use."""
    unit = position.base.value
    title = f"{position.name}: minimum by the handbook"
    if position.min_rule:
        own = Term("the practice's own minimum", position.min_rule.low, unit)
        return derive(title, [own], REORDER_POINT, unit)
    levels = _handbook_levels(position, rules)
    monthly = _monthly_use(position, today)
    terms = [
        Term("expected use in a month", round(monthly), unit, Op.TOLD),
        Term(f"use of {float(levels.low):.3g} months (lead time and safety)", math.ceil(levels.low * monthly), unit),
    ]
    return derive(title, terms, REORDER_POINT, unit)


def _handbook_levels(position: Position, rules: Rules) -> handbook.MinMax:
    months = rules.months
    lead_days = position.supply.lead_days if position.supply else 0
    lead = lead_days / handbook.DAYS_IN_A_MONTH if months.lead is None else months.lead
    return handbook.min_max(lead, months.interval, months.safety, months.review)


def _monthly_use(position: Position, today: date) -> Fraction:
    weeks = 12
    used = expected_use(position.demand, today, today + timedelta(weeks=weeks))
    return Fraction(round(used)) * handbook.DAYS_IN_A_MONTH / (7 * weeks)


def _top(position: Position, level: Term, today: date, rules: Rules) -> Term:
    """Where an order goes up to, once it is due."""
    unit = position.base.value
    if rules.mode is Mode.MIN_MAX:
        high = math.ceil(_handbook_levels(position, rules).high * _monthly_use(position, today))
        return Term("maximum", position.min_rule.high if position.min_rule else high, unit)
    if position.min_rule and level.value <= position.min_rule.low:
        return Term("the practice's own maximum", position.min_rule.high, unit)
    return Term(REORDER_POINT, level.value, unit)


def _packs(position: Position, counted: Term, level: Term, top: Term | None) -> Derivation:
    """Whole packs; or, where nothing is due, by how much the stock lies above the reorder point."""
    unit = position.base.value
    pack = position.unit_qty * (position.supply.units_per_pack if position.supply else 1)
    if top is None:
        terms = [replace(counted, op=Op.PLUS), replace(level, op=Op.MINUS)]
        return derive(f"{position.name}: nothing to order", terms, "above the reorder point", unit)
    terms = [replace(top, op=Op.PLUS), replace(counted, op=Op.MINUS)]
    if top.value == counted.value:
        terms.append(Term("something, as the reorder point is reached", 1, unit, Op.AT_LEAST))
    terms.append(Term("content of a pack", pack, unit, Op.IN_PACKS_OF))
    return derive(f"{position.name}: how much to order", terms, "to order, in whole packs", PACKS)


def _price(supply: Supply, packs: int) -> Derivation:
    terms = [
        Term("price of a pack", supply.price(packs) // packs, CENTS),
        Term("to order, in whole packs", packs, PACKS, Op.TIMES),
    ]
    return derive("What it costs", terms, "price", CENTS)

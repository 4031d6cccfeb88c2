"""When to order an item and how many packs: a proposal with its arithmetic; the manager decides.

At each check the stock that counts (usable, plus on order once, less what will expire unused) is compared with what may
be used until an order placed at the *next* check could arrive. That use is a distribution; the reorder point is the
amount that suffices with the chance asked for. At or under it, whole packs are ordered: enough to get back above it,
and beyond that as many as cost least over the time they serve (`pack_choice`), never more than can be used before it
expires.

Stock on hold and stock past its date never count and are told. A practice that prefers the handbook's minimum and
maximum chooses that mode.
"""

import math
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction

from inventory.domain import handbook
from inventory.domain.courses import outlook
from inventory.domain.demand import Distribution, expected_use, uses_over
from inventory.domain.freshness import FreshCover, fresh_cover
from inventory.domain.pack_choice import Choice, most_packs, until_expiry, weigh
from inventory.domain.position import MinRule, Mode, Position, Rules
from inventory.domain.quantity import ceil_div
from inventory.domain.shelf import Outlook
from inventory.domain.supply import Supply, covered_until
from inventory.domain.vocabulary import BaseUnit
from inventory.domain.why import CENTS, DAYS, PACKS, Derivation, Op, Term, derive

__all__ = ["MinRule", "Mode", "Position", "Proposal", "Rules", "propose"]

MILLION = 1_000_000
COUNTED = "stock that counts"
REORDER_POINT = "reorder point"
TO_ORDER = "to order, in whole packs"
IN_ALL = "to order in all"
NO_USE = 1e-6  # base units a day that are as good as none
LOOK_WEEKS = 12  # the mean use a day is taken over so many weeks to come


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
        outlook: the shelf walk of the mean use over the dated parcels' whole life.
        why: the arithmetic, in order; every sum adds up and carries the results before it.
        warnings: plain sentences.
        to_expire: what is expected to expire of the order, in base units.
        fresh: how much of a fresh pack can be used in its life; None where nothing is dated or used.
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
    to_expire: int = 0
    fresh: FreshCover | None = None


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
    how_many = _simple_packs if simple else _packs
    packs, to_expire = how_many(position, counted.result, level.result, today, rules)
    number = packs.result.value if position.supply and packs.result.unit == PACKS else 0
    qty = number * position.pack_qty
    fresh = fresh_cover(position.pack_qty, daily_use(position, today), position.lives)
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
        why=(counted, level, packs, *([_price(supply, packs.result)] if number else [])),
        warnings=_warnings(position, fresh),
        to_expire=to_expire if number else 0,
        fresh=fresh,
    )


def topped_up(proposal: Proposal, position: Position, added: int, reason: str, to_expire: int) -> Proposal:
    """The proposal with packs added for the sake of the whole delivery.

    Args:
        proposal: as it stands on its own.
        position: the item.
        added: packs more.
        reason: why, as the name of the term.
        to_expire: what is expected to expire of the whole order, in base units.
    """
    supply = position.supply or Supply("", 1, 0, 0)
    terms = [Term(TO_ORDER, proposal.packs, PACKS), Term(reason, added, PACKS)]
    told = Term("expected to expire of them", to_expire, position.base.value, Op.TOLD)
    packs = derive(f"{position.name}: with the whole delivery", [*terms, told], IN_ALL, PACKS)
    number = packs.result.value
    qty = number * position.pack_qty
    own = proposal.why[:-1] if proposal.packs else proposal.why
    return replace(
        proposal,
        packs=number,
        qty=qty,
        cents=supply.price(number),
        order_up_to=proposal.counted + qty,
        brings=tuple((code, number * each) for code, each in supply.further),
        why=(*own, packs, _price(supply, packs.result)),
        to_expire=to_expire,
    )


def use_until(position: Position, today: date, until: date) -> Distribution:
    """The distribution of the use until a delivery that is due on ``until`` really comes.

    An uncertain lead time is three times a certain one: on time, and early or late by the square root of three standard
    deviations (the three-point rule of Gauss and Hermite). Pieces stay whole.
    """
    step = 1 if position.base is BaseUnit.PIECE else None
    late = round(math.sqrt(3) * position.supply.lead_sd_days) if position.supply else 0
    if not late:
        return uses_over(position.demand, today, [until], step)[0]
    early = max(today + timedelta(days=1), until - timedelta(days=late))
    before, on_time, after = uses_over(position.demand, today, [early, until, until + timedelta(days=late)], step)
    return Distribution(on_time.step, (before.masses + 4 * on_time.masses + after.masses) / 6)


def daily_use(position: Position, today: date) -> float:
    """Mean use a day over the next weeks, in base units."""
    daily = expected_use(position.demand, today, today + timedelta(weeks=LOOK_WEEKS)) / (7 * LOOK_WEEKS)
    return daily if daily > NO_USE else 0.0


def _outlook(position: Position, today: date, days: int | None = None) -> Outlook:
    return outlook(position.parcels, position.demand, today, position.opened_life, end=days)


def _counted(position: Position, today: date, until: date) -> Derivation:
    # What ends on the last day of the stretch has served all of it: the walk stops the day before.
    seen = _outlook(position, today, max(1, (until - today).days - 1))
    unit = position.base.value
    terms = [Term("usable stock", seen.usable, unit), Term("on order", seen.arriving, unit)]
    if position.along:
        terms.append(Term("in the packs of other items ordered today", position.along, unit))
    terms.append(Term("expected to expire unused by then", seen.lost, unit, Op.MINUS))
    told = [("past its date, not counted", seen.expired), ("on hold, not counted", seen.held)]
    terms += [Term(name, qty, unit, Op.TOLD) for name, qty in told if qty]
    return derive(f"{position.name}: stock that counts until {until.isoformat()}", terms, COUNTED, unit)


def _reorder_point(position: Position, today: date, until: date, rules: Rules) -> Derivation:
    unit, target = position.base.value, position.service(rules)
    mean = round(expected_use(position.demand, today, until))
    enough = use_until(position, today, until).quantile(target)
    terms = [
        Term("until an order of the next check could arrive", (until - today).days, DAYS, Op.TOLD),
        Term("expected use in these days", mean, unit),
        Term(f"safety, to suffice in {target / 10_000:g} of 100 cases", enough - mean, unit),
    ]
    if position.min_rule:
        terms.append(Term("the practice's own minimum", position.min_rule.low, unit, Op.AT_LEAST))
    return derive(f"{position.name}: when to order", terms, REORDER_POINT, unit)


def _packs(position: Position, counted: Term, level: Term, today: date, rules: Rules) -> tuple[Derivation, int]:
    """How many packs, and what is expected to expire of them, in base units."""
    top = _top(position, counted, level)
    daily = daily_use(position, today)
    if counted.value > level.value or (top.value == 0 and daily == 0):
        return _nothing(position, counted, level), 0
    terms = _shortfall(position, counted, top)
    least = ceil_div(max(1, top.value - counted.value), position.pack_qty)
    if daily == 0:
        return derive(f"{position.name}: how much to order", terms, TO_ORDER, PACKS), 0
    most = most_of(position, counted.value, daily)
    if top.name == REORDER_POINT and least > most:
        terms.append(Term("what can be used before it expires", most, PACKS, Op.AT_MOST))
        least = most
    choice = _choice(position, counted.value, range(least, max(least, most) + 1), today, rules)
    best = choice.best
    if choice.packs[best] > least:
        terms.append(Term("what costs least over the time it serves", choice.packs[best], PACKS, Op.AT_LEAST))
    terms += _beside(choice, position.base.value)
    return derive(f"{position.name}: how much to order", terms, TO_ORDER, PACKS), round(choice.lost[best])


def _top(position: Position, counted: Term, level: Term) -> Term:
    """Where an order goes up to at least: above the reorder point, or to the practice's own maximum."""
    own = position.min_rule
    if own and counted.value <= own.low and own.high > level.value:
        return Term("the practice's own maximum", own.high, level.unit)
    return replace(level, op=Op.PLUS)


def _shortfall(position: Position, counted: Term, top: Term) -> list[Term]:
    terms = [top, replace(counted, op=Op.MINUS)]
    if top.value == counted.value:
        terms.append(Term("something, as the reorder point is reached", 1, top.unit, Op.AT_LEAST))
    return [*terms, Term("content of a pack", position.pack_qty, top.unit, Op.IN_PACKS_OF)]


def most_of(position: Position, counted: int, daily: float) -> int:
    """The most packs that can be used before they expire; at least one."""
    lead = position.supply.lead_days if position.supply else 0
    longest = lead + max(position.lives) + 1 if position.lives else None  # the use-by day itself is still usable
    return most_packs(counted, position.pack_qty, daily, longest)


def _choice(position: Position, counted: int, packs: range, today: date, rules: Rules) -> Choice:
    supply = position.supply or Supply("", 1, 0, 0)
    return weigh(
        counted,
        position.pack_qty,
        packs,
        daily=daily_use(position, today),
        price=supply.price,
        fee_cents=supply.fee_cents * rules.fee_share_ppm / MILLION,
        holding=rules.holding_ppm / MILLION,
        uses=until_expiry(position.demand, today, supply.lead_days, position.lives),
    )


def _beside(choice: Choice, unit: str) -> list[Term]:
    """Told beside the sum: what is expected to expire, and the yearly cost of this and the neighbouring numbers."""
    best = choice.best
    terms = [Term("expected to expire of them", round(choice.lost[best]), unit, Op.TOLD)]
    for k in range(max(0, best - 1), min(len(choice.packs), best + 2)):
        if math.isfinite(choice.yearly[k]):
            name = f"cost of a year in orders of {Term('', choice.packs[k], PACKS).shown()}"
            terms.append(Term(name, round(choice.yearly[k]), CENTS, Op.TOLD))
    return terms


def _nothing(position: Position, counted: Term, level: Term) -> Derivation:
    terms = [replace(counted, op=Op.PLUS), replace(level, op=Op.MINUS)]
    return derive(f"{position.name}: nothing to order", terms, "above the reorder point", level.unit)


def _price(supply: Supply, packs: Term) -> Derivation:
    each = supply.price(packs.value) // packs.value
    terms = [Term("price of a pack", each, CENTS), replace(packs, op=Op.TIMES)]
    return derive("What it costs", terms, "price", CENTS)


def _warnings(position: Position, fresh: FreshCover | None) -> tuple[str, ...]:
    warnings = []
    if position.supply is None:
        warnings.append(f"{position.name}: no supplier is set, so nothing can be proposed.")
    if position.supply and fresh and fresh.too_big:
        warnings.append(
            f"{position.name}: a pack is {fresh.percent} % of what is used before it expires. Buy the smaller pack."
        )
    return tuple(warnings)


def _minimum(position: Position, today: date, rules: Rules) -> Derivation:
    """The handbook's minimum: months of lead time and safety, at the expected monthly use."""
    unit = position.base.value
    title = f"{position.name}: minimum by the handbook"
    if position.min_rule:
        own = Term("the practice's own minimum", position.min_rule.low, unit)
        return derive(title, [own], REORDER_POINT, unit)
    months = _handbook_levels(position, rules).low
    monthly = _monthly_use(position, today)
    terms = [
        Term("expected use in a month", round(monthly), unit, Op.TOLD),
        Term(f"use of {float(months):.3g} months, lead time and safety", math.ceil(months * monthly), unit),
    ]
    return derive(title, terms, REORDER_POINT, unit)


def _simple_packs(position: Position, counted: Term, level: Term, today: date, rules: Rules) -> tuple[Derivation, int]:
    """Packs up to the handbook's maximum, or the practice's own."""
    high = math.ceil(_handbook_levels(position, rules).high * _monthly_use(position, today))
    top = Term("maximum", position.min_rule.high if position.min_rule else high, level.unit)
    if not handbook.due(level.value, top.value, counted.value, rules.months.review):
        return _nothing(position, counted, level), 0
    return derive(f"{position.name}: how much to order", _shortfall(position, counted, top), TO_ORDER, PACKS), 0


def _handbook_levels(position: Position, rules: Rules) -> handbook.MinMax:
    months = rules.months
    lead_days = position.supply.lead_days if position.supply else 0
    lead = lead_days / handbook.DAYS_IN_A_MONTH if months.lead is None else months.lead
    return handbook.min_max(lead, months.interval, months.safety, months.review)


def _monthly_use(position: Position, today: date) -> Fraction:
    used = expected_use(position.demand, today, today + timedelta(weeks=LOOK_WEEKS))
    return Fraction(round(used)) * handbook.DAYS_IN_A_MONTH / (7 * LOOK_WEEKS)

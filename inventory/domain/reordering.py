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
from datetime import date
from fractions import Fraction

from inventory.domain import handbook
from inventory.domain.demand import Distribution
from inventory.domain.freshness import FreshCover, fresh_cover
from inventory.domain.pack_choice import Choice, most_packs, until_expiry, weigh
from inventory.domain.position import LOOK_DAYS, Check, MinRule, Mode, Position, Rules, look
from inventory.domain.quantity import ceil_div
from inventory.domain.shelf import Outlook
from inventory.domain.vocabulary import BaseUnit
from inventory.domain.why import CENTS, DAYS, PACKS, Derivation, Op, Term, derive

__all__ = ["MinRule", "Mode", "Position", "Proposal", "Rules", "propose"]

MILLION = 1_000_000
COUNTED = "stock that counts"
REORDER_POINT = "reorder point"
TO_ORDER = "to order, in whole packs"
IN_ALL = "to order in all"


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
        added: packs among them that were added for the sake of the whole delivery.
        most: packs of which use can take all before they expire.
        daily: mean use a day, in base units.
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
    added: int = 0
    most: int = 0
    daily: float = 0.0

    @property
    def runs_short(self) -> bool:
        """Whether what counts is at or under the reorder point."""
        return self.reorder_point > 0 and self.counted <= self.reorder_point


def propose(position: Position, today: date, rules: Rules | None = None) -> Proposal:
    """Propose what to order of one item today.

    Args:
        position: the item, its stock, its demand and how it is bought.
        today: the practice's date.
        rules: the practice's settings.

    Returns:
        The proposal with its derivation. Without a supply nothing is ordered, and a warning says so.
    """
    return propose_for(look([position], today, rules or Rules())[0])


def propose_for(check: Check) -> Proposal:
    """`propose`, for a check already made."""
    position, supply = check.position, check.supply
    counted = _counted(check)
    simple = check.rules.mode is Mode.MIN_MAX
    level = _minimum(check) if simple else _reorder_point(check)
    packs, to_expire = (_simple_packs if simple else _packs)(check, counted.result, level.result)
    number = packs.result.value if position.supply and packs.result.unit == PACKS else 0
    qty = number * position.pack_qty
    fresh = fresh_cover(position.pack_qty, check.daily, position.lives)
    return Proposal(
        code=position.code,
        packs=number,
        qty=qty,
        cents=supply.price(number),
        counted=counted.result.value,
        reorder_point=level.result.value,
        order_up_to=counted.result.value + qty if number else level.result.value,
        expected_use=round(check.forecast.expected(check.days)),
        until=check.until,
        brings=tuple((code, number * each) for code, each in supply.further) if number else (),
        outlook=check.outlook,
        why=(counted, level, packs, *([_price(check, packs.result)] if number else [])),
        warnings=_warnings(position, fresh),
        to_expire=to_expire if number else 0,
        fresh=fresh,
        most=most_of(check, counted.result.value),
        daily=check.daily,
    )


def topped_up(proposal: Proposal, check: Check, added: int, reason: str, to_expire: int) -> Proposal:
    """The proposal with packs added for the sake of the whole delivery.

    Args:
        proposal: as it stands on its own.
        check: the item's.
        added: packs more.
        reason: why, as the name of the term.
        to_expire: what is expected to expire of the whole order, in base units.
    """
    position, supply = check.position, check.supply
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
        why=(*own, packs, _price(check, packs.result)),
        to_expire=to_expire,
        added=added,
    )


def use_until(check: Check) -> Distribution:
    """The distribution of the use until a delivery that is due on the check's ``until`` really comes.

    An uncertain lead time is three times a certain one: on time, and early or late by the square root of three standard
    deviations (the three-point rule of Gauss and Hermite). Pieces stay whole.
    """
    step = 1 if check.position.base is BaseUnit.PIECE else None
    late = round(math.sqrt(3) * check.supply.lead_sd_days)
    if not late:
        return check.forecast.distributions([check.days], step)[0]
    stretches = [max(1, check.days - late), check.days, check.days + late]
    before, on_time, after = check.forecast.distributions(stretches, step)
    return Distribution(on_time.step, (before.masses + 4 * on_time.masses + after.masses) / 6)


def most_of(check: Check, counted: int) -> int:
    """The most packs that can be used before they expire; at least one."""
    lives = check.position.lives
    longest = check.supply.lead_days + max(lives) + 1 if lives else None  # the use-by day itself is still usable
    return most_packs(counted, check.position.pack_qty, check.daily, longest)


def _counted(check: Check) -> Derivation:
    position, unit = check.position, check.position.base.value
    seen = check.soon
    terms = [Term("usable stock", seen.usable, unit), Term("on order", seen.arriving, unit)]
    if position.along:
        terms.append(Term("in the packs of other items ordered today", position.along, unit))
    terms.append(Term("expected to expire unused by then", seen.lost, unit, Op.MINUS))
    told = [("past its date, not counted", seen.expired), ("on hold, not counted", seen.held)]
    terms += [Term(name, qty, unit, Op.TOLD) for name, qty in told if qty]
    return derive(f"{position.name}: stock that counts until {check.until.isoformat()}", terms, COUNTED, unit)


def _reorder_point(check: Check) -> Derivation:
    position, unit = check.position, check.position.base.value
    target = position.service(check.rules)
    mean = round(check.forecast.expected(check.days))
    enough = use_until(check).quantile(target)
    terms = [
        Term("until an order of the next check could arrive", check.days, DAYS, Op.TOLD),
        Term("expected use in these days", mean, unit),
        Term(f"safety, to suffice in {target / 10_000:g} of 100 cases", enough - mean, unit),
    ]
    if position.min_rule:
        terms.append(Term("the practice's own minimum", position.min_rule.low, unit, Op.AT_LEAST))
    return derive(f"{position.name}: when to order", terms, REORDER_POINT, unit)


def _packs(check: Check, counted: Term, level: Term) -> tuple[Derivation, int]:
    """How many packs, and what is expected to expire of them, in base units."""
    position = check.position
    top = _top(position, counted, level)
    if counted.value > level.value or (top.value == 0 and check.daily == 0):
        return _nothing(position, counted, level), 0
    terms = _shortfall(position, counted, top)
    least = ceil_div(max(1, top.value - counted.value), position.pack_qty)
    if check.daily == 0:
        return derive(f"{position.name}: how much to order", terms, TO_ORDER, PACKS), 0
    most = most_of(check, counted.value)
    if top.name == REORDER_POINT and least > most:
        terms.append(Term("what can be used before it expires", most, PACKS, Op.AT_MOST))
        least = most
    choice = _choice(check, counted.value, range(least, max(least, most) + 1))
    best = choice.best
    if choice.packs[best] > least:
        terms.append(Term("what costs least over the time it serves", choice.packs[best], PACKS, Op.AT_LEAST))
    terms += _beside(check, choice)
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


def _choice(check: Check, counted: int, packs: range) -> Choice:
    supply = check.supply
    return weigh(
        counted,
        check.position.pack_qty,
        packs,
        daily=check.daily,
        price=supply.price,
        fee_cents=_fee_charged(check),
        holding=check.rules.holding_ppm / MILLION,
        uses=until_expiry(check.forecast, supply.lead_days, check.position.lives),
    )


def _fee_charged(check: Check) -> int:
    """What this item's orders are charged of a delivery's fee, in cents."""
    return round(check.supply.fee_cents * check.rules.fee_share_ppm / MILLION)


def _beside(check: Check, choice: Choice) -> list[Term]:
    """Told beside the sum: what is expected to expire, and the yearly cost of this and the neighbouring numbers."""
    best = choice.best
    terms = [
        Term("expected to expire of them", round(choice.lost[best]), check.position.base.value, Op.TOLD),
        Term("charged to this item of a delivery's fee", _fee_charged(check), CENTS, Op.TOLD),
    ]
    for k in range(max(0, best - 1), min(len(choice.packs), best + 2)):
        if math.isfinite(choice.yearly[k]):
            name = f"cost of a year in orders of {Term('', choice.packs[k], PACKS).shown()}"
            terms.append(Term(name, round(choice.yearly[k]), CENTS, Op.TOLD))
    return terms


def _nothing(position: Position, counted: Term, level: Term) -> Derivation:
    terms = [replace(counted, op=Op.PLUS), replace(level, op=Op.MINUS)]
    return derive(f"{position.name}: nothing to order", terms, "above the reorder point", level.unit)


def _price(check: Check, packs: Term) -> Derivation:
    each = check.supply.price(packs.value) // packs.value
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


def _minimum(check: Check) -> Derivation:
    """The handbook's minimum: months of lead time and safety, at the expected monthly use."""
    position, unit = check.position, check.position.base.value
    title = f"{position.name}: minimum by the handbook"
    if position.min_rule:
        own = Term("the practice's own minimum", position.min_rule.low, unit)
        return derive(title, [own], REORDER_POINT, unit)
    months, monthly = _handbook_levels(check).low, _monthly_use(check)
    terms = [
        Term("expected use in a month", round(monthly), unit, Op.TOLD),
        Term(f"use of {float(months):.3g} months, lead time and safety", math.ceil(months * monthly), unit),
    ]
    return derive(title, terms, REORDER_POINT, unit)


def _simple_packs(check: Check, counted: Term, level: Term) -> tuple[Derivation, int]:
    """Packs up to the handbook's maximum, or the practice's own."""
    position = check.position
    high = math.ceil(_handbook_levels(check).high * _monthly_use(check))
    top = Term("maximum", position.min_rule.high if position.min_rule else high, level.unit)
    if not handbook.due(level.value, top.value, counted.value, check.rules.months.review):
        return _nothing(position, counted, level), 0
    return derive(f"{position.name}: how much to order", _shortfall(position, counted, top), TO_ORDER, PACKS), 0


def _handbook_levels(check: Check) -> handbook.MinMax:
    months = check.rules.months
    lead = check.supply.lead_days / handbook.DAYS_IN_A_MONTH if months.lead is None else months.lead
    return handbook.min_max(lead, months.interval, months.safety, months.review)


def _monthly_use(check: Check) -> Fraction:
    return Fraction(round(check.forecast.expected(LOOK_DAYS))) * handbook.DAYS_IN_A_MONTH / LOOK_DAYS

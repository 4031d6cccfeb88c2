"""One delivery per supplier: its minimum order, its fee, and whether more packs to reach free delivery pay.

Each item is proposed on its own first. Where a supplier's basket stays below its free-delivery threshold, packs are
added one by one, always the one that costs least for the money it brings: what is expected to expire of it, and the
holding of stock that would otherwise be bought later. The additions are kept only if they reach the threshold and cost
less than the fee. Below a supplier's minimum order they are kept in any case, as nothing could be ordered otherwise.

An item's own order is charged a share of the fee: a quarter, or an even one where the supplier serves fewer than four
items. Where the usual goods of a week come near the threshold, delivery
will be free most weeks anyway, and the share shrinks with what is missing: else stock would be held to save fees that
are never paid.

Articles that come in another item's pack (tips with cartridges) are counted before their own item is proposed.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from inventory.domain.demand import MILLION, Distribution
from inventory.domain.pack_choice import YEAR, expected_to_expire, until_expiry
from inventory.domain.position import Check, Mode, Position, Rules, look
from inventory.domain.reordering import Proposal, most_of, propose_for, topped_up
from inventory.domain.why import CENTS, Derivation, Op, Term, derive

MOST_ADDITIONS = 200
MINIMUM = "to reach the minimum order"
FREE_DELIVERY = "to reach free delivery"


@dataclass(frozen=True)
class SupplierTerms:
    """A supplier's minimum order, delivery fee, and the goods value from which delivery is free (None: never)."""

    supplier: str
    minimum_cents: int = 0
    fee_cents: int = 0
    free_from_cents: int | None = None

    def fee(self, goods_cents: int) -> int:
        """The fee for a delivery of so much."""
        free = self.free_from_cents is not None and goods_cents >= self.free_from_cents
        return 0 if free or goods_cents == 0 else self.fee_cents


@dataclass(frozen=True)
class Basket:
    """Everything looked at for one supplier, packs 0 included.

    Args:
        supplier: its name or key; empty for items without one.
        proposals: one an item, additions included.
        terms: what the supplier asks.
        due_cents: price of what is due, before anything was added.
        goods_cents: price of all of it together.
        fee_cents: what the delivery costs on top.
        why: the goods, and what the additions cost and save.
        warnings: plain sentences.
        added_for: what packs were added for; empty where none were.
    """

    supplier: str
    proposals: tuple[Proposal, ...]
    terms: SupplierTerms
    due_cents: int
    goods_cents: int
    fee_cents: int
    why: tuple[Derivation, ...]
    warnings: tuple[str, ...] = ()
    added_for: str = ""

    @property
    def ordered(self) -> tuple[Proposal, ...]:
        """What is to be ordered, without the items of which nothing is."""
        return tuple(proposal for proposal in self.proposals if proposal.packs)

    @property
    def cautions(self) -> tuple[str, ...]:
        """The basket's warnings and those of what is ordered."""
        return (*self.warnings, *(warning for proposal in self.ordered for warning in proposal.warnings))


def fill_baskets(
    positions: Iterable[Position], terms: Mapping[str, SupplierTerms], today: date, rules: Rules | None = None
) -> tuple[Basket, ...]:
    """Propose every item and fill one basket for each supplier.

    Args:
        positions: all items.
        terms: by supplier; one without terms asks no minimum and no fee.
        today: the practice's date.
        rules: the practice's settings.

    Returns:
        A basket for each supplier that any item names, by name; items without a supplier come under "".
    """
    rules = rules or Rules()
    by_supplier: dict[str, list[_Line]] = defaultdict(list)
    for check, proposal in _proposed(positions, terms, today, rules):
        by_supplier[check.supply.supplier].append(_Line(check, proposal))
    return tuple(_fill(terms.get(name, SupplierTerms(name)), by_supplier[name], rules) for name in sorted(by_supplier))


def _proposed(
    positions: Iterable[Position], terms: Mapping[str, SupplierTerms], today: date, rules: Rules
) -> list[tuple[Check, Proposal]]:
    """Items whose packs bring others first, so that the others know."""
    coming: dict[str, int] = defaultdict(int)
    done = []
    ordered = sorted(positions, key=lambda p: not (p.supply and p.supply.further))
    checks = look(ordered, today, rules)
    shares = _fee_shares(checks, terms, rules)
    for seen in checks:
        along = seen.position.along + coming[seen.position.code]
        charged = replace(rules, fee_share_ppm=shares[seen.supply.supplier])
        check = replace(seen, rules=charged, position=replace(seen.position, along=along))
        proposal = propose_for(check)
        for code, qty in proposal.brings:
            coming[code] += qty
        done.append((check, proposal))
    return done


def _fee_shares(checks: Sequence[Check], terms: Mapping[str, SupplierTerms], rules: Rules) -> dict[str, int]:
    """The share of its fee, in a million, that a supplier's items are charged with."""
    weekly: dict[str, list[float]] = defaultdict(list)
    for check in checks:
        weekly[check.supply.supplier].append(check.weekly_cents)
    return {name: _fee_share(terms.get(name), goods, rules) for name, goods in weekly.items()}


def _fee_share(terms: SupplierTerms | None, weekly_cents: Sequence[float], rules: Rules) -> int:
    """The practice's share, or an even one where fewer items are used; times what the threshold leaves open."""
    used = sum(cents > 0 for cents in weekly_cents)
    share = max(rules.fee_share_ppm, MILLION // max(1, used))
    if terms is None or not terms.free_from_cents:
        return share
    return round(share * max(0.0, 1 - sum(weekly_cents) / terms.free_from_cents))


class _Line:
    """One item of a basket while it is being filled."""

    def __init__(self, check: Check, proposal: Proposal) -> None:
        self.proposal = proposal
        self.added = 0
        self._check = check
        self._pack = check.position.pack_qty
        self._can_buy = check.position.supply is not None and check.daily > 0
        self._costs: dict[int, float] = {}
        self._uses: list[Distribution] | None = None

    @property
    def packs(self) -> int:
        return self.proposal.packs + self.added

    def price(self) -> int:
        """What its packs cost, in cents."""
        return self._check.supply.price(self.packs)

    @property
    def can_grow(self) -> bool:
        return self._can_buy and self.packs < most_of(self._check, self.proposal.counted)

    def money(self) -> int:
        """What the next pack adds to the goods, in cents; at a price break it may be less than nothing."""
        return self._check.supply.price(self.packs + 1) - self.price()

    def cost(self) -> float:
        """What the next pack costs beyond its use: expected outdating and earlier holding, in cents."""
        if self.packs not in self._costs:
            self._costs[self.packs] = self._cost()
        return self._costs[self.packs]

    def result(self, reason: str) -> Proposal:
        if not self.added:
            return self.proposal
        return topped_up(self.proposal, self._check, self.added, reason, round(self._to_expire(self.packs)))

    def _cost(self) -> float:
        price = self._check.supply.price(self.packs + 1) / (self.packs + 1)
        lost = self._to_expire(self.packs + 1) - self._to_expire(self.packs)
        reached = self.proposal.counted + self.packs * self._pack
        early = max(0.0, reached - self.proposal.reorder_point) / self._check.daily / YEAR
        return price * (lost / self._pack + self._check.rules.holding_ppm / MILLION * early)

    def _to_expire(self, packs: int) -> float:
        import numpy as np  # noqa: PLC0415 - loaded only when planning runs

        if self._uses is None:
            check = self._check
            self._uses = until_expiry(check.forecast, check.supply.lead_days, check.position.lives)
        added = np.array([float(packs * self._pack)])
        return float(expected_to_expire(self.proposal.counted, added, self._uses)[0])


def _fill(terms: SupplierTerms, lines: Sequence[_Line], rules: Rules) -> Basket:
    due = _goods(lines)
    reason, warnings, cost = "", [], 0.0
    if 0 < due < terms.minimum_cents:
        cost = _grow(lines, terms.minimum_cents)
        reason = MINIMUM
        if _goods(lines) < terms.minimum_cents:
            warnings.append(f"{terms.supplier}: the minimum order is not reached without buying what would expire.")
    fee = terms.fee(_goods(lines))
    if fee and terms.free_from_cents is not None and rules.mode is Mode.BY_RISK:
        before = [line.added for line in lines]
        more = _grow(lines, terms.free_from_cents)
        if _goods(lines) >= terms.free_from_cents and cost + more < cost + fee:
            reason, cost, fee = FREE_DELIVERY, cost + more, 0
        else:
            for line, added in zip(lines, before, strict=True):
                line.added = added
    goods = _goods(lines)
    why = [_sum_of_goods(terms, due, goods)]
    if goods > due:
        why.append(_what_additions_save(terms, round(cost), terms.fee(due) - fee))
    proposals = tuple(line.result(f"added, {reason}") for line in lines)
    added_for = reason if goods > due else ""
    return Basket(terms.supplier, proposals, terms, due, goods, fee, tuple(why), tuple(warnings), added_for)


def _grow(lines: Sequence[_Line], aim: int) -> float:
    """Add packs until the goods reach the aim or nothing more can be used in time.

    Returns:
        What the additions cost beyond their use, in cents.
    """
    total = 0.0
    for _ in range(MOST_ADDITIONS):
        growing = [line for line in lines if line.can_grow]
        if _goods(lines) >= aim or not growing:
            break
        best = min(growing, key=lambda line: line.cost() / max(1, line.money()))
        total += best.cost()
        best.added += 1
    return total


def _goods(lines: Sequence[_Line]) -> int:
    return sum(line.price() for line in lines)


def _sum_of_goods(terms: SupplierTerms, due: int, goods: int) -> Derivation:
    parts = [Term("price of what is due", due, CENTS)]
    if goods != due:
        parts.append(Term("price of what is added", goods - due, CENTS))
    if terms.minimum_cents:
        parts.append(Term("the supplier's minimum order", terms.minimum_cents, CENTS, Op.TOLD))
    if terms.free_from_cents is not None:
        parts.append(Term("delivery is free from", terms.free_from_cents, CENTS, Op.TOLD))
    return derive(f"{terms.supplier}: the order", parts, "goods", CENTS)


def _what_additions_save(terms: SupplierTerms, cost: int, saved_fee: int) -> Derivation:
    parts = [
        Term("delivery fee saved", saved_fee, CENTS),
        Term("expected outdating and earlier holding of what is added", cost, CENTS, Op.MINUS),
    ]
    return derive(f"{terms.supplier}: what the additions save", parts, "saved", CENTS)

"""What to order from whom: every item's proposal, filled into one basket for each supplier.

Read once for the weekly check, for the order proposals and for a new draft, so that all of them say the same.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from inventory.domain.basket import Basket, SupplierTerms, fill_baskets
from inventory.domain.lead_time import LeadTime
from inventory.domain.ordering import OrderSum, lasts_until, order_sum
from inventory.domain.position import Position
from inventory.domain.quantity import show_money
from inventory.domain.reordering import Proposal
from inventory.domain.supply import Supply
from inventory.domain.vocabulary import BaseUnit
from inventory.domain.why import Derivation
from inventory.service import forecasting, on_order
from inventory.service.forecasting import Picture
from inventory.service.practice import Desk
from inventory.store.queries import planning
from inventory.store.queries.planning import Bought


@dataclass(frozen=True, slots=True)
class ProposedLine:
    """An item as its supplier's basket has it; ``packs`` may be 0, for an item that is bought there but not now.

    Attributes:
        item_id, code, name: which item.
        base, unit_qty, unit_name: its units; ``unit_qty`` in base units.
        supply_id, catalogue_no: how the supplier calls it.
        supply: packs, prices and lead time.
        packs: to order, ``added`` of them only for the sake of the whole delivery.
        cents: their price.
        counted: stock that counts, on order included, in base units.
        reorder_point: at or under this it is ordered, in base units.
        daily: mean use a day, in base units.
        most: packs of which use can take all before they expire.
        until: the day until which the stock has to last without a further order.
        why: the arithmetic.
        warnings: plain sentences.
    """

    item_id: int
    code: str
    name: str
    base: BaseUnit
    unit_qty: int
    unit_name: str
    supply_id: int
    catalogue_no: str
    supply: Supply
    packs: int
    added: int
    cents: int
    counted: int
    reorder_point: int
    daily: float
    most: int
    until: date
    why: tuple[Derivation, ...]
    warnings: tuple[str, ...]

    @property
    def pack_qty(self) -> int:
        """Content of a pack, in base units."""
        return self.unit_qty * self.supply.units_per_pack

    @property
    def qty(self) -> int:
        """Content of the packs to order, in base units."""
        return self.packs * self.pack_qty

    def lasts_until(self, today: date, packs: int) -> date | None:
        """The day on which stock and so many packs run out at mean use."""
        return lasts_until(today, self.counted + packs * self.pack_qty, self.daily)


@dataclass(frozen=True, slots=True)
class ProposedOrder:
    """What to order from one supplier.

    Attributes:
        supplier_id, supplier: whom.
        terms: minimum order, delivery fee, goods value from which delivery is free.
        lead: how long it takes, learned from the orders that came.
        lines: every item bought there, those to be ordered first.
        due_cents: price of what is due; the rest of the goods was added.
        added_for: what the rest was added for; empty where nothing was.
        sum: goods, fee, what is missing to the supplier's bounds.
        why: the goods, and what the additions cost and save.
        warnings: plain sentences, those of the lines included.
    """

    supplier_id: int
    supplier: str
    terms: SupplierTerms
    lead: LeadTime
    lines: tuple[ProposedLine, ...]
    due_cents: int
    added_for: str
    sum: OrderSum
    why: tuple[Derivation, ...]
    warnings: tuple[str, ...]

    @property
    def ordered(self) -> tuple[ProposedLine, ...]:
        """The lines with something to order."""
        return tuple(line for line in self.lines if line.packs)

    @property
    def told_additions(self) -> str:
        """What was added, what that costs and what it saves, in words; empty where nothing was added."""
        if not self.added_for:
            return ""
        saved, cost = self.why[-1].terms
        saves = f", and saves {saved.shown()} of the delivery" if saved.value else ""
        added = show_money(self.sum.goods_cents - self.due_cents)
        return f"goods for {added}; buying them early costs {cost.shown()}{saves}"


@dataclass(frozen=True, slots=True)
class Proposed:
    """All proposals by item, and the baskets of all suppliers that sell anything, by name."""

    proposals: dict[int, Proposal]
    orders: tuple[ProposedOrder, ...]


def proposed(desk: Desk, picture: Picture) -> Proposed:
    """Propose every item and fill one basket for each supplier."""
    bought = planning.preferred_supplies(desk.session, picture.today)
    positions = forecasting.positions(desk, picture, bought)
    baskets = fill_baskets(positions.values(), forecasting.supplier_terms(desk), picture.today, forecasting.rules(desk))
    numbers = {position.code: number for number, position in positions.items()}
    found = {numbers[proposal.code]: proposal for basket in baskets for proposal in basket.proposals}
    leads = on_order.lead_times(desk)
    orders = (_order(basket, numbers, positions, picture, bought, leads=leads) for basket in baskets if basket.supplier)
    return Proposed({number: found[number] for number in positions}, tuple(orders))


def _order(
    basket: Basket,
    numbers: Mapping[str, int],
    positions: Mapping[int, Position],
    picture: Picture,
    bought: Mapping[int, Bought],
    *,
    leads: Mapping[int, LeadTime],
) -> ProposedOrder:
    lines = [
        _line(proposal, positions[number], picture, bought[number])
        for proposal in basket.proposals
        for number in (numbers[proposal.code],)
    ]
    lines.sort(key=lambda line: (not line.packs, line.name, line.code))
    supplier_id = bought[lines[0].item_id].supplier_id
    return ProposedOrder(
        supplier_id=supplier_id,
        supplier=basket.supplier,
        terms=basket.terms,
        lead=leads[supplier_id],
        lines=tuple(lines),
        due_cents=basket.due_cents,
        added_for=basket.added_for,
        sum=order_sum(basket.terms, (line.cents for line in lines)),
        why=basket.why,
        warnings=basket.cautions,
    )


def _line(proposal: Proposal, position: Position, picture: Picture, bought: Bought) -> ProposedLine:
    item = picture.items[bought.item_id]
    assert position.supply is not None  # noqa: S101 - it stands in a supplier's basket
    return ProposedLine(
        item_id=bought.item_id, code=item.code, name=item.name, base=item.base, unit_qty=item.unit_qty,
        unit_name=item.unit_name, supply_id=bought.supply_id, catalogue_no=bought.catalogue_no,
        supply=position.supply, packs=proposal.packs, added=proposal.added, cents=proposal.cents,
        counted=proposal.counted, reorder_point=proposal.reorder_point, daily=proposal.daily, most=proposal.most,
        until=proposal.until, why=proposal.why, warnings=proposal.warnings,
    )  # fmt: skip

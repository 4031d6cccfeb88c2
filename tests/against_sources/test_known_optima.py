"""Known optima of inventory theory, found again with the program's own shelf walk as the transition.

De Moor, Gijsbrechts and Boute 2022 (European Journal of Operational Research), scenario m = 2, L = 1; Hendrix and
others 2019; Zipkin 2008. Each period the stock serves the demand, what is past its life is lost, and the order of the
period before comes in. Value iteration over all stocks gives the best order for each; the walk decides what every stock
becomes. Then the program's own rule orders in the same world, and its gap to the optimum is measured.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import sparse, stats

from inventory.domain.demand import Booking, Demand, Distribution, Rate, StepUse, Stream, use_over
from inventory.domain.pack_choice import Choice, weigh
from inventory.domain.position import Position, Rules
from inventory.domain.reordering import propose
from inventory.domain.service_target import target_from_costs
from inventory.domain.shelf import NEVER, IssueOrder, Parcel, Shelf, in_issue_order
from inventory.domain.supply import PriceBreak, Supply
from inventory.domain.vocabulary import BaseUnit

TODAY = date(2026, 3, 2)
Table = NDArray[np.float64]


@dataclass(frozen=True)
class Costs:
    """Per unit: ordered, short, outdated, held over the period's end (not what has just expired)."""

    order: float = 0.0
    short: float = 0.0
    outdated: float = 0.0
    held: float = 0.0


@dataclass(frozen=True)
class World:
    """Every stock by remaining life (column 0 ends today), each period's cost, and what each stock becomes."""

    stocks: NDArray[np.int64]
    cost: Table
    order_cost: Table
    becomes: sparse.csr_matrix
    most: int

    def values(self, value: Table, discount: float) -> Table:
        """Cost to go of every stock (rows) and order (columns)."""
        ahead = self.becomes @ value.reshape(-1, self.most + 1)
        return np.asarray(self.cost[:, None] + self.order_cost + discount * ahead)

    def solve(self, discount: float = 1.0, policy: NDArray[np.int64] | None = None) -> tuple[float, NDArray[np.int64]]:
        """The cost from an empty shelf, or the cost a period where nothing is discounted; and the best orders."""
        value = np.zeros(len(self.stocks))
        rows = np.arange(len(value))
        while True:
            table = self.values(value, discount)
            after = table.min(axis=1) if policy is None else table[rows, policy]
            change = after - value
            if discount == 1 and np.ptp(change) < 1e-8:
                return float(change.max() + change.min()) / 2, table.argmin(axis=1)
            if discount < 1 and np.abs(change).max() < 1e-8:
                return float(after[0]), table.argmin(axis=1)
            value = after - (after[0] if discount == 1 else 0)


def world(life: int, most: int, chances: Table, costs: Costs, order: IssueOrder = IssueOrder.EARLIEST_EXPIRY) -> World:
    """Walk every stock through every demand of a period, by the program's own shelf."""
    stocks = np.array(list(itertools.product(range(most + 1), repeat=life)), dtype=np.int64)
    lots = [Parcel(str(k), 1, TODAY + timedelta(days=k)) for k in range(life)]
    columns = [int(p.key) for p in in_issue_order(lots, order)]
    shelf = Shelf(
        np.repeat(stocks, len(chances), axis=0)[:, columns],
        np.array(columns, dtype=np.int64),
        np.zeros(life, dtype=np.int64),
        np.zeros(life, dtype=np.bool_),
    )
    short = shelf.period(0, np.tile(np.arange(len(chances)), len(stocks)))
    shelf.expire(1)
    left = shelf.stock[:, np.argsort(columns)]
    paid = costs.short * short + costs.outdated * shelf.lost.sum(axis=1) + costs.held * left.sum(axis=1)
    base = (most + 1) ** np.arange(life - 2, -1, -1) if life > 1 else np.zeros(0, dtype=np.int64)
    into = left[:, 1:] @ base
    rows = np.repeat(np.arange(len(stocks)), len(chances))
    becomes = sparse.csr_matrix(
        (np.tile(chances, len(stocks)), (rows, into)), shape=(len(stocks), (most + 1) ** (life - 1))
    )
    return World(stocks, paid.reshape(len(stocks), -1) @ chances, costs.order * np.arange(most + 1.0), becomes, most)


def rounded_gamma(mean: float, cv: float, top: int = 30) -> Table:
    law = stats.gamma(1 / cv**2, scale=mean * cv**2)
    edges = law.cdf(np.arange(top + 1) + 0.5)
    chances = np.diff(edges, prepend=0)
    return np.asarray(chances / chances.sum())


def poisson(mean: float, top: int = 25) -> Table:
    chances = stats.poisson(mean).pmf(np.arange(top + 1))
    return np.asarray(chances / chances.sum())


MOOR_COSTS = Costs(order=3, short=5, outdated=7, held=1)
HENDRIX_COSTS = Costs(order=0.5, short=1)  # a profit of 1 for each unit sold is 5 a period less what is short
HENDRIX_DEMAND = 5


@cache
def moor(order: IssueOrder) -> World:
    return world(2, 10, rounded_gamma(4, 0.5), MOOR_COSTS, order)


@cache
def hendrix(life: int) -> World:
    return world(life, 14 if life < 4 else 12, poisson(HENDRIX_DEMAND), HENDRIX_COSTS)


# --- De Moor, Gijsbrechts and Boute 2022: read in the source, figure 3 -----------------------------------------------

# Rows: fresh 8 down to 0. Columns: old 0 to 8.
LATEST_FIRST = [[0] * 9] * 4 + [[1] * 9, [2] * 9] + [[3] * 9] * 3
EARLIEST_FIRST = [
    [1, 0, 0, 0, 0, 0, 0, 0, 0],
    [1, 1, 0, 0, 0, 0, 0, 0, 0],
    [2, 1, 1, 0, 0, 0, 0, 0, 0],
    [2, 2, 1, 1, 0, 0, 0, 0, 0],
    [3, 2, 2, 1, 1, 1, 1, 0, 0],
    [3, 3, 2, 2, 1, 1, 1, 1, 1],
    [4, 3, 3, 3, 2, 2, 2, 2, 2],
    [4, 4, 3, 3, 3, 3, 3, 3, 3],
    [4, 4, 4, 4, 4, 4, 4, 4, 4],
]


@pytest.mark.parametrize(
    ("order", "published", "cost"),
    [
        (IssueOrder.LATEST_EXPIRY, LATEST_FIRST, 1603.6),  # the costs were computed independently
        (IssueOrder.EARLIEST_EXPIRY, EARLIEST_FIRST, 1510.5),
    ],
)
def test_the_optimal_orders_of_a_two_period_life_are_the_published_ones(
    order: IssueOrder, published: list[list[int]], cost: float
) -> None:
    found, best = moor(order).solve(0.99)
    by_old_and_fresh = best.reshape(11, 11)
    assert [by_old_and_fresh[:9, fresh].tolist() for fresh in range(8, -1, -1)] == published
    assert found == pytest.approx(cost, abs=0.1)


@pytest.mark.parametrize(("order", "level"), [(IssueOrder.LATEST_EXPIRY, 5), (IssueOrder.EARLIEST_EXPIRY, 7)])
def test_the_best_level_to_order_up_to_is_the_published_one(order: IssueOrder, level: int) -> None:
    # Read in the source: 5 and 7. Exactly computed, 6 and 7 differ by 0.003 % under earliest expiry first.
    here = moor(order)
    stock = here.stocks.sum(axis=1)
    costs = {s: here.solve(0.99, np.clip(s - stock, 0, 10))[0] for s in range(4, 10)}
    assert costs[level] <= min(costs.values()) * 1.00005


# --- Hendrix and others 2019: read in the source ---------------------------------------------------------------------


@pytest.mark.parametrize(("life", "profit", "exact"), [(2, 2.22, 2.2151), (3, 2.40, 2.3985), (4, 2.47, 2.4667)])
def test_the_best_average_profit_by_length_of_life(life: int, profit: float, exact: float) -> None:
    # Poisson 5, cost 0.5, price 1, one period to deliver; the exact figures were computed independently.
    cost, _ = hendrix(life).solve()
    assert HENDRIX_DEMAND - cost == pytest.approx(exact, abs=5e-4)
    assert round(HENDRIX_DEMAND - cost, 2) == profit


@pytest.mark.parametrize(("life", "level"), [(2, 13), (3, 15), (4, 17)])
def test_the_best_level_for_orders_that_look_at_what_will_expire(life: int, level: int) -> None:
    # Section 2.3 of the source reports 13, 15 and 16; a public reproduction by simulation finds 17 better for m = 4, by
    # under 0.01 %, and so does the exact computation here.
    here = hendrix(life)
    total = here.stocks.sum(axis=1)
    aging = np.maximum(here.stocks[:, 0] - HENDRIX_DEMAND, 0)
    orders = {s: np.where(total < s, s - total + aging, 0).clip(0, here.most) for s in range(11, 20)}
    costs = {s: here.solve(policy=policy)[0] for s, policy in orders.items()}
    assert min(costs, key=costs.__getitem__) == level


# --- Zipkin 2008, lost sales without expiry: from memory, recomputed -------------------------------------------------


def lost_sales(lead: int, penalty: float, most: int = 12, shelf_most: int = 30) -> float:
    """Best cost a period with holding 1: the stock on hand, and the orders of the last ``lead - 1`` periods."""
    chances = poisson(5)
    on_hand = np.arange(shelf_most + 1)
    shelf = Shelf(
        np.repeat(on_hand, len(chances))[:, None],
        np.array([NEVER]),
        np.zeros(1, dtype=np.int64),
        np.zeros(1, dtype=np.bool_),
    )
    short = shelf.period(0, np.tile(np.arange(len(chances)), len(on_hand)))
    left = shelf.stock[:, 0].reshape(len(on_hand), -1)
    cost = (penalty * short.reshape(left.shape) + left) @ chances
    value = np.zeros((shelf_most + 1,) + (most + 1,) * (lead - 1))
    while True:
        ahead = _next(value, left, chances, most, lead)
        after = cost.reshape((-1,) + (1,) * (lead - 1)) + ahead.min(axis=-1)
        change = after - value
        if np.ptp(change) < 1e-6:
            return float(change.max() + change.min()) / 2
        value = after - after.flat[0]


def _next(value: Table, left: NDArray[np.int64], chances: Table, most: int, lead: int) -> Table:
    """Expected value after a period, by stock, orders on the way, and the order placed now (last axis)."""
    top = len(value) - 1
    arriving = np.arange(most + 1)
    reached = np.minimum(left[:, :, None] + arriving, top)  # stock, demand, the oldest order
    if lead == 1:
        return np.asarray(np.einsum("d,xda->xa", chances, value[reached]))
    # value[next stock, next oldest .. newest]: the oldest order becomes stock, the one placed now the newest.
    ahead = np.stack([np.einsum("d,xd...->x...", chances, value[reached[:, :, q]]) for q in arriving], axis=1)
    return np.asarray(ahead)


@pytest.mark.parametrize(
    ("penalty", "costs"), [(4, (4.04, 4.40, 4.60)), (9, (5.44, 6.09, 6.53)), (19, (6.68, 7.66, 8.36))]
)
def test_lost_sales_without_expiry_by_lead_time(penalty: float, costs: tuple[float, ...]) -> None:
    for lead, expected in enumerate(costs, start=1):
        assert lost_sales(lead, penalty) == pytest.approx(expected, abs=0.0055)


# --- the program's own rule in the same worlds -----------------------------------------------------------------------


def daily(per_day: Sequence[StepUse] | float) -> Demand:
    """A use every day: certain visits of an uncertain amount, or a Poisson number of single pieces."""
    if isinstance(per_day, float):
        return Demand((Stream("a", Rate(7 * per_day), (StepUse(1),)),))
    return Demand((), tuple(Booking(TODAY + timedelta(days=k), "a", tuple(per_day)) for k in range(100)))


def over(demand: Demand, days: int) -> Distribution:
    return use_over(demand, TODAY, TODAY + timedelta(days=days), 1)


def program_orders(here: World, life: int, demand: Demand, costs: Costs) -> NDArray[np.int64]:
    """What the program proposes for every stock: one day to deliver, one day between checks, packs of one.

    Cost parameters become a target: a unit short costs its penalty less the price saved, one that expires its price and
    the cost of outdating, one left over its holding; `target_from_costs` balances them.
    """
    target = target_from_costs(
        over(demand, 2),
        short=costs.short - costs.order,
        holding=costs.held,
        outdated=costs.order + costs.outdated,
        in_life=over(demand, 1 + life),
    )
    supply = Supply("a", 1, 1, lead_days=1)

    @cache
    def order(ends_today: int, later: int) -> int:
        shelf = (
            Parcel("old", ends_today, TODAY),
            Parcel("later", later, TODAY + timedelta(days=life - 1)),
        )
        position = Position("a", "a", BaseUnit.PIECE, 1, shelf, demand, supply, service_ppm=target, lives=(life - 1,))
        return propose(position, TODAY, Rules(review_days=1)).packs

    totals = here.stocks.sum(axis=1)
    wanted = [order(int(old), int(total - old)) for old, total in zip(here.stocks[:, 0], totals, strict=True)]
    return np.clip(np.array(wanted, dtype=np.int64), 0, here.most)


def test_the_programs_rule_is_within_two_and_a_half_percent_of_the_best_two_period_life() -> None:
    here = moor(IssueOrder.EARLIEST_EXPIRY)
    best, _ = here.solve(0.99)
    ours, _ = here.solve(0.99, program_orders(here, 2, daily([StepUse(4, 2)]), MOOR_COSTS))
    assert 0 <= ours / best - 1 < 0.02  # measured 1.7 %; published heuristics leave up to 2.5 %


@pytest.mark.parametrize(("life", "gap"), [(2, 0.012), (3, 0.006), (4, 0.002)])
def test_the_programs_rule_is_near_the_best_average_profit(life: int, gap: float) -> None:
    here = hendrix(life)
    best, _ = here.solve()
    ours, _ = here.solve(policy=program_orders(here, life, daily(5.0), HENDRIX_COSTS))
    assert 0 <= (ours - best) / (HENDRIX_DEMAND - best) < gap  # measured 1.1, 0.4 and 0.1 %


# --- a reference library's numbers, where the program answers the same question --------------------------------------
# stockpyl 1.0.2, the companion of "Fundamentals of Supply Chain Theory" (read in the source). Its (r, Q) and (s, S)
# numbers let what is short come back later, which a visit does not, and its normal demand has no counterpart here.


def chosen(packs: int, price: Callable[[int], int], *, yearly: float, fee: float, holding: float) -> Choice:
    return weigh(0, 1, range(1, packs), daily=yearly / 365, price=price, fee_cents=fee, holding=holding, uses=())


def test_without_expiry_the_number_of_packs_is_the_economic_order_quantity() -> None:
    # economic_order_quantity(8, .225, 1300) -> 304.0468, 68.4105
    choice = chosen(600, lambda n: n, yearly=1300, fee=8, holding=0.225)
    assert choice.packs[choice.best] == 304
    assert choice.yearly[choice.best] - 1300 == pytest.approx(68.4105, abs=1e-4)


def test_an_all_units_discount_is_weighed_as_the_textbook_does() -> None:
    # economic_order_quantity_with_all_units_discounts(200, .20, 1000, [0, 200, 500], [500, 475, 450]) -> 500, 472900
    supply = Supply("a", 1, 500, 1, breaks=(PriceBreak(200, 475), PriceBreak(500, 450)))
    choice = chosen(900, supply.price, yearly=1000, fee=200, holding=0.20)
    assert choice.packs[choice.best] == 500
    assert choice.yearly[choice.best] == pytest.approx(472_900)


def test_an_order_is_capped_by_the_shelf_life_where_the_economic_quantity_is_longer() -> None:
    # 60 a week, order cost 12, holding .005 a year each: 3,870 = 1.24 years of use; a year of shelf left: 3,120.
    plain = chosen(6000, lambda n: n, yearly=60 * 52, fee=12, holding=0.005)
    assert plain.packs[plain.best] == pytest.approx(3870, abs=1)
    assert plain.packs[plain.best] / 3120 == pytest.approx(1.24, abs=0.005)
    year = daily(60 * 52 / 365)
    capped = propose(
        Position(
            "a",
            "a",
            BaseUnit.PIECE,
            1,
            (),
            year,
            Supply("a", 1, 1, lead_days=0, fee_cents=12),
            lives=(364,),
        ),
        TODAY,
        Rules(fee_share_ppm=1_000_000, holding_ppm=5000),
    )
    assert 2800 < capped.packs <= 3120  # a little under: in a slow year not all of a year's use is used


def test_the_critical_ratio_is_the_newsvendors() -> None:
    # newsvendor_poisson(.18, .70, 50) -> 56; newsvendor_discrete(1, 4, Poisson 6) -> 8 at a cost of 3.5701
    fifty, six = over(daily(50.0), 1), over(daily(6.0), 1)
    assert fifty.quantile(target_from_costs(fifty, short=0.70, holding=0.18)) == 56
    level = six.quantile(target_from_costs(six, short=4, holding=1))
    left = six.expected_left(np.array([float(level)]))[0]
    assert level == 8
    assert left + 4 * (6 - level + left) == pytest.approx(3.5701, abs=5e-5)


def test_the_loss_function_and_the_fill_rate() -> None:
    # poisson_loss(18, 15) -> .5176095; fill rate at r 5, Q 6, Poisson 4 over the lead time: .93183 (computed)
    fifteen, four = over(daily(15.0), 1), over(daily(4.0), 1)

    def loss(use: Distribution, mean: float, level: float) -> float:
        return mean - level + float(use.expected_left(np.array([level]))[0])

    assert loss(fifteen, 15, 18) == pytest.approx(0.5176095, abs=1e-7)
    assert 1 - (loss(four, 4, 5) - loss(four, 4, 11)) / 6 == pytest.approx(0.93183, abs=5e-6)

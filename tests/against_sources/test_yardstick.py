"""The yardstick, small and seeded: what the program's rule costs against levels tuned with knowledge nobody has.

The bars are those the program was specified with; they are missed only by more than two standard errors of the paired
difference. `python -m tests.benchmarks.yardstick` measures the same at full size; DEVELOPERS.md shows that table.
"""

from datetime import timedelta
from functools import cache

import numpy as np
import pytest

from inventory.domain.reordering import propose
from tests.benchmarks.bound import clairvoyant
from tests.benchmarks.policies import Levels, ProductRule, parcels_of, position_of
from tests.benchmarks.simulator import WARM_UP, Practice, simulate
from tests.benchmarks.tuning import levels_found
from tests.benchmarks.world import FEE_CENTS, ITEMS, MONDAY, WEEK, YEAR, Article, Chance, draw
from tests.benchmarks.yardstick import (
    BOUND,
    Bar,
    Effort,
    Line,
    basket_bars,
    basket_lines,
    item_bars,
    item_lines,
    learned,
    shown,
)

SMALL = Effort(replications=30, years=3, basket_replications=3, basket_years=1)
# One unit of 50 mL in a pack, worth 36.50 so that holding 0.01 mL a day is easy to count; half a year's life unopened.
PLAIN = Article("plain", 1, 50, 0.35, 1, 50, 3650, 7, (6, 6), 30)


@cache
def small(article: Article) -> list[Line]:
    return item_lines(article, levels_found(article), SMALL)


def kept(bars: list[Bar]) -> list[str]:
    return [f"{bar.name}: {bar.measured}, asked {bar.asked}" for bar in bars if bar.missed]


def happens(use: dict[int, int], days: int, life: int, start: int = 0) -> Chance:
    """One replication in which one visit a day takes what is said, and every delivery has the same life."""
    visits, reached = np.zeros((1, days), dtype=np.int64), np.zeros((1, days, 1), dtype=np.int32)
    for day, amount in use.items():
        visits[0, day], reached[0, day, 0] = 1, amount
    return Chance(visits, reached, np.full((1, days), life), np.array([start]))


@pytest.mark.parametrize("article", ITEMS, ids=lambda article: article.name)
def test_the_yardstick_orders_what_the_program_proposes_for_the_same_shelf(article: Article) -> None:
    rules = [ProductRule("known", article, [article.demand()]), learned(article, 4, 0.5)]
    practice = Practice(article, draw(article, 4, 3 * YEAR, (1, 2)), len(rules))
    compared = ordered = 0
    for day in range(2 * YEAR):
        if day % WEEK == 0:
            stock = practice.stock(day)
            views = [stock.rows(rows) for rows in practice.groups()]
            packs = [rule.packs(view) for rule, view in zip(rules, views, strict=True)]
            for rule, view, said in zip(rules, views, packs, strict=True):
                for row in range(4):
                    if said[row] or (day // WEEK + row) % 26 == 0:
                        position = position_of(article, rule.demands[row % len(rule.demands)], parcels_of(view, row))
                        proposal = propose(position, MONDAY + timedelta(days=day), rule.rules)
                        assert (proposal.packs, proposal.counted) == (said[row], rule.counted(view)[row])
                        compared, ordered = compared + 1, ordered + bool(said[row])
            practice.order(day, np.concatenate(packs))
        practice.live(day)
    assert compared > 30
    assert ordered > 10


def test_a_shelf_run_by_hand_costs_the_same() -> None:
    # A unit is there from the first day on and ends in the first year. Under nothing, one pack is ordered: the first
    # check without stock is on day 189; it comes on 196 with 182 days of life, ends after day 378, and 50 mL are lost.
    # The next is ordered on day 385 and comes on 392. Visits: 385 finds nothing, 400 takes 30 mL, 410 the last 20 mL.
    days = WARM_UP + 50
    chance = happens({385: 3000, 400: 3000, 410: 2000}, days, life=182, start=5000)
    (outcome,) = simulate(PLAIN, chance, [Levels("one at a time", PLAIN.pack, 0, 0)])
    held = 5000 * (379 - WARM_UP) + 5000 * (400 - 392) + 2000 * (410 - 400)  # to the end of each day
    assert outcome.wasted[0] == 5000
    assert outcome.missed[0] == 1
    assert outcome.orders[0] == 2  # on day 385 and, with nothing left, on day 413
    assert outcome.holding_cents[0] == pytest.approx(held * 3650 / 5000 * 0.1 / 365)


def test_an_opened_rest_is_thrown_away_after_its_life() -> None:
    chance = happens({WARM_UP + 10: 3000, WARM_UP + 41: 1000}, WARM_UP + 45, life=400, start=5000)
    (outcome,) = simulate(PLAIN, chance, [Levels("nothing", PLAIN.pack, -1, -1)])
    assert outcome.wasted[0] == 2000  # its thirtieth day was day 40
    assert outcome.missed[0] == 1


def test_the_clairvoyant_orders_once_for_what_one_delivery_can_carry() -> None:
    # Deliveries come on days 371, 378 ...; two visits a week apart share one: 50 mL are held 2 and 20 mL 9 days.
    days = WARM_UP + YEAR
    near = clairvoyant(PLAIN, happens({380: 5000, 387: 2000, 600: 5000}, days, life=182))
    shelf_free = FEE_CENTS  # the first shelf comes without a fee; it lasts to day 387, the second delivery comes on 595
    held = (5000 * (380 - 371) + 2000 * (387 - 371) + 5000 * (600 - 595)) * 3650 / 5000 * 0.1 / 365
    assert near[0] == pytest.approx((shelf_free + held) / 100 * YEAR / (days - 371))


@pytest.mark.xdist_group("yardstick")
@pytest.mark.parametrize("article", ITEMS, ids=lambda article: article.name)
def test_nobody_is_cheaper_than_who_knows_everything(article: Article) -> None:
    lines = {line.policy: line for line in small(article)}
    bound = lines.pop(BOUND)
    assert all((line.cost >= bound.cost).all() for line in lines.values())


@pytest.mark.xdist_group("yardstick")  # one worker simulates the items, once
def test_the_rule_keeps_up_with_tuned_levels_serves_visits_and_wastes_little() -> None:
    assert kept(item_bars([line for article in ITEMS for line in small(article)])) == []


@pytest.mark.parametrize("visits", [2, 6])  # 12 a week too in the whole table; it costs as much as both
def test_filled_baskets_save_nearly_half_of_what_par_levels_cost(visits: int) -> None:
    assert kept(basket_bars(visits, basket_lines(visits, SMALL))) == []


def test_a_bar_is_missed_by_more_than_two_standard_errors() -> None:
    assert Bar("", "", "", excess=2.1, standard_error=1).missed
    assert not Bar("", "", "", excess=1.9, standard_error=1).missed


@pytest.mark.xdist_group("yardstick")  # one worker simulates the items, once
def test_par_levels_miss_the_bars_of_the_rule() -> None:
    lines = [line for article in ITEMS for line in small(article)]
    rows = {(row["setting"], row["policy"]): row for row in shown(lines, BOUND)}
    assert rows["C", "par levels, 4 and 12 weeks"]["fill"] < 0.98
    assert rows["C", "par levels, 1 and 3 packs"]["waste"] > 0.2

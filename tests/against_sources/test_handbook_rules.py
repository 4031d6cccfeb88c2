"""The handbooks' numbers, for the simple minimum-maximum mode."""

from dataclasses import replace
from datetime import date
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.demand import Demand, Rate, StepUse, Stream
from inventory.domain.handbook import (
    DAYS_IN_A_MONTH,
    Months,
    Review,
    adjusted_monthly_use,
    min_max,
    months_of_stock,
    order_to_cover,
    order_up_to,
    spread_over_lead_time,
)
from inventory.domain.reordering import MinRule, Mode, Position, Rules, propose
from inventory.domain.shelf import Parcel
from inventory.domain.supply import Supply
from inventory.domain.vocabulary import BaseUnit
from inventory.domain.why import chained

TODAY = date(2026, 3, 2)


def test_months_of_stock() -> None:
    # The Logistics Handbook 3.2 and its training slides (read in the source): 10, 2 and 0.83 months.
    assert [months_of_stock(1000, use) for use in (100, 500)] == [10, 2]
    assert float(months_of_stock(1000, 1200) or 0) == pytest.approx(0.83, abs=0.005)
    assert months_of_stock(1000, 0) is None


def test_minimum_and_maximum_with_safety_equal_to_the_lead_time() -> None:
    # Same source: lead time 1 month, order interval 2 months: minimum 2, maximum 4 (read, and computed from the rule).
    levels = min_max(Fraction(1), Fraction(2))
    assert [levels.low, levels.high] == [2, 4]


def test_safety_stock_is_a_setting_because_handbooks_differ() -> None:
    half_a_review = min_max(Fraction(1), Fraction(2), safety=Fraction(1))
    none = min_max(Fraction(1), Fraction(2), safety=Fraction(0))
    assert [half_a_review.low, none.low] == [2, 1]


def test_use_adjusted_for_days_out_of_stock() -> None:
    # WHO TB/FDC guide 2002, Annex 5 (read in the source): 89,000 in 6 months with 34 days out, safety 3 months, lead
    # time 3, procurement period 6, nothing held. A month has 30.4 days there.
    use = adjusted_monthly_use(89_000, 6, 34)
    assert use is not None
    rounded = Fraction(round(use))
    assert rounded == 18_232
    assert 3 * rounded == 54_696
    assert order_to_cover(rounded, 3, 6, 3 * rounded, 0) == 218_784


def test_the_same_with_the_other_constant_for_a_month() -> None:
    # MDS-3, chapter 20 (from memory) takes 30.5 days: 18,218 / 54,654 / 218,616.
    use = adjusted_monthly_use(89_000, 6, 34, month=Fraction(305, 10))
    assert use is not None
    rounded = Fraction(round(use))
    assert [rounded, 3 * rounded, order_to_cover(rounded, 3, 6, 3 * rounded, 0)] == [18_218, 54_654, 218_616]


def test_stock_that_was_out_all_the_time_says_nothing_about_its_use() -> None:
    assert adjusted_monthly_use(10, 1, 40) is None


def test_standard_orders_only_at_or_under_the_minimum() -> None:
    # Use 12 a month, review 1 month, lead 0.5, safety 0.5: minimum 24, maximum 36 (from memory).
    # 25 -> no order, 24 -> 12.
    levels = min_max(Fraction(1, 2), Fraction(1), Fraction(1, 2), Review.STANDARD)
    assert [12 * levels.low, 12 * levels.high] == [24, 36]
    assert order_up_to(24, 36, 25) == 0
    assert order_up_to(24, 36, 24) == 12


def test_forced_orders_up_to_the_maximum_at_every_review() -> None:
    levels = min_max(Fraction(1, 2), Fraction(1), Fraction(1, 2), Review.FORCED)
    assert [12 * levels.low, 12 * levels.high] == [12, 24]
    # On hand 9 -> 15; in packs of two 16 (computed from the rule).
    assert order_up_to(12, 24, 9, review=Review.FORCED) == 15
    assert order_up_to(12, 24, 9, 2, Review.FORCED) == 16
    assert order_up_to(12, 24, 20, review=Review.FORCED) == 4
    assert order_up_to(12, 24, 24, review=Review.FORCED) == 0


def test_an_uncertain_lead_time_widens_the_use_over_it() -> None:
    # d 20, sd_d 3, LT 4, sd_LT 1 -> 20.88; at z = 1.645 a safety stock of 34.35 (computed from the formula).
    spread = spread_over_lead_time(4, 3, 20, 1)
    assert spread == pytest.approx(20.88, abs=0.005)
    assert 1.645 * spread == pytest.approx(34.35, abs=0.01)


@given(st.integers(0, 500), st.integers(0, 500), st.integers(1, 50), st.sampled_from(Review))
def test_an_order_never_grows_with_stock_and_reaches_the_maximum(low: int, above: int, pack: int, how: Review) -> None:
    high = low + above
    orders = [order_up_to(low, high, stock, pack, how) for stock in range(high + 2)]
    assert all(after <= before for before, after in pairwise(orders))
    for stock, order in enumerate(orders):
        if order:
            assert high <= stock + order < high + pack


# --- the mode of the program -----------------------------------------------------------------------------------------


def trays(stock: int, *, rule: MinRule | None = None) -> Position:
    """Twelve trays a month, one a pack, half a month to deliver."""
    weekly = Rate(float(12 * 7 / DAYS_IN_A_MONTH))
    return Position(
        "tray",
        "Tray, upper, M",
        BaseUnit.PIECE,
        1,
        (Parcel("a", stock),) if stock else (),
        Demand((Stream("final", weekly, (StepUse(1),)),)),
        Supply("north", 1, 300, 15),
        min_rule=rule,
    )


SIMPLE = Rules(mode=Mode.MIN_MAX, months=Months(Fraction(1, 2), Fraction(1, 2), Fraction(1), Review.STANDARD))


@pytest.mark.parametrize(("stock", "packs"), [(25, 0), (24, 12), (10, 26), (0, 36)])
def test_the_simple_mode_orders_by_the_handbook(stock: int, packs: int) -> None:
    # The numbers of the standard review above: minimum 24, maximum 36.
    proposal = propose(trays(stock), TODAY, SIMPLE)
    assert (proposal.reorder_point, proposal.packs) == (24, packs)
    assert chained(proposal.why)


def test_the_simple_mode_can_be_forced_up_to_the_maximum() -> None:
    forced = replace(SIMPLE, months=replace(SIMPLE.months, review=Review.FORCED))
    proposal = propose(trays(9), TODAY, forced)
    assert (proposal.reorder_point, proposal.packs) == (12, 15)
    assert propose(trays(20), TODAY, forced).packs == 4
    assert propose(trays(24), TODAY, forced).packs == 0
    assert chained(proposal.why)


def test_the_practice_s_own_minimum_and_maximum_come_before_the_handbooks() -> None:
    proposal = propose(trays(9, rule=MinRule(12, 24)), TODAY, SIMPLE)
    assert (proposal.reorder_point, proposal.packs) == (12, 15)
    assert propose(trays(13, rule=MinRule(12, 24)), TODAY, SIMPLE).packs == 0


def test_without_months_set_the_supplier_s_lead_time_is_taken() -> None:
    proposal = propose(trays(0), TODAY, Rules(mode=Mode.MIN_MAX))
    assert proposal.reorder_point == 12  # 15 days to deliver and as much again: a little under a month

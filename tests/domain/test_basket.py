"""One delivery per supplier: minimum order, fee, free delivery, and what comes in other items' packs."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.domain.basket import Basket, SupplierTerms, fill_baskets
from inventory.domain.demand import Demand, Rate, StepUse, Stream
from inventory.domain.position import Mode, Position, Rules
from inventory.domain.reordering import propose
from inventory.domain.shelf import Parcel
from inventory.domain.supply import Supply
from inventory.domain.vocabulary import BaseUnit
from inventory.domain.why import chained

TODAY = date(2026, 3, 2)
LIVES = (400, 450, 500)


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def item(code: str, weekly: float, stock: int, lives: Sequence[int] = LIVES, fee: int = 0) -> Position:
    """A cartridge item of 20 mL a visit, in boxes of two."""
    return Position(
        code,
        code,
        BaseUnit.CML,
        5000,
        (Parcel("a", stock, day(350)),) if stock else (),
        Demand((Stream("final", Rate(weekly), (StepUse(2000, 700),)),)),
        Supply("north", 2, 3000, 5, fee_cents=fee),
        lives=tuple(lives),
    )


def fill(positions: list[Position], rules: Rules | None = None, **terms: int) -> Basket:
    named = {"north": SupplierTerms("north", **terms)}
    (basket,) = fill_baskets(positions, named, TODAY, rules)
    return basket


def packs(basket: Basket) -> dict[str, int]:
    return {proposal.code: proposal.packs for proposal in basket.proposals}


DUE, FULL = item("due", 2, 0), item("full", 2, 60000)


def test_a_basket_adds_up_and_carries_the_suppliers_fee() -> None:
    basket = fill([DUE, FULL], fee_cents=1500)
    alone = propose(DUE, TODAY)
    assert packs(basket) == {"due": alone.packs, "full": 0}
    assert basket.goods_cents == alone.cents
    assert basket.fee_cents == 1500
    assert chained(basket.why)


def test_nothing_due_means_no_order_no_fee_and_no_additions() -> None:
    basket = fill([FULL], fee_cents=1500, free_from_cents=10_000, minimum_cents=5000)
    assert (basket.goods_cents, basket.fee_cents, packs(basket)) == (0, 0, {"full": 0})


def test_packs_are_added_where_that_is_cheaper_than_the_fee() -> None:
    due = propose(DUE, TODAY).cents
    basket = fill([DUE, FULL], fee_cents=1500, free_from_cents=due + 2000)
    assert basket.goods_cents >= due + 2000
    assert basket.fee_cents == 0
    saved = basket.why[-1]
    assert saved.result.name == "saved"
    assert saved.result.value > 0
    added = next(p for p in basket.proposals if any("free delivery" in t.name for d in p.why for t in d.terms))
    assert chained(added.why)
    assert added.why[-1].result.value == added.cents


def test_an_item_is_charged_less_of_a_fee_that_is_seldom_paid() -> None:
    def charged(free: int | None) -> int:
        named = {"north": SupplierTerms("north", fee_cents=1500, free_from_cents=free)}
        (basket,) = fill_baskets([item("due", 2, 0, fee=1500), FULL], named, TODAY)
        return next(t.value for d in basket.proposals[0].why for t in d.terms if t.name.startswith("charged"))

    weekly = 2 * 2 * 2000 * 3000 // 10_000  # two items, two visits of 20 mL, 30.00 for 100 mL
    assert charged(None) == 750  # half the fee: two items
    assert charged(2 * weekly) == pytest.approx(375, abs=1)
    assert charged(weekly) == 0


def test_an_only_item_is_charged_the_whole_fee_and_of_many_each_a_quarter() -> None:
    def charged(items: int) -> int:
        positions = [item(str(k), 2, 0, fee=1500) for k in range(items)]
        return next(
            t.value
            for d in fill(positions, fee_cents=1500).proposals[0].why
            for t in d.terms
            if t.name.startswith("charged")
        )

    assert [charged(n) for n in (1, 2, 3, 4, 8)] == [1500, 750, 500, 375, 375]


def test_packs_that_cost_more_than_the_fee_are_not_added() -> None:
    due = propose(DUE, TODAY).cents
    basket = fill([DUE, FULL], fee_cents=100, free_from_cents=due + 60_000)
    assert basket.goods_cents == due
    assert basket.fee_cents == 100


def test_what_would_expire_is_not_bought_for_the_sake_of_free_delivery() -> None:
    slow = item("slow", 0.05, 0, lives=(60,))
    due = propose(DUE, TODAY).cents
    basket = fill([DUE, slow], fee_cents=1500, free_from_cents=due + 4000)
    assert packs(basket)["slow"] == propose(slow, TODAY).packs


def test_the_longer_lived_of_two_items_is_topped_up() -> None:
    fresh, short = item("fresh", 1, 25000, lives=(700,)), item("short", 1, 25000, lives=(120,))
    due = propose(DUE, TODAY).cents
    basket = fill([DUE, short, fresh], fee_cents=1500, free_from_cents=due + 3000)
    assert packs(basket)["short"] == 0
    assert packs(basket)["fresh"] + packs(basket)["due"] > propose(DUE, TODAY).packs


def test_below_the_minimum_order_packs_are_added_in_any_case() -> None:
    due = propose(DUE, TODAY).cents
    basket = fill([DUE, FULL], minimum_cents=due + 9000)
    assert basket.goods_cents >= due + 9000
    assert any("minimum order" in t.name for p in basket.proposals for d in p.why for t in d.terms)
    assert not basket.warnings


def test_a_minimum_order_out_of_reach_is_said() -> None:
    tiny = item("tiny", 0.05, 0, lives=(100,))
    basket = fill([tiny], minimum_cents=100_000)
    assert basket.warnings
    assert packs(basket)["tiny"] == 1


def test_tips_that_come_with_the_cartridges_are_not_ordered_twice() -> None:
    tips = Position(
        "tip",
        "Tip",
        BaseUnit.PIECE,
        1,
        (),
        Demand((Stream("final", Rate(2.0), (StepUse(1),)),)),
        Supply("east", 1, 50, 5),
    )
    alone = propose(tips, TODAY).packs
    bringing = replace(DUE, supply=replace(DUE.supply or Supply("", 1, 0, 0), further=(("tip", 100),)))
    baskets = {b.supplier: b for b in fill_baskets([tips, bringing], {}, TODAY)}
    assert alone > 0
    assert packs(baskets["east"]) == {"tip": 0}
    counted = baskets["east"].proposals[0].why[0]
    assert "in the packs of other items ordered today" in [term.name for term in counted.terms]


def test_items_without_a_supplier_stand_in_a_basket_of_their_own() -> None:
    (basket,) = fill_baskets([replace(DUE, supply=None)], {}, TODAY)
    assert basket.supplier == ""
    assert basket.goods_cents == 0


def test_the_simple_mode_does_not_add_packs_for_free_delivery() -> None:
    rules = Rules(mode=Mode.MIN_MAX)
    due = propose(DUE, TODAY, rules).cents
    basket = fill([DUE, FULL], rules, fee_cents=1500, free_from_cents=due + 2000)
    assert basket.goods_cents == due


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.tuples(st.floats(0, 4), st.integers(0, 60000), st.integers(60, 600)), min_size=1, max_size=5),
    st.integers(0, 40_000),
    st.integers(0, 80_000),
    st.integers(0, 3000),
)
def test_every_basket_adds_up_and_never_orders_more_than_can_be_used(
    items: list[tuple[float, int, int]], minimum: int, free: int, fee: int
) -> None:
    positions = [item(str(k), weekly, stock, (life,)) for k, (weekly, stock, life) in enumerate(items)]
    basket = fill(positions, minimum_cents=minimum, free_from_cents=free, fee_cents=fee)
    assert basket.goods_cents == sum(p.cents for p in basket.proposals)
    assert chained(basket.why)
    for position, proposal in zip(positions, basket.proposals, strict=True):
        assert chained(proposal.why)
        alone = propose(position, TODAY)
        assert proposal.packs > 0 or alone.packs == 0  # fewer where less of a fee is charged, but never none
        daily = sum(s.rate.weekly * 2000 / 7 for s in position.demand.streams)
        usable = daily * (5 + position.lives[0] + 1)
        if proposal.packs > max(1, alone.packs):
            assert proposal.order_up_to <= usable + 1

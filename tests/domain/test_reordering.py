"""When to order and how much: whole packs, stock that counts, and an arithmetic that adds up."""

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.domain.demand import Demand, Forecast, Rate, StepUse, Stream
from inventory.domain.freshness import short_dated
from inventory.domain.pack_choice import representative, until_expiry, weigh
from inventory.domain.reordering import MinRule, Mode, Position, Proposal, Rules, propose
from inventory.domain.shelf import Parcel
from inventory.domain.supply import PriceBreak, Supply
from inventory.domain.vocabulary import BaseUnit, Criticality
from inventory.domain.why import Op, chained

TODAY = date(2026, 3, 2)
SUPPLY = Supply("north", units_per_pack=4, pack_cents=6000, lead_days=5)


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def use(weekly: float, mean: float = 1200.0) -> Demand:
    return Demand((Stream("final", Rate(weekly), (StepUse(mean, 0.35 * mean),)),), history_weeks=52)


def wash(*parcels: Parcel, weekly: float = 8.0) -> Position:
    return Position("wash", "Light body", BaseUnit.CML, 5000, parcels, use(weekly), SUPPLY)


def ordered(position: Position, rules: Rules | None = None) -> Proposal:
    return propose(position, TODAY, rules)


def test_without_stock_whole_packs_cover_the_reorder_point() -> None:
    proposal = ordered(wash())
    assert proposal.qty == proposal.packs * 20000
    assert proposal.qty >= proposal.reorder_point > proposal.expected_use
    assert proposal.order_up_to == proposal.qty


def test_above_the_reorder_point_nothing_is_ordered() -> None:
    point = ordered(wash()).reorder_point
    assert ordered(wash(Parcel("a", point + 1))).packs == 0
    assert ordered(wash(Parcel("a", point))).packs >= 1


def test_stock_on_order_counts_once() -> None:
    point = ordered(wash()).reorder_point
    assert ordered(wash(Parcel("a", point // 2), Parcel("b", point, arrives=day(3)))).packs == 0


def test_stock_on_hold_or_past_its_date_does_not_count_but_is_told() -> None:
    proposal = ordered(wash(Parcel("a", 90000, held=True), Parcel("b", 80000, use_by=day(-1))))
    assert proposal.counted == 0
    told = {term.name: term.value for term in proposal.why[0].terms if term.op is Op.TOLD}
    assert told == {"on hold, not counted": 90000, "past its date, not counted": 80000}


def test_what_will_expire_before_the_next_delivery_does_not_count() -> None:
    proposal = ordered(wash(Parcel("a", 50000, use_by=day(3))))
    assert proposal.counted < 8000


def test_vital_items_keep_more() -> None:
    normal = ordered(wash()).reorder_point
    assert ordered(replace(wash(), criticality=Criticality.VITAL)).reorder_point > normal
    assert ordered(replace(wash(), service_ppm=800_000)).reorder_point < normal


def test_an_item_nobody_uses_is_not_ordered_unless_under_its_own_minimum() -> None:
    idle = replace(wash(), demand=Demand())
    assert ordered(idle).packs == 0
    kept = ordered(replace(idle, min_rule=MinRule(10000, 50000)))
    assert kept.packs == 3


def test_a_thing_used_once_in_years_is_still_ordered_when_the_last_is_gone() -> None:
    rare = replace(wash(weekly=0.001))
    assert ordered(rare).reorder_point == 0
    assert ordered(rare).packs == 1
    assert ordered(replace(rare, parcels=(Parcel("a", 1),))).packs == 0


def test_without_a_supplier_nothing_is_proposed_and_a_sentence_says_so() -> None:
    proposal = ordered(replace(wash(), supply=None))
    assert proposal.packs == 0
    assert proposal.warnings


def test_a_pack_s_further_articles_are_named() -> None:
    tips = replace(SUPPLY, further=(("tip", 12),))
    proposal = ordered(replace(wash(), supply=tips))
    assert proposal.brings == (("tip", 12 * proposal.packs),)


def test_a_price_break_lowers_the_price_of_every_pack() -> None:
    breaks = replace(SUPPLY, breaks=(PriceBreak(2, 5500),))
    assert (breaks.price(1), breaks.price(2)) == (6000, 11000)


def test_the_ordering_day_and_the_lead_time_decide_how_long_stock_must_last() -> None:
    assert ordered(wash()).until == day(12)
    thursdays = replace(SUPPLY, order_weekdays=frozenset({3}))
    assert ordered(replace(wash(), supply=thursdays)).until == day(15)


def fresh(position: Position, *lives: int) -> Position:
    return replace(position, lives=lives)


def test_beyond_the_reorder_point_as_many_packs_are_ordered_as_cost_least() -> None:
    cheap_delivery = replace(wash(), supply=replace(SUPPLY, fee_cents=0))
    dear_delivery = replace(wash(), supply=replace(SUPPLY, fee_cents=20_000))
    few, many = ordered(cheap_delivery), ordered(dear_delivery)
    assert few.qty >= few.reorder_point
    assert many.packs > few.packs
    assert any(term.name == "what costs least over the time it serves" for d in many.why for term in d.terms)


def test_short_lives_make_the_order_smaller() -> None:
    dear = replace(wash(weekly=2), supply=replace(SUPPLY, fee_cents=40_000))
    long, short, mixed = fresh(dear, 500), fresh(dear, 100), fresh(dear, 100, 900)
    assert ordered(short).packs < ordered(mixed).packs <= ordered(long).packs
    assert ordered(short).to_expire <= ordered(short).qty


def test_never_more_than_can_be_used_before_it_expires() -> None:
    slow = fresh(replace(wash(weekly=0.05), service_ppm=999_999, supply=replace(SUPPLY, units_per_pack=1)), 40)
    proposal = ordered(slow)
    assert proposal.reorder_point > 5000
    assert proposal.packs == 1
    assert any(term.op is Op.AT_MOST for d in proposal.why for term in d.terms)
    assert chained(proposal.why)


def test_a_pack_too_big_for_its_life_brings_the_advice_to_buy_a_smaller_one() -> None:
    proposal = ordered(fresh(wash(weekly=0.2), 200))
    assert proposal.fresh is not None
    assert proposal.fresh.percent == round(100 * 20000 / (0.2 * 1200 / 7 * 200))
    assert "Buy the smaller pack" in proposal.warnings[0]
    assert ordered(fresh(wash(weekly=8), 200)).warnings == ()
    assert ordered(wash(weekly=0.2)).fresh is None  # nothing dated: nothing to warn of


def test_an_uncertain_lead_time_raises_the_reorder_point() -> None:
    sure = ordered(replace(wash(), supply=replace(SUPPLY, lead_days=14)))
    unsure = ordered(replace(wash(), supply=replace(SUPPLY, lead_days=14, lead_sd_days=5)))
    assert unsure.reorder_point > sure.reorder_point
    assert unsure.expected_use == sure.expected_use


def test_a_lot_that_ends_with_the_stretch_has_served_all_of_it() -> None:
    until = ordered(wash()).until
    ends_last = ordered(wash(Parcel("a", 60000, use_by=until - timedelta(days=1))))
    assert ends_last.counted == 60000
    assert ends_last.packs == 0
    assert ordered(wash(Parcel("a", 60000, use_by=until - timedelta(days=3)))).packs > 0


def test_a_price_break_is_taken_where_it_pays() -> None:
    plain = fresh(wash(), 400)
    breaks = (PriceBreak(ordered(plain).packs + 2, 4000),)
    assert ordered(replace(plain, supply=replace(SUPPLY, breaks=breaks))).packs == breaks[0].from_packs


def test_a_delivery_with_little_life_left_is_worth_less() -> None:
    shelf = (Parcel("a", 15000, day(200)),)
    wanted = use(2)
    offered = Parcel("offer", 20000, day(40), cents=6000)
    deal = short_dated(shelf, offered, wanted, TODAY, base=BaseUnit.CML, usual_lives=(300, 400))
    assert deal.why.adds_up()
    assert 0 < deal.worth_cents < 6000
    assert deal.discount_ppm == (6000 - deal.worth_cents) * 1_000_000 // 6000
    longer = replace(offered, use_by=day(52))
    later = short_dated(shelf, longer, wanted, TODAY, base=BaseUnit.CML, usual_lives=(300, 400))
    assert later.worth_cents > deal.worth_cents
    ordinary = replace(offered, use_by=day(400))
    assert short_dated(shelf, ordinary, wanted, TODAY, base=BaseUnit.CML, usual_lives=(400,)).discount_ppm == 0


def test_the_short_dated_price_can_weigh_the_chances_too() -> None:
    offered = Parcel("offer", 20000, day(75), cents=6000)

    def worth(seed: int | None) -> int:
        generator = None if seed is None else np.random.default_rng(seed)
        return short_dated(
            (), offered, use(2), TODAY, base=BaseUnit.CML, usual_lives=(300,), generator=generator, paths=2000
        ).worth_cents

    assert worth(1) == worth(1)
    assert worth(1) < worth(None)  # the mean use just takes it all; slow courses do not


def test_many_recorded_lives_are_thinned_to_their_quantiles() -> None:
    assert representative(()) == ()
    assert representative((9, 3)) == (3, 9)
    assert representative(range(16)) == (1, 3, 5, 7, 9, 11, 13, 15)


def test_an_order_all_of_which_would_expire_has_no_price_that_pays() -> None:
    choice = weigh(
        10**6,
        100,
        range(1, 3),
        daily=1,
        price=lambda n: n,
        fee_cents=1,
        holding=0.1,
        uses=until_expiry(Forecast(use(0.1), TODAY), 0, [1]),
    )
    assert all(math.isinf(cost) or cost > 100 for cost in choice.yearly)


wishes = st.tuples(st.floats(0.05, 12), st.integers(0, 60000), st.integers(900_000, 998_000), st.integers(60, 700))


def wish(weekly: float, stock: int, target: int, life: int) -> Proposal:
    supply = replace(SUPPLY, fee_cents=1500)
    shelf = (Parcel("a", stock, day(400)),) if stock else ()
    return ordered(replace(fresh(wash(*shelf, weekly=weekly), life), service_ppm=target, supply=supply))


@settings(deadline=None, max_examples=60)
@given(wishes, st.integers(0, 20000))
def test_more_stock_never_means_a_bigger_order(asked: tuple[float, int, int, int], more: int) -> None:
    weekly, stock, target, life = asked
    assert wish(weekly, stock + more, target, life).packs <= wish(weekly, stock, target, life).packs


@settings(deadline=None, max_examples=60)
@given(wishes, st.floats(0, 5))
def test_more_demand_never_means_a_smaller_order(asked: tuple[float, int, int, int], more: float) -> None:
    weekly, stock, target, life = asked
    assert wish(weekly + more, stock, target, life).packs >= wish(weekly, stock, target, life).packs


@settings(deadline=None, max_examples=60)
@given(wishes, st.integers(0, 1999))
def test_a_higher_target_never_means_a_smaller_order(asked: tuple[float, int, int, int], more: int) -> None:
    weekly, stock, target, life = asked
    assert wish(weekly, stock, target + more, life).packs >= wish(weekly, stock, target, life).packs


positions = st.builds(
    lambda qty, ends, weekly, low, mode: (
        replace(wash(Parcel("a", qty, use_by=day(ends)), weekly=weekly), min_rule=low and MinRule(low, 2 * low)),
        Rules(mode=mode),
    ),
    st.integers(0, 60000),
    st.integers(-5, 300),
    st.floats(0, 20),
    st.none() | st.integers(1, 30000),
    st.sampled_from(Mode),
)


@settings(deadline=None)
@given(positions)
def test_every_line_of_every_proposal_adds_up(asked: tuple[Position, Rules]) -> None:
    proposal = ordered(*asked)
    assert chained(proposal.why)
    assert proposal.why[0].result.value == proposal.counted
    assert proposal.why[1].result.value == proposal.reorder_point
    if proposal.packs:
        assert proposal.why[2].result.value == proposal.packs
        assert proposal.why[-1].result.value == proposal.cents


def scaled(position: Position, by: int) -> Position:
    """The same item counted in a unit so many times smaller."""
    streams = tuple(
        replace(stream, steps=tuple(replace(step, mean=by * step.mean, sd=by * step.sd) for step in stream.steps))
        for stream in position.demand.streams
    )
    return replace(
        position,
        unit_qty=by * position.unit_qty,
        parcels=tuple(replace(parcel, qty=by * parcel.qty) for parcel in position.parcels),
        demand=replace(position.demand, streams=streams),
    )


@settings(deadline=None, max_examples=60)
@given(st.floats(0.05, 12), st.integers(0, 60000), st.integers(0, 400), st.sampled_from([10, 100]))
def test_the_unit_of_measure_does_not_change_what_is_ordered(weekly: float, stock: int, ends: int, by: int) -> None:
    shelf = (Parcel("a", stock, day(ends)),) if stock else ()
    item = fresh(wash(*shelf, weekly=weekly), 300)
    coarse, fine = ordered(item), ordered(scaled(item, by))
    assert abs(fine.reorder_point - by * coarse.reorder_point) <= by
    assert abs(fine.counted - by * coarse.counted) <= by  # the mean use is rounded once a period of the walk
    if abs(coarse.counted - coarse.reorder_point) > 1:
        assert (fine.packs, fine.cents) == (coarse.packs, coarse.cents)

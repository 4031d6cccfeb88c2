"""When to order and how much: whole packs, stock that counts, and an arithmetic that adds up."""

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.demand import Demand, Rate, StepUse, Stream
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


@given(positions)
def test_every_line_of_every_proposal_adds_up(asked: tuple[Position, Rules]) -> None:
    proposal = ordered(*asked)
    assert chained(proposal.why)
    assert proposal.why[0].result.value == proposal.counted
    assert proposal.why[1].result.value == proposal.reorder_point
    if proposal.packs:
        assert proposal.why[2].result.value == proposal.packs
        assert proposal.why[-1].result.value == proposal.cents

"""Which lots serve a visit: earliest expiry first, one load from one cartridge."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.allocation import (
    Allocation,
    Load,
    Pick,
    Shortfall,
    Stack,
    allocate,
    earlier_than,
    issue_key,
    stranded,
)
from inventory.domain.vocabulary import LateReason

TODAY = date(2026, 3, 1)
RECEIVED = date(2026, 1, 1)
CARTRIDGE = 5000  # 50 mL in 0.01 mL
WASH, OTHER_WASH = 1, 2


def sealed(holding_id: int, units: int = 1, *, item_id: int = WASH, use_by: date | None = None) -> Stack:
    return Stack(holding_id, holding_id, item_id, units * CARTRIDGE, CARTRIDGE, RECEIVED, use_by)


def opened(holding_id: int, qty: int, *, item_id: int = WASH, use_by: date | None = None) -> Stack:
    return Stack(holding_id, holding_id, item_id, qty, CARTRIDGE, RECEIVED, use_by, opened_on=TODAY)


def proposed(loads: list[Load[str]], stacks: list[Stack]) -> list[tuple[str, int, int]]:
    """Line, holding and quantity of each pick."""
    return [(pick.key, pick.holding_id, pick.qty) for pick in allocate(loads, stacks, TODAY).picks]


def first_choice(*stacks: Stack, qty: int = 900) -> int:
    return allocate([Load("wash", (WASH,), qty)], stacks, TODAY).picks[0].holding_id


# issue order


def test_an_opened_cartridge_goes_before_a_sealed_one_that_expires_earlier() -> None:
    assert first_choice(sealed(1, use_by=date(2026, 4, 1)), opened(2, 4000, use_by=date(2027, 1, 1))) == 2


def test_of_two_opened_cartridges_the_one_whose_opened_life_ends_first_goes() -> None:
    soon = replace(opened(2, 4000, use_by=date(2028, 1, 1)), opened_on=date(2026, 2, 1), opened_days=60)
    assert soon.last_day == date(2026, 4, 2)
    assert first_choice(opened(1, 4000, use_by=date(2026, 5, 1)), soon) == 2


def test_of_sealed_lots_the_earlier_use_by_goes_first() -> None:
    assert first_choice(sealed(1, use_by=date(2027, 1, 1)), sealed(2, use_by=date(2026, 12, 31))) == 2


def test_of_lots_with_one_use_by_the_earlier_receipt_goes_first() -> None:
    day = date(2027, 1, 1)
    assert first_choice(sealed(1, use_by=day), replace(sealed(2, use_by=day), first_received_on=date(2025, 1, 1))) == 2


def test_stock_without_a_date_goes_last() -> None:
    assert first_choice(sealed(1), sealed(2, use_by=date(2030, 1, 1))) == 2


def test_stock_at_the_chair_goes_before_the_store_room_even_if_it_expires_later() -> None:
    store = replace(opened(1, 4000, use_by=date(2026, 4, 1)), at_place=False)
    assert first_choice(store, sealed(2)) == 2
    assert first_choice(store) == 1


# what is never proposed


@pytest.mark.parametrize("reason", [LateReason.HELD, LateReason.RECALLED])
def test_a_lot_on_hold_or_recalled_is_never_proposed(reason: LateReason) -> None:
    stacks = [replace(sealed(1, use_by=date(2026, 4, 1)), blocked=reason), sealed(2)]
    assert first_choice(*stacks) == 2
    assert stacks[0].late_reason(TODAY) is reason


def test_a_lot_is_proposed_on_its_last_day_and_not_the_day_after() -> None:
    load = [Load("wash", (WASH,), 900)]
    assert allocate(load, [sealed(1, use_by=TODAY)], TODAY).complete
    late = sealed(1, use_by=TODAY - timedelta(days=1))
    assert allocate(load, [late], TODAY) == Allocation((), (Shortfall("wash", WASH, 900),))
    assert late.late_reason(TODAY) is LateReason.EXPIRED


def test_an_opened_unit_past_its_life_is_not_proposed_though_its_lot_is_in_date() -> None:
    old = replace(opened(1, 4000, use_by=date(2028, 1, 1)), opened_on=date(2026, 1, 1), opened_days=30)
    assert first_choice(old, sealed(2)) == 2


def test_a_visit_next_month_needs_stock_that_is_in_date_on_its_own_day() -> None:
    next_month = Load("wash", (WASH,), 900, on=date(2026, 4, 15))
    assert not allocate([next_month], [sealed(1, use_by=date(2026, 4, 14))], TODAY).complete
    assert allocate([next_month], [sealed(1, use_by=date(2026, 4, 15))], TODAY).complete


def test_a_unit_opened_for_a_visit_lives_from_that_visits_day() -> None:
    stack = replace(sealed(1), opened_days=30)
    loads = [Load(day.month, (WASH,), 900, on=day) for day in (date(2026, 4, 1), date(2026, 5, 1), date(2026, 6, 1))]
    result = allocate(loads, [stack], TODAY)
    assert [(pick.key, pick.fresh, pick.opens) for pick in result.picks] == [(4, 1, True), (5, 1, False)]
    assert result.shortfalls == (Shortfall(6, WASH, 900),)


# one load from one cartridge


def test_a_load_that_the_rest_cant_finish_takes_a_fresh_cartridge_and_the_rest_serves_a_smaller_step() -> None:
    loads = [Load("tray load", (WASH,), 2500), Load("wash", (WASH,), 900)]
    assert proposed(loads, [opened(1, 1000), sealed(2)]) == [("tray load", 2, 2500), ("wash", 1, 900)]


def test_a_rest_of_exactly_the_load_finishes_it() -> None:
    assert first_choice(opened(1, 900), sealed(2)) == 1


def test_a_material_that_may_be_split_takes_the_rest_first_and_pays_one_more_tip_and_purge() -> None:
    load = Load("tray load", (WASH,), 2500, extra_per_split=115, may_split=True)
    assert proposed([load], [opened(1, 1000), sealed(2)]) == [("tray load", 1, 1000), ("tray load", 2, 1615)]


def test_a_rest_that_would_only_fill_its_own_tip_is_left_alone() -> None:
    load = Load("tray load", (WASH,), 2500, extra_per_split=115, may_split=True)
    assert proposed([load], [opened(1, 115), sealed(2)]) == [("tray load", 2, 2500)]


def test_a_load_larger_than_a_whole_cartridge_is_split_even_if_the_material_may_not() -> None:
    load = Load("tray load", (WASH,), 7000, extra_per_split=115)
    assert proposed([load], [sealed(1, 2)]) == [("tray load", 1, 5000), ("tray load", 1, 2115)]
    assert [pick.fresh for pick in allocate([load], [sealed(1, 2)], TODAY).picks] == [1, 2]


def test_a_load_of_exactly_one_cartridge_takes_a_fresh_one_whole() -> None:
    load = Load("tray load", (WASH,), CARTRIDGE, extra_per_split=115)
    assert proposed([load], [opened(1, 1000), sealed(2)]) == [("tray load", 2, CARTRIDGE)]


def test_half_a_load_is_not_proposed() -> None:
    result = allocate([Load("tray load", (WASH,), 2500)], [opened(1, 2000), opened(2, 2000)], TODAY)
    assert result == Allocation((), (Shortfall("tray load", WASH, 2500),))


def test_stock_a_split_load_could_not_use_serves_the_next_load() -> None:
    loads = [Load("tray load", (WASH,), 7000, may_split=True), Load("wash", (WASH,), 900)]
    assert proposed(loads, [sealed(1)]) == [("wash", 1, 900)]


def test_a_cartridge_opened_for_the_first_load_serves_the_second_as_an_opened_one() -> None:
    loads = [Load("upper wash", (WASH,), 1000), Load("lower wash", (WASH,), 800)]
    picks = allocate(loads, [sealed(1, 2)], TODAY).picks
    assert picks == (
        Pick("upper wash", sealed(1, 2), 1000, fresh=1, opens=True),
        Pick("lower wash", sealed(1, 2), 800, fresh=1, opens=False),
    )
    assert [(pick.lot_id, pick.item_id) for pick in picks] == [(1, WASH), (1, WASH)]


def test_a_second_cartridge_is_opened_when_the_first_fresh_one_cant_finish_the_next_load() -> None:
    loads = [Load("upper load", (WASH,), 3000), Load("lower load", (WASH,), 2500), Load("wash", (WASH,), 900)]
    picks = allocate(loads, [sealed(1, 2)], TODAY).picks
    assert [(pick.fresh, pick.opens) for pick in picks] == [(1, True), (2, True), (1, False)]


def test_an_opened_cartridge_fetched_from_the_store_room_goes_on_serving_the_visit() -> None:
    store = replace(opened(1, 4000), at_place=False)
    chair = replace(sealed(2), qty=1000, unit_qty=1000)
    loads = [Load("tray load", (WASH,), 2500), Load("wash", (WASH,), 900)]
    assert proposed(loads, [store, chair]) == [("tray load", 1, 2500), ("wash", 1, 900)]


# articles, substitutes, pieces


def test_a_substitute_comes_in_only_where_the_preferred_article_cant_serve() -> None:
    load = Load("wash", (WASH, OTHER_WASH), 900)
    far = replace(sealed(1), at_place=False)
    near_substitute = opened(2, 4000, item_id=OTHER_WASH)
    assert allocate([load], [far, near_substitute], TODAY).picks == (Pick("wash", far, 900, fresh=1, opens=True),)
    too_little = opened(1, 800)
    assert allocate([load], [too_little, near_substitute], TODAY).picks == (
        Pick("wash", near_substitute, 900, substitute=True),
    )


def test_a_need_without_an_article_on_the_list_is_a_shortfall() -> None:
    assert allocate([Load("wash", (), 900)], [sealed(1)], TODAY).shortfalls == (Shortfall("wash", None, 900),)


def test_pieces_open_nothing_and_go_as_far_as_they_do_with_substitutes_for_the_rest() -> None:
    tips = Stack(1, 1, 1, qty=1, unit_qty=1, first_received_on=RECEIVED)
    others = Stack(2, 2, 2, qty=1, unit_qty=1, first_received_on=RECEIVED)
    assert allocate([Load("tips", (1, 2), 3, pieces=True)], [tips, others], TODAY) == Allocation(
        (Pick("tips", tips, 1), Pick("tips", others, 1, substitute=True)),
        (Shortfall("tips", 1, 1),),
    )


def test_the_picks_of_one_line_of_the_form_can_be_asked_for() -> None:
    result = allocate([Load("a", (WASH,), 10), Load("b", (WASH,), 20)], [opened(1, 4000)], TODAY)
    assert [pick.qty for pick in result.of("b")] == [20]


def test_a_load_of_nothing_takes_nothing_and_lacks_nothing() -> None:
    assert allocate([Load("wash", (WASH,), 0)], [sealed(1)], TODAY) == Allocation((), ())


# warnings


def test_picking_a_later_lot_names_the_ones_that_should_have_gone_first_in_issue_order() -> None:
    late, soon, open_one = sealed(1, use_by=date(2028, 1, 1)), sealed(2, use_by=date(2026, 6, 1)), opened(3, 4000)
    held = replace(sealed(4, use_by=date(2026, 5, 1)), blocked=LateReason.HELD)
    assert earlier_than(late, [late, soon, open_one, held], TODAY) == (open_one, soon)
    assert earlier_than(open_one, [late, soon, open_one, held], TODAY) == ()


def test_a_rest_too_small_for_the_load_did_not_have_to_go_first() -> None:
    assert earlier_than(sealed(1), [opened(2, 400)], TODAY, qty=900) == ()
    assert earlier_than(sealed(1), [opened(2, 400)], TODAY, qty=400) == (opened(2, 400),)


def test_another_item_never_had_to_go_first() -> None:
    assert earlier_than(sealed(1), [opened(2, 4000, item_id=OTHER_WASH)], TODAY) == ()


def test_an_opened_rest_below_the_smallest_load_is_stranded() -> None:
    stacks = [opened(1, 899), opened(2, 900), opened(3, 0), sealed(4)]
    assert stranded(stacks, 900) == (opened(1, 899),)


# laws

days = st.one_of(st.none(), st.integers(-3, 40).map(lambda n: TODAY + timedelta(days=n)))


def stack_of(item_id: int, unit: int, units: int, part: int, opened_on: date | None) -> Stack:
    qty = units * unit if opened_on is None else min(part, unit)
    return Stack(0, 0, item_id, qty, unit, RECEIVED, opened_on=opened_on)


def shelves() -> st.SearchStrategy[list[Stack]]:
    plain = st.builds(
        stack_of,
        item_id=st.integers(1, 3),
        unit=st.sampled_from([4, 10, 10]),
        units=st.integers(0, 3),
        part=st.integers(0, 10),
        opened_on=st.sampled_from([None, TODAY - timedelta(days=2)]),
    )
    one = st.builds(
        replace,
        plain,
        first_received_on=st.sampled_from([RECEIVED, date(2025, 6, 1)]),
        use_by=days,
        opened_days=st.sampled_from([None, 1, 2, 30]),
        at_place=st.booleans(),
        blocked=st.sampled_from([None, None, None, LateReason.HELD, LateReason.RECALLED]),
    )
    return st.lists(one, max_size=7).map(
        lambda stacks: [replace(stack, holding_id=n, lot_id=n) for n, stack in enumerate(stacks, start=1)]
    )


def loads_of(*, pieces: st.SearchStrategy[bool]) -> st.SearchStrategy[list[Load[int]]]:
    one = st.builds(
        Load,
        key=st.just(0),
        articles=st.lists(st.integers(1, 4), unique=True, max_size=3).map(tuple),
        qty=st.integers(0, 25),
        extra_per_split=st.integers(0, 3),
        may_split=st.booleans(),
        pieces=pieces,
    )
    return st.lists(one, max_size=6).map(lambda loads: [replace(load, key=key) for key, load in enumerate(loads)])


class Replay:
    """The shelf played again from the picks alone, without the code under test."""

    def __init__(self, stacks: list[Stack], *, pieces: bool = False) -> None:
        self.pieces = pieces
        self.units: dict[tuple[str, int], Stack] = {("holding", stack.holding_id): stack for stack in stacks}

    def source(self, pick: Pick[int]) -> tuple[str, int]:
        if pick.fresh is not None and not pick.opens:
            return ("fresh", pick.fresh)
        return ("holding", pick.holding_id)

    def take(self, pick: Pick[int]) -> None:
        source = self.source(pick)
        stack = self.units[source]
        if pick.opens:
            assert pick.fresh is not None
            self.units[source] = replace(stack, qty=stack.qty - stack.unit_qty)
            source = ("fresh", pick.fresh)
            stack = replace(stack, qty=stack.unit_qty, opened_on=TODAY)
        on_its_way = stack.at_place or (stack.opened_on is not None and not self.pieces)
        self.units[source] = replace(stack, qty=stack.qty - pick.qty, at_place=on_its_way)
        assert self.units[source].qty >= 0

    def could_give(self, article: int, qty: int) -> list[Stack]:
        """Units of an article from which a single one can give the quantity today."""
        return [
            stack
            for stack in self.units.values()
            if stack.item_id == article
            and stack.blocked is None
            and (stack.last_day is None or stack.last_day >= TODAY)
            and (stack.qty >= qty if stack.opened_on else stack.qty >= stack.unit_qty >= qty)
        ]

    def could_give_pieces(self, article: int) -> list[Stack]:
        return [
            stack
            for stack in self.units.values()
            if stack.item_id == article
            and stack.qty > 0
            and stack.blocked is None
            and (stack.last_day is None or stack.last_day >= TODAY)
        ]


def rank(stack: Stack) -> tuple[bool, bool, date, date]:
    return (not stack.at_place, not stack.opened_on, stack.last_day or date.max, stack.first_received_on)


@given(loads_of(pieces=st.booleans()), shelves())
def test_it_never_takes_more_than_there_is(loads: list[Load[int]], stacks: list[Stack]) -> None:
    replay = Replay(stacks)
    for pick in allocate(loads, stacks, TODAY).picks:
        replay.take(pick)
    assert all(stack.qty >= 0 for stack in replay.units.values())


@given(loads_of(pieces=st.booleans()), shelves())
def test_it_never_takes_what_is_blocked_or_past_its_last_day(loads: list[Load[int]], stacks: list[Stack]) -> None:
    for pick in allocate(loads, stacks, TODAY).picks:
        assert pick.stack.blocked is None
        assert pick.stack.last_day is None or pick.stack.last_day >= TODAY


@given(loads_of(pieces=st.booleans()), shelves())
def test_picked_and_missing_together_are_what_was_needed(loads: list[Load[int]], stacks: list[Stack]) -> None:
    result = allocate(loads, stacks, TODAY)
    for load in loads:
        picks = result.of(load.key)
        missing = sum(short.qty for short in result.shortfalls if short.key == load.key)
        further = 0 if load.pieces else max(0, len(picks) - 1)
        assert sum(pick.qty for pick in picks) + missing == load.qty + further * load.extra_per_split
        assert all(pick.qty > 0 and pick.item_id in load.articles for pick in picks)


@given(loads_of(pieces=st.just(value=False)), shelves())
def test_the_issue_order_is_never_violated(loads: list[Load[int]], stacks: list[Stack]) -> None:
    result = allocate(loads, stacks, TODAY)
    replay = Replay(stacks)
    for load in loads:
        picks = result.of(load.key)
        if len(picks) == 1:
            pick = picks[0]
            taken = replay.units[replay.source(pick)]
            able = replay.could_give(pick.item_id, load.qty)
            assert min(map(rank, able)) == rank(taken) or load.may_split
            passed_over = load.articles[: load.articles.index(pick.item_id)]
            assert not any(replay.could_give(article, load.qty) for article in passed_over)
        if not picks and load.qty:
            assert not any(replay.could_give(article, load.qty) for article in load.articles)
        for pick in picks:
            if load.may_split and pick is not picks[-1]:  # a part must give more than its own tip takes
                useful = replay.could_give(pick.item_id, load.extra_per_split + 1)
                assert min(map(rank, useful)) == rank(replay.units[replay.source(pick)])
            replay.take(pick)


@given(loads_of(pieces=st.just(value=True)), shelves())
def test_pieces_use_up_what_comes_first_before_they_go_on(loads: list[Load[int]], stacks: list[Stack]) -> None:
    result = allocate(loads, stacks, TODAY)
    replay = Replay(stacks, pieces=True)
    for pick in result.picks:
        assert pick.fresh is None
        assert not pick.opens
        assert min(map(rank, replay.could_give_pieces(pick.item_id))) == rank(replay.units[replay.source(pick)])
        replay.take(pick)


@given(shelves())
def test_nothing_should_have_gone_before_the_first_proposal(stacks: list[Stack]) -> None:
    for pick in allocate([Load(0, (1,), 3)], stacks, TODAY).picks:
        assert earlier_than(pick.stack, stacks, TODAY, qty=3) == ()


@given(shelves())
def test_the_issue_order_is_total(stacks: list[Stack]) -> None:
    assert len({issue_key(stack) for stack in stacks}) == len(stacks)

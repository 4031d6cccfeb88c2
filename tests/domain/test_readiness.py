"""Whether booked visits can be done: ready, ready if a delivery arrives, or short of something."""

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.allocation import Stack
from inventory.domain.estimates import HEAVY_BODY, TRAY, ExpectedLine, LineKey, Material, StepNeed, Tip
from inventory.domain.readiness import Answer, Ready, last_order_day, readiness
from inventory.domain.supply import Coming, Supply
from inventory.domain.vocabulary import Arch, BaseUnit

TODAY = date(2027, 3, 10)  # a Wednesday
CARTRIDGE = 10
HEAVY, TIP, TRAY_M = 1, 2, 3


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def line(need_id: int, qty: int, *, material: Material = HEAVY_BODY, article: int = HEAVY) -> ExpectedLine:
    base = BaseUnit.PIECE if material == TRAY else BaseUnit.CML
    need = StepNeed(need_id, "load", Arch.MAXILLARY, material, base, (article,), qty)
    return ExpectedLine(need, (article,), 1, qty)


def sealed(cartridges: int, **known: object) -> Stack:
    return replace(Stack(1, 1, HEAVY, cartridges * CARTRIDGE, CARTRIDGE, day(-30)), **known)  # type: ignore[arg-type]


def tray(**known: object) -> Stack:
    return replace(Stack(2, 2, TRAY_M, 1, 1, day(-30)), **known)  # type: ignore[arg-type]


def answers(found: tuple[Ready, ...]) -> list[Answer]:
    return [one.answer for one in found]


def test_what_the_visits_before_took_is_not_there_any_more() -> None:
    visits = [(day(n), [line(1, 8)]) for n in range(3)]
    found = readiness(visits, [sealed(2)])
    assert answers(found) == [Answer.READY, Answer.READY, Answer.SHORT]
    assert [(short.key, short.qty) for short in found[2].short] == [(LineKey(1, 1), 8)]


def test_a_delivery_makes_ready_the_visits_from_its_day_on_and_is_named() -> None:
    visits = [(day(1), [line(1, 8)]), (day(5), [line(1, 8)])]
    order = Coming(HEAVY, CARTRIDGE, day(3), "12")
    found = readiness(visits, [], [order], {HEAVY: CARTRIDGE})
    assert answers(found) == [Answer.SHORT, Answer.IF]
    assert found[1].waits_for == (order,)


def test_only_the_deliveries_that_are_needed_are_waited_for() -> None:
    first, second, other = (
        Coming(HEAVY, CARTRIDGE, day(1), "12"), Coming(HEAVY, CARTRIDGE, day(2), "13"), Coming(TIP, 50, day(1), "12")
    )  # fmt: skip
    visits = [(day(5), [line(1, 8)]), (day(5), [line(1, 8)])]
    found = readiness(visits, [], [second, other, first], {HEAVY: CARTRIDGE})
    assert [one.waits_for for one in found] == [(first,), (first, second)]


def test_tips_that_only_a_delivery_brings_are_waited_for_like_everything_else() -> None:
    load = line(1, 8)
    tipped = replace(load, need=replace(load.need, tip=Tip((TIP,), 1, 1)))
    order = Coming(TIP, 50, day(1), "12")
    assert readiness([(day(2), [tipped])], [sealed(1)], [order])[0].waits_for == (order,)


def test_a_reusable_tray_is_there_again_after_its_days_away() -> None:
    visits = [(day(n), [line(1, 1, material=TRAY, article=TRAY_M)]) for n in (0, 6, 7)]
    assert answers(readiness(visits, [tray()])) == [Answer.READY, Answer.SHORT, Answer.SHORT]
    assert answers(readiness(visits, [tray(back_after=7)])) == [Answer.READY, Answer.SHORT, Answer.READY]


def test_what_a_short_visit_needs_stays_its_own() -> None:
    visits = [(day(0), [line(1, 8)]), (day(1), [line(1, 6)])]
    assert answers(readiness(visits, [sealed(0, qty=7, opened_on=day(-1))])) == [Answer.SHORT, Answer.SHORT]


def test_the_last_ordering_day_lies_a_lead_time_before_the_visit_on_a_day_the_supplier_takes_orders() -> None:
    supply = Supply("north", 1, 100, lead_days=3)
    assert last_order_day(supply, day(5)) == day(2)  # a Friday
    assert last_order_day(replace(supply, order_weekdays=frozenset({0, 3})), day(5)) == day(1)  # Monday, Thursday
    assert last_order_day(replace(supply, order_weekdays=frozenset()), day(5)) == day(2)


def test_no_visit_has_no_answer() -> None:
    assert readiness([], [sealed(1)], [Coming(HEAVY, 1, day(1), "12")]) == ()


RANK = {Answer.SHORT: 0, Answer.IF: 1, Answer.READY: 2}
days = st.integers(0, 8).map(day)
far = st.none() | st.integers(9, 400).map(day)
material = st.builds(
    lambda qty, opened, ends: sealed(0, qty=qty if opened else qty * CARTRIDGE, use_by=ends, opened_on=opened),
    st.integers(1, 9), st.none() | st.integers(-9, 0).map(day), far,
)  # fmt: skip
piece = st.builds(
    lambda qty, ends, back: tray(qty=qty, use_by=ends, back_after=back),
    st.integers(1, 3), st.none() | days, st.sampled_from([None, 3]),
)  # fmt: skip
needs = st.lists(
    st.integers(1, CARTRIDGE).map(lambda qty: line(1, qty))
    | st.integers(1, 2).map(lambda qty: line(2, qty, material=TRAY, article=TRAY_M)),
    min_size=1, max_size=2,
)  # fmt: skip
calendars = st.lists(st.tuples(days, needs), min_size=1, max_size=6).map(lambda them: sorted(them, key=lambda v: v[0]))
orders = st.builds(
    lambda item, qty, on, name: Coming(item, qty * (CARTRIDGE if item == HEAVY else 1), on, name),
    st.sampled_from([HEAVY, TRAY_M]), st.integers(1, 2), days, st.sampled_from("AB"),
)  # fmt: skip


def numbered(stacks: list[Stack]) -> list[Stack]:
    return [replace(stack, holding_id=number) for number, stack in enumerate(stacks, start=1)]


@given(
    calendars, st.lists(material | piece, max_size=4), st.lists(orders, max_size=3), material | piece | orders
)  # fmt: skip
def test_a_lot_or_a_delivery_more_never_makes_a_visit_less_ready(
    visits: list[tuple[date, list[ExpectedLine]]], stacks: list[Stack], coming: list[Coming], more: Stack | Coming
) -> None:
    units = {HEAVY: CARTRIDGE}
    before = readiness(visits, numbered(stacks), coming, units)
    if isinstance(more, Coming):
        after = readiness(visits, numbered(stacks), [*coming, more], units)
    else:
        after = readiness(visits, numbered([*stacks, more]), coming, units)
    assert all(RANK[now.answer] >= RANK[then.answer] for then, now in zip(before, after, strict=True))

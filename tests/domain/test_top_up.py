"""Topping an operatory up to its own level: earliest expiry first, never past the level, never what may not be used."""

from collections import Counter
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.top_up import Stack, TopUp, top_up

TODAY = date(2026, 3, 2)
RECEIVED = date(2026, 1, 2)


def stack(number: int, units: int, days: int | None = 100, *, item: int = 1, blocked: bool = False) -> Stack:
    last_day = None if days is None else TODAY + timedelta(days=days)
    return Stack(number, item, units, last_day, blocked, RECEIVED)


def only(levels: dict[int, int], there: list[Stack], store: list[Stack]) -> TopUp:
    (found,) = top_up(levels, there, store, TODAY)
    return found


def test_what_expires_first_is_carried_first_and_undated_stock_last() -> None:
    found = only({1: 6}, [stack(1, 1)], [stack(2, 2, None), stack(3, 2, 300), stack(4, 2, 30)])
    assert [(pick.holding_id, pick.units) for pick in found.picks] == [(4, 2), (3, 2), (2, 1)]
    assert (found.there, found.lacks) == (1, 0)


def test_the_last_day_of_use_still_counts_and_the_day_after_does_not() -> None:
    found = only({1: 3}, [stack(1, 1, 0), stack(2, 5, -1)], [stack(3, 1, 0), stack(4, 9, -1)])
    assert (found.there, found.carried, found.lacks) == (1, 1, 1)


def test_what_is_on_hold_neither_counts_nor_is_carried() -> None:
    found = only({1: 2}, [stack(1, 2, blocked=True)], [stack(2, 5, blocked=True), stack(3, 1)])
    assert (found.there, found.carried, found.lacks) == (0, 1, 1)


def test_above_its_level_nothing_is_carried_back() -> None:
    found = only({1: 2}, [stack(1, 5)], [stack(2, 5)])
    assert (found.picks, found.lacks) == ((), 0)


stacks = st.lists(
    st.builds(
        stack, st.just(0), st.integers(0, 6), st.none() | st.integers(-3, 40), item=st.integers(1, 3),
        blocked=st.booleans(),
    ),
    max_size=8,
).map(lambda made: [Stack(at, *_rest(one)) for at, one in enumerate(made)])  # fmt: skip


def _rest(one: Stack) -> tuple[int, int, date | None, bool, date]:
    return one.item_id, one.units, one.last_day, one.blocked, one.received


@given(st.dictionaries(st.integers(1, 4), st.integers(1, 9)), stacks, stacks)
def test_topping_up_keeps_its_laws(levels: dict[int, int], there: list[Stack], store: list[Stack]) -> None:
    """Never blocked or expired stock, never more than a stack has, never past the level, short only where it lacks."""
    by_id = {one.holding_id: one for one in store}
    taken: Counter[int] = Counter()
    for found in top_up(levels, there, store, TODAY):
        for pick in found.picks:
            source = by_id[pick.holding_id]
            assert source.usable(TODAY)
            assert source.item_id == found.item_id
            assert pick.units > 0
            taken[pick.holding_id] += pick.units
        free = sum(one.units for one in store if one.item_id == found.item_id and one.usable(TODAY))
        assert found.carried == max(0, min(free, found.level - found.there))
        assert found.there + found.carried <= max(found.level, found.there)
        last_days = [by_id[pick.holding_id].last_day or date.max for pick in found.picks]
        assert last_days == sorted(last_days)
    assert all(units <= by_id[number].units for number, units in taken.items())

"""Classes of items: a few dear ones, many cheap ones, and what is vital is counted often whatever it costs."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.abc_classes import Category, Value, Valued, category, classes, sums
from inventory.domain.vocabulary import Criticality
from inventory.domain.why import chained

NORMAL, ESSENTIAL, VITAL = Criticality.NORMAL, Criticality.ESSENTIAL, Criticality.VITAL


def valued(*cents: int, criticality: Criticality = NORMAL) -> list[Valued]:
    return [Valued(number, f"item {number}", each, criticality) for number, each in enumerate(cents)]


def test_the_item_that_crosses_a_limit_still_belongs_before_it() -> None:
    found = classes(valued(5, 70, 8, 15, 2))
    assert [(one.item.cents, one.value) for one in found] == [
        (70, Value.A), (15, Value.A), (8, Value.B), (5, Value.B), (2, Value.C),
    ]  # fmt: skip
    assert [(each.value, each.items, each.cents) for each in sums(found)] == [
        (Value.A, 2, 85), (Value.B, 2, 13), (Value.C, 1, 2),
    ]  # fmt: skip


def test_what_is_not_used_is_class_c_and_without_any_use_everything_is() -> None:
    assert [one.value for one in classes(valued(0, 100))] == [Value.A, Value.C]
    assert {one.value for one in classes(valued(0, 0))} == {Value.C}


@pytest.mark.parametrize(
    ("value", "criticality", "expected"),
    [
        ("A", VITAL, "I"), ("A", ESSENTIAL, "I"), ("A", NORMAL, "I"), ("B", VITAL, "I"), ("C", VITAL, "I"),
        ("B", ESSENTIAL, "II"), ("B", NORMAL, "II"), ("C", ESSENTIAL, "II"), ("C", NORMAL, "III"),
    ],
)  # fmt: skip
def test_value_and_need_are_put_together_as_in_the_abc_ven_matrix(
    value: str, criticality: Criticality, expected: str
) -> None:
    assert category(Value(value), criticality) is Category(expected)


def test_a_category_is_counted_every_so_many_weeks_unless_the_item_has_weeks_of_its_own() -> None:
    dear, cheap = classes(valued(100, 0))
    assert (dear.weeks, cheap.weeks) == (4, 26)
    (own,) = classes([Valued(1, "own", 5, NORMAL, every_weeks=2)])
    assert (own.weeks, own.own) == (2, True)
    (other,) = classes(valued(5), weeks={"I": 1, "II": 2, "III": 3})
    assert other.weeks == 1


@given(st.lists(st.integers(0, 10**9), min_size=1, max_size=40))
def test_classes_follow_the_value_and_every_figure_adds_up(cents: list[int]) -> None:
    found = classes(valued(*cents))
    assert sorted(one.item.item_id for one in found) == list(range(len(cents)))
    for dearer, cheaper in pairwise(found):
        assert dearer.value <= cheaper.value
        assert dearer.cumulative_ppm == cheaper.before_ppm
    assert found[-1].cumulative_ppm == (1_000_000 if sum(cents) else 0)
    assert sum(each.cents for each in sums(found)) == sum(cents)
    assert all(chained(one.why) for one in found)

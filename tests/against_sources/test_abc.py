"""ABC and VEN classes against a published count of a hospital's medicines."""

from inventory.domain.abc_classes import Value, Valued, classes, sums
from inventory.domain.vocabulary import Criticality

# Annual value and number of items by class: PMC7882713, table 3 (read in the source)
PUBLISHED = {Value.A: (66, 1_397_685_133), Value.B: (56, 188_269_590), Value.C: (424, 158_496_555)}


def test_a_limit_of_80_percent_gives_the_class_a_that_was_published() -> None:
    """Within a class the source gives only the sum, so its items share it evenly (computed from the rule)."""
    cents = [total // items for items, total in PUBLISHED.values() for _ in range(items)]
    found = classes(Valued(n, str(n), each, Criticality.NORMAL) for n, each in enumerate(cents))
    first, *rest = sums(found)
    assert first.items == 66
    assert round(100 * first.cents / (first.cents + sum(each.cents for each in rest)), 2) == 80.12


def test_the_published_shares_are_those_of_the_published_sums() -> None:
    whole = sum(cents for _, cents in PUBLISHED.values())
    assert [round(100 * cents / whole, 2) for _, cents in PUBLISHED.values()] == [80.12, 10.79, 9.09]

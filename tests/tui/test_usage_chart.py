"""The chart of use and waste: bars to scale, words and figures beside them, nothing only in colour."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.usage import Account, KindCost, spread
from tests.domain.test_usage_csv import ITEM, USAGE
from tui import usage_chart as chart
from tui import usage_words as words


@pytest.mark.parametrize(
    ("size", "drawn"), [(0, ""), (1, "▏"), (50, "█"), (75, "█▌"), (100, "██"), (-3, "")], ids=str
)  # fmt: skip
def test_a_bar_is_to_scale_and_whatever_is_more_than_nothing_shows(size: int, drawn: str) -> None:
    assert chart.bar(size, 100, 2) == drawn


@given(st.lists(st.integers(0, 10**7), min_size=1, max_size=9), st.integers(40, 190))
def test_every_line_fills_the_room_exactly(sizes: list[int], room: int) -> None:
    bars = [chart.Bar(f"heading {number}", size, (str(size), "%")) for number, size in enumerate(sizes)]
    assert {len("".join(line)) for line in chart.drawn(bars, room)} == {room}


def test_each_bar_has_its_words_and_figures() -> None:
    lines = ["".join(line).split() for line in chart.drawn(chart.of_item(ITEM), 76)]
    assert [(line[0], line[-2:]) for line in lines if "0.00" not in line] == [
        ("used", ["3.00", "79", "%"][-2:]), ("purged", ["9", "%"]), ("missing", ["12", "%"]),
    ]  # fmt: skip
    assert "missing at counts 1.5 mL (0.45)" in list(words.account(ITEM.qty, ITEM.cents, ITEM))


def test_stock_found_at_counts_is_told_as_found_and_is_no_share_of_what_went() -> None:
    found = [each for each in chart.of_items(USAGE) if each.label == words.FOUND]
    assert found == []
    account = Account(used=100, miscounted=20)
    assert list(words.account(None, account)) == ["used 1.00", "found at counts 0.20"]


def test_a_kind_of_visit_is_a_line_from_its_cheapest_to_its_dearest_visit() -> None:
    assert chart.span(20, 50, 90, 100, 11) == "  ├──█───┤"
    assert chart.span(5, 5, 5, 5, 4) == "   █"
    assert chart.span(0, 0, 0, 0, 8) == "█"
    kinds = [KindCost("final", "Final impressions, stock tray", spread([2000, 3000]), 0)]
    ((name, line, mean),) = chart.of_kinds(kinds, 60)
    assert name.strip().endswith("…")
    assert (line.strip()[0], line.strip()[-1], mean.strip()) == ("├", "┤", "25.00")

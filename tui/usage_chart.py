"""The chart of use and waste, drawn with block characters: a horizontal bar for each heading, its figures beside it.

A bar says nothing that its figures don't, and no colour says anything at all: the words name each bar. The same is read
as sentences by `tui.usage_words`.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from inventory.domain.quantity import show, show_money
from inventory.domain.usage import Became, ItemUse, KindCost, Usage
from tui import usage_words as words

EIGHTHS = ("", "▏", "▎", "▍", "▌", "▋", "▊", "▉")
LABEL = max(len(word) for word in (*words.WORDS.values(), words.FOUND))


@dataclass(frozen=True, slots=True)
class Bar:
    """One line of a chart: its words, its size, and its figures, which stand behind the bar."""

    label: str
    size: int
    figures: tuple[str, ...]


def bar(size: int, largest: int, cells: int) -> str:
    """A bar to an eighth of a cell; whatever is more than nothing shows."""
    if size <= 0 or largest <= 0 or cells <= 0:
        return ""
    eighths = max(1, 8 * cells * size // largest)
    return "█" * (eighths // 8) + EIGHTHS[eighths % 8]


def drawn(bars: Sequence[Bar], room: int) -> Iterator[tuple[str, str, str]]:
    """Each bar as three texts that fill ``room`` cells: its label, the bar, its figures one under the other."""
    columns = [max(map(len, column)) for column in zip(*(each.figures for each in bars), strict=True)]
    figures = sum(columns) + 2 * len(columns)
    labels = max((len(each.label) for each in bars), default=0)
    cells = max(room - labels - figures - 1, 4)
    largest = max((each.size for each in bars), default=0)
    for each in bars:
        told = "".join(f"  {text:>{width}}" for text, width in zip(each.figures, columns, strict=True))
        yield f"{each.label:<{labels}} ", f"{bar(each.size, largest, cells):<{cells}}", told


def of_items(usage: Usage) -> list[Bar]:
    """All items together, in money."""
    money = words.gone(usage.cents)
    whole = sum(size for size in money.values() if size > 0)
    return [
        Bar(words.word(heading, size), abs(size), (show_money(abs(size)), _share(size, whole)))
        for heading, size in money.items()
    ]


def of_item(item: ItemUse) -> list[Bar]:
    """One item, in its unit and in money."""
    amounts, money = words.gone(item.qty), words.gone(item.cents)
    whole = sum(size for size in amounts.values() if size > 0)
    return [_of(item, heading, size, money[heading], whole) for heading, size in amounts.items()]


def _of(item: ItemUse, heading: Became, size: int, cents: int, whole: int) -> Bar:
    figures = (show(abs(size), item.base), show_money(abs(cents)), _share(size, whole))
    return Bar(words.word(heading, size), abs(size), figures)


def _share(size: int, whole: int) -> str:
    """Percent of all that went; what counts found is no part of it."""
    return f"{100 * size / whole:.0f} %" if size > 0 and whole > 0 else ""


def of_kinds(kinds: Sequence[KindCost], room: int) -> Iterator[tuple[str, str, str]]:
    """Each kind of visit as a line from its cheapest to its dearest visit, the mean marked, on one scale from 0."""
    largest = max((each.cost.highest for each in kinds), default=0)
    names = min(max((len(each.name) for each in kinds), default=0), room // 3)
    means = max((len(show_money(each.cost.mean)) for each in kinds), default=0)
    cells = max(room - names - means - 3, 8)
    for each in kinds:
        line = span(each.cost.lowest, each.cost.mean, each.cost.highest, largest, cells)
        name = each.name if len(each.name) <= names else f"{each.name[: names - 1]}…"
        yield f"{name:<{names}} ", f"{line:<{cells}}", f"  {show_money(each.cost.mean):>{means}}"


def span(lowest: int, mean: int, highest: int, largest: int, cells: int) -> str:
    """``    ├──█───┤``: from the lowest to the highest, the mean as a block."""
    if largest <= 0:
        return "█"
    low, middle, high = (round((cells - 1) * each / largest) for each in (lowest, mean, highest))
    signs = [" "] * low + ["─"] * (high - low + 1)
    signs[low], signs[high] = "├", "┤"
    signs[middle] = "█"
    return "".join(signs)

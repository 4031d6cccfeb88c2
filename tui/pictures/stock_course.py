"""The course of an item's stock: the middle of what may come, the band around it, when to order, what is on order."""

from bisect import bisect_right
from collections.abc import Iterator
from datetime import date, timedelta
from typing import TYPE_CHECKING

from tui.pictures.canvas import LINE, MARK, PART, WIDTH, Days, amount, fit, heading, units

if TYPE_CHECKING:
    from inventory.domain.levels import Level
    from inventory.service.forecast import ItemAhead

HEIGHT = 12
LEAST_WEEKS, AFTERWARDS = 8, timedelta(weeks=2)  # how far the picture goes at least, and beyond the end of the stock
LABEL = 7
NONE_LEFT, ORDER = "x", "-"


def draw(found: "ItemAhead", width: int = WIDTH, height: int = HEIGHT) -> list[str]:
    """The picture: amounts upwards, half a year to the right."""
    course = _worth_seeing(found)
    days = Days(found.today, (course[-1].day - found.today).days + 1, width - LABEL - 1)
    columns = [_level(course, days.day(column)) for column in range(days.columns)]
    top = max(1, found.reorder_point, *(high for _, _, high in columns))
    floors = [top * row / height for row in range(height + 1)]
    lines = [f"{fit(heading(found.base, found.unit_qty), width)}"]
    for row in reversed(range(height)):
        lowest, highest = floors[row], floors[row + 1] if row < height - 1 else top + 1
        label = units(round(floors[row + 1]), found.unit_qty, found.base) if (height - 1 - row) % 3 == 0 else ""
        order = lowest <= found.reorder_point < highest
        cells = (_sign(column, lowest, highest, order=order) for column in columns)
        lines.append(f"{fit(label, LABEL, right=True)}┤{''.join(cells)}")
    ticks, names = days.axis()
    lines += [f"{fit('0', LABEL, right=True)}└{ticks}", f"{' ' * (LABEL + 1)}{names}"]
    if marks := _marks(found, days):
        lines.append(f"{' ' * (LABEL + 1)}{marks}")
    return [line.rstrip() for line in lines]


def legend(found: "ItemAhead") -> list[str]:
    """What the signs mean."""
    order = units(found.reorder_point, found.unit_qty, found.base)
    arrivals = f"   {MARK} on order, expected" if found.arrivals else ""
    return [
        f"{LINE} the middle course   {PART} 80 of 100 courses   {NONE_LEFT} middle course: none left",
        f"{ORDER} order at or under {order}{arrivals}",
    ]


def _worth_seeing(found: "ItemAhead") -> "tuple[Level, ...]":
    """The course until a little after the last thing that happens to the stock."""
    happens = [level.day for level in found.course if level.high] + [arrival.on for arrival in found.arrivals]
    end = max([found.today + timedelta(weeks=LEAST_WEEKS), *(day + AFTERWARDS for day in happens)])
    return tuple(level for level in found.course if level.day <= end)


def _level(course: "tuple[Level, ...]", day: date) -> tuple[int, int, int]:
    """Low, middle and high on a day: even use between two looks, a delivery all at once."""
    at = bisect_right(course, day, key=lambda level: level.day) - 1
    before, after = course[at], course[min(at + 1, len(course) - 1)]
    span = (after.day - before.day).days
    gone = (day - before.day).days
    return tuple(  # type: ignore[return-value]  # three of them
        old + (new - old) * gone // span if span and new < old else old
        for old, new in ((before.low, after.low), (before.median, after.median), (before.high, after.high))
    )


def _sign(column: tuple[int, int, int], lowest: float, highest: float, *, order: bool) -> str:
    low, median, high = column
    if lowest <= median < highest:
        return LINE if median else NONE_LEFT
    if low < highest and high >= lowest and high:
        return PART
    return ORDER if order else " "


def _marks(found: "ItemAhead", days: Days) -> str:
    signs = [" "] * days.columns
    for arrival in found.arrivals:
        if days.shows(max(arrival.on, found.today)):
            signs[days.column(max(arrival.on, found.today))] = MARK
    return "".join(signs).rstrip()


def tell(found: "ItemAhead") -> Iterator[str]:
    """The same in sentences."""
    usable = amount(found.usable, found.unit_qty, found.base)
    yield f"{found.name}: {usable} usable today; ordered at or under {_amount(found, found.reorder_point)}."
    if any(level.median <= found.reorder_point for level in found.course):
        day = next(level.day for level in found.course if level.median <= found.reorder_point)
        when = "is there today" if day == found.today else f"is reached about {day.isoformat()} in the middle course"
        yield f"That point {when}."
    else:
        yield f"That point is not reached until {found.course[-1].day.isoformat()} in the middle course."
    early, middle, late = found.runs_out
    said = (f"{_day(day)} in {part} of 100 courses" for part, day in ((10, early), (50, middle), (90, late)))
    yield f"The stock runs out {', '.join(said)}."
    for level in _monthly(_worth_seeing(found)):
        low, high = units(level.low, found.unit_qty, found.base), units(level.high, found.unit_qty, found.base)
        yield f"On {level.day.isoformat()}: {_amount(found, level.median)}, in 80 of 100 courses {low} to {high}."
    for arrival in found.arrivals:
        yield f"On order: {_amount(found, arrival.qty)}, expected {arrival.on.isoformat()}."
    if not found.arrivals:
        yield "Nothing is on order."


def _monthly(course: "tuple[Level, ...]") -> "Iterator[Level]":
    """One level about every four weeks."""
    wanted = course[0].day
    for level in course:
        if level.day >= wanted:
            yield level
            wanted = level.day + timedelta(weeks=4)


def _amount(found: "ItemAhead", qty: int) -> str:
    return amount(qty, found.unit_qty, found.base)


def _day(on: date | None) -> str:
    return f"on {on.isoformat()}" if on else "not within sight"

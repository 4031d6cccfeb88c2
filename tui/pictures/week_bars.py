"""The use of an item week by week: a bar each, what was wasted or discarded on top of it."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from tui.pictures.canvas import EIGHTHS, FULL, MONTHS, PART, WIDTH, amount, fit, heading, units

if TYPE_CHECKING:
    from inventory.service.weekly_use import WeeklyUse

HEIGHT = 10
LABEL = 7
MEAN = "-"


def draw(found: "WeeklyUse", width: int = WIDTH, height: int = HEIGHT) -> list[str]:
    """The picture: amounts upwards, weeks to the right, the one under way last."""
    room = width - LABEL - 1
    weeks = found.weeks[-room // 2 :]
    each = max(2, min(6, room // len(weeks)))
    top = max(1, *(week.used + week.lost for week in weeks))
    lines = [heading(found.base, found.unit_qty)]
    for row in reversed(range(height)):
        lowest, step = top * row / height, top / height
        label = units(round(lowest + step), found.unit_qty, found.base) if (height - 1 - row) % 3 == 0 else ""
        mean = MEAN if lowest < found.mean <= lowest + step else " "
        bars = ((_sign(week.used, week.lost, lowest, step) or mean) * (each - 1) + mean for week in weeks)
        lines.append(f"{fit(label, LABEL, right=True)}┤{''.join(bars)}")
    ticks = "".join("┬" + "─" * (each - 1) if week.begins.day <= 7 else "─" * each for week in weeks)
    lines += [f"{fit('0', LABEL, right=True)}└{ticks}", f"{' ' * (LABEL + 1)}{_months(found, each, len(weeks))}"]
    return [line.rstrip() for line in lines]


def legend(_: "WeeklyUse") -> list[str]:
    """What the signs mean."""
    return [f"{FULL} used   {PART} wasted or discarded   {MEAN} mean of the full weeks"]


def _sign(used: int, lost: int, lowest: float, step: float) -> str:
    """A bar's sign in a row; empty where the bar does not reach it."""
    if used >= lowest + step:
        return FULL
    eighth = round(8 * (used - lowest) / step)
    if eighth > 0:
        return (EIGHTHS + FULL)[eighth]
    return PART if lost and used + lost > lowest + step / 2 else ""


def _months(found: "WeeklyUse", each: int, shown: int) -> str:
    """The names of months below the weeks in which they begin."""
    names = ""
    for at, week in enumerate(found.weeks[-shown:]):
        if week.begins.day <= 7 and len(names) <= at * each:
            names = f"{names:<{at * each}}{MONTHS[week.begins.month - 1]} "
    return names


def tell(found: "WeeklyUse") -> Iterator[str]:
    """The same in sentences."""
    since, weeks = found.weeks[0].begins.isoformat(), len(found.weeks)
    used, lost = _amount(found, found.used), _amount(found, found.lost)
    yield f"{found.name}: {used} used in {weeks} weeks since {since}, {lost} wasted or discarded."
    yield f"Mean of a full week: {_amount(found, found.mean)}."
    for week in found.weeks:
        under_way = ", under way" if week is found.weeks[-1] else ""
        wasted = f", {_amount(found, week.lost)} wasted or discarded" if week.lost else ""
        yield f"Week of {week.begins.isoformat()}{under_way}: {_amount(found, week.used)} used{wasted}."


def _amount(found: "WeeklyUse", qty: int) -> str:
    return amount(qty, found.unit_qty, found.base)

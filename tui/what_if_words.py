"""How a comparison is said, on screens and by commands alike: what changes, from what to what."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from inventory.domain.quantity import show, show_money

if TYPE_CHECKING:
    from datetime import date

    from inventory.domain.what_if import Change
    from inventory.service.what_if import VisitChange, WhatIf


def summary(found: "WhatIf") -> Iterator[str]:
    """What fails first, and how many visits are short."""
    yield first(found)
    short = f"Booked visits short until {found.until.isoformat()}: {found.short_after}, before {found.short_before}"
    more = f"; of {found.more} added {found.more_short}" if found.more else ""
    yield f"{short}{more}."


def first(found: "WhatIf") -> str:
    """Which item is first without stock although it is ordered today; else which comes nearest to it."""
    change = found.fails_first
    if change is not None:
        ends, comes = _day(change.after.runs_out), _day(change.after.arrives)
        return f"First to fail: {change.name} runs out {ends}; ordered today it comes {comes}."
    if found.nearest is None:
        return "Nothing runs out that is ordered today."
    near, margin = found.nearest, found.nearest.after.margin_days
    return f"Nothing fails that is ordered today; {near.name} comes nearest, with {margin} days to spare."


def line(change: "Change") -> str:
    """One item with each figure that changes."""
    return f"{change.code}, {change.name}: {', '.join(figures(change))}"


def figures(change: "Change") -> list[str]:
    """Each figure that changes: as it would be, and as it is."""
    before, after = change.before, change.after
    parts = [
        _moved("runs out", _day(before.runs_out), _day(after.runs_out)),
        _moved("order", packs(before.packs), packs(after.packs)),
        _moved("expected to expire", show(before.to_expire, change.base), show(after.to_expire, change.base)),
        _moved("cost of that", show_money(before.to_expire_cents), show_money(after.to_expire_cents)),
        _moved("price of a unit", _money(before.unit_cents), _money(after.unit_cents)),
        _moved("a pack is", _percent(before.fresh_percent), _percent(after.fresh_percent)),
        f"{after.gap_days} days without stock even if ordered today" if after.gap_days else "",
    ]
    return [part for part in parts if part]


def packs(number: int) -> str:
    """``3 packs``."""
    return f"{number} pack{'' if number == 1 else 's'}"


def visit(one: "VisitChange") -> str:
    """A visit whose answer changes."""
    return (
        f"visit {one.visit_id}, {one.on.isoformat()}, case {one.case_ref}: was {one.before}, now {'; '.join(one.said)}"
    )


def _moved(what: str, before: str, after: str) -> str:
    return f"{what} {after}, before {before}" if before != after else ""


def _money(cents: int | None) -> str:
    return "not known" if cents is None else show_money(cents)


def _percent(percent: int | None) -> str:
    return "used in its life" if percent is None else f"{percent} percent of what is used in its life"


def _day(on: "date | None") -> str:
    return on.isoformat() if on else "not foreseen"

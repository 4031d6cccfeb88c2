"""Tray sizes by arch: the share of each among those fitted, beside its share of what is there."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from tui.pictures.canvas import FULL, PART, WIDTH, cells, fit
from tui.tray_words import ARCHES

if TYPE_CHECKING:
    from inventory.service.fitted_sizes import FittedRun, FittedSize, FittedSizes

FIGURES = 15  # "  54, 45 of 100"
FAR_OFF = 15  # points between two shares from which on the difference is said; own judgement


def draw(found: "FittedSizes", width: int = WIDTH) -> list[str]:
    """The picture: two bars for each size, as long as its share."""
    if not any(run.sizes for run in found.runs):
        return ["There is no tray line yet."]
    label = max(cells(size.size) for run in found.runs for size in run.sizes) + 3
    room = (width - label - 2 * FIGURES - 3) // 2
    lines: list[str] = []
    for run in found.runs:
        lines.append(f"{run.line}, {ARCHES[run.arch]}: {run.fitted} fitted, {run.available} there")
        for size in run.sizes:
            fitted = _share(size.fitted, run.fitted)
            there = _share(size.available, run.available)
            lines.append(
                f"  {fit(size.size, label - 2)}{_bar(FULL, fitted, size.fitted, room)} "
                f"{_bar(PART, there, size.available, room)}"
            )
    return [line.rstrip() for line in lines]


def legend(found: "FittedSizes") -> list[str]:
    """What the signs mean."""
    return [f"{FULL} fitted since {found.since.isoformat()}   {PART} there now"]


def _bar(sign: str, percent: int, number: int, room: int) -> str:
    bar = sign * (-(-percent * room // 100))
    return fit(f"{bar} {number}, {percent} of 100", room + FIGURES)


def _share(number: int, total: int) -> int:
    return round(100 * number / total) if total else 0


def tell(found: "FittedSizes") -> Iterator[str]:
    """The same in sentences; sizes of which far too many or too few are there are named."""
    for run in found.runs:
        yield f"{run.line}, {ARCHES[run.arch]}: {run.fitted} trays fitted since {found.since.isoformat()}."
        yield from (_told(run, size) for size in run.sizes)
    if not found.runs:
        yield "There is no tray line yet."


def _told(run: "FittedRun", size: "FittedSize") -> str:
    fitted, there = _share(size.fitted, run.fitted), _share(size.available, run.available)
    expected = round(size.expected_ppm / 10_000)
    away = f", {size.away} more away" if size.away else ""
    judged = ""
    if abs(there - expected) >= FAR_OFF:
        judged = "; held more than its share" if there > expected else "; held less than its share"
    return (
        f"  {size.size}: {size.fitted} fitted, {fitted} of 100, {expected} of 100 expected; "
        f"{size.available} there, {there} of 100{away}{judged}."
    )

"""Which tray sizes were fitted by arch, beside what stands there: are sizes held in the proportion they are used?"""

from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain.vocabulary import Arch
from inventory.service import forecasting, size_mix, stock_views
from inventory.service.forecasting import LOOK_BACK_WEEKS
from inventory.service.practice import Practice
from inventory.service.size_mix import Run, SizeMix
from inventory.service.stock_views import TrayCell


@dataclass(frozen=True, slots=True)
class FittedSize:
    """One size: trays fitted, the share expected of the next ones (in a million), trays available and away."""

    size: str
    fitted: int
    expected_ppm: int
    available: int
    away: int


@dataclass(frozen=True, slots=True)
class FittedRun:
    """One arch of a tray line, its sizes in the practice's order."""

    line: str
    arch: Arch
    sizes: tuple[FittedSize, ...]

    @property
    def fitted(self) -> int:
        return sum(size.fitted for size in self.sizes)

    @property
    def available(self) -> int:
        return sum(size.available for size in self.sizes)


@dataclass(frozen=True, slots=True)
class FittedSizes:
    """All tray lines, with what was fitted since a day."""

    today: date
    since: date
    runs: tuple[FittedRun, ...]


def fitted_sizes(practice: Practice) -> FittedSizes:
    """What was fitted in the last two years, and what is there, by line, arch and size."""
    grids = stock_views.trays(practice).grids
    with practice.reading() as desk:
        mix = size_mix.read(desk, forecasting.picture(desk))
        today = desk.today
    runs = (
        _run(mix, mix.runs[grid.line, row.arch], {cell.size: cell for cell in row.cells})
        for grid in grids
        for row in grid.rows
    )
    return FittedSizes(today, today - timedelta(weeks=LOOK_BACK_WEEKS), tuple(runs))


def _run(mix: SizeMix, run: Run, cells: dict[str, TrayCell]) -> FittedRun:
    weights = mix.outlook(run).weights
    total = sum(weights) or 1
    sizes = (
        FittedSize(
            size, sum(mix.fitted[number] for number in numbers), round(1_000_000 * weight / total),
            cells[size].available, cells[size].away,
        )
        for size, numbers, weight in zip(run.sizes, run.item_ids, weights, strict=True)
    )  # fmt: skip
    return FittedRun(run.line, run.arch, tuple(sizes))

"""Which tray size to buy next, and what money lies in sizes that nobody needed.

For each tray line the chance is asked that the next visits can all be fitted, both arches together: booked visits
first, with their sizes where known, then as many more of unknown size as asked. Each size is judged by what one tray
more does for that chance. The rates of trays tried in vain and of new trays at retakes stand beside it, each with the
belief it starts from.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from dateutil.relativedelta import relativedelta

from inventory.domain import trays
from inventory.domain.trays import Cases, SizeHeld, SizeOutlook, Stocks
from inventory.domain.vocabulary import Arch, TrialOutcome
from inventory.errors import BadInput
from inventory.service import forecasting, size_mix, stock_views
from inventory.service.forecasting import Picture
from inventory.service.practice import Practice
from inventory.service.size_mix import LearnedRate, SizeMix
from inventory.service.stock_views import TrayCell, TrayGrid
from inventory.store.queries import trays as query

VISITS, MONTHS = 10, 12  # how far to look ahead and back where nobody says; own judgement
MOST_VISITS = 40
MOST_TRAYS = 60  # bought one by one until the target is reached
MILLION = 1_000_000


@dataclass(frozen=True, slots=True)
class NextTray:
    """One more tray of a size, and the chance (in a million) that all visits can be fitted with it."""

    arch: Arch
    size: str
    item_code: str
    available: int
    chance_ppm: int


@dataclass(frozen=True, slots=True)
class LineToBuy:
    """One tray line.

    Attributes:
        visits: how many visits are looked at, of which ``booked`` stand in the calendar.
        reusable: its trays come back: booked visits alone are looked at, and how many trays are away at the same time.
        chance_ppm: chance that all of them can be fitted from what is available.
        sizes: every size, the one whose next tray helps most first.
        to_target: trays to buy, best first, until the target is reached; each with the chance reached so far.
    """

    line: str
    visits: int
    booked: int
    reusable: bool
    chance_ppm: int
    sizes: tuple[NextTray, ...]
    to_target: tuple[NextTray, ...]


@dataclass(frozen=True, slots=True)
class IdleSize:
    """A size of which trays are held and none was fitted or tried in for months; ``last_fitted``: None is never."""

    line: str
    arch: Arch
    size: str
    trays: int
    cents: int
    last_fitted: date | None


@dataclass(frozen=True, slots=True)
class TrayBuying:
    """Everything to decide what trays to buy, and which not."""

    today: date
    target_percent: int
    idle_since: date
    lines: tuple[LineToBuy, ...]
    idle: tuple[IdleSize, ...]
    rates: tuple[LearnedRate, ...]

    @property
    def idle_cents(self) -> int:
        return sum(size.cents for size in self.idle)


def tray_buying(practice: Practice, *, visits: int = VISITS, months: int = MONTHS) -> TrayBuying:
    """Which size to buy next of each line, and the money in sizes that were not used.

    Args:
        practice: the practice at work.
        visits: the next so many visits of each line must all be fitted.
        months: a size is idle when none of it was fitted or tried in for so many months.

    Raises:
        BadInput: no number of visits or months that can be looked at.
    """
    if not 1 <= visits <= MOST_VISITS:
        raise BadInput(f"visits: {visits} is not from 1 to {MOST_VISITS}.", "Look at fewer visits.")
    if not 1 <= months <= 1200:
        raise BadInput(f"months: {months} is not from 1 to 1200.", "Name a number of months, e.g. 12.")
    grids = stock_views.trays(practice).grids
    with practice.reading() as desk:
        picture = forecasting.picture(desk)
        mix = size_mix.read(desk, picture)
        since = picture.today - relativedelta(months=months)
        tried = (TrialOutcome.FITTED, *size_mix.TRIED)
        used = {one.item_id for one in query.trials(desk.session, since) if one.outcome in tried}
        return TrayBuying(
            today=picture.today,
            target_percent=round(100 * mix.target),
            idle_since=since,
            lines=tuple(_Line(picture, mix, grid, visits).to_buy() for grid in grids),
            idle=tuple(_idle(grids, used, query.last_fitted(desk.session))),
            rates=tuple(mix.rates.values()),
        )


def _idle(grids: Sequence[TrayGrid], used: set[int], last: dict[int, date]) -> Iterator[IdleSize]:
    """Sizes of which something is held and nothing was used, most money first."""
    cells = [(grid.line, row.arch, cell) for grid in grids for row in grid.rows for cell in row.cells]
    held = [
        SizeHeld(at, _held(cell), cell.value_cents, sum(number in used for number in cell.item_ids))
        for at, (_, _, cell) in enumerate(cells)
    ]
    for size in trays.never_used(held):
        line, arch, cell = cells[size.item_id]
        days = [last[number] for number in cell.item_ids if number in last]
        yield IdleSize(line, arch, cell.size, size.on_hand, size.cents, max(days, default=None))


def _held(cell: TrayCell) -> int:
    return cell.available + cell.away + cell.set_aside + cell.blocked + cell.expired


@dataclass(frozen=True, slots=True)
class _Line:
    """One tray line with the visits ahead."""

    picture: Picture
    mix: SizeMix
    grid: TrayGrid
    visits: int

    def to_buy(self) -> LineToBuy:
        outlooks, cases, booked = self._ahead()
        stocks = tuple(tuple(cell.available for cell in row.cells) for row in self.grid.rows)
        chance = trays.chance_all_fitted(outlooks, stocks, cases)
        gains = trays.buy_next(outlooks, stocks, cases)
        ranked = tuple(self._next(stocks, gain.arch, gain.size, gain.chance) for gain in gains)
        bought = tuple(self._bought(outlooks, stocks, cases, chance))
        reusable = all(cell.reusable for row in self.grid.rows for cell in row.cells if cell.item_ids)
        looked_at = booked if reusable else self.visits
        return LineToBuy(self.grid.line, looked_at, booked, reusable, _ppm(chance), ranked, bought)

    def _ahead(self) -> tuple[list[SizeOutlook], Cases, int]:
        """Size outlook of each arch, the numbers of cases of unknown size, and how many visits are booked."""
        runs = [self.mix.runs[self.grid.line, row.arch] for row in self.grid.rows]
        rows = [
            row
            for row in self.picture.planned
            if any(self.mix.run_of(self.picture, row, run.arch) == run for run in runs)
        ][: self.visits]
        outlooks, unknown = [], []
        for run in runs:
            of_arch = [row for row in rows if run.arch in row.arches]
            of_size = {size: [row.on for row in of_arch if row.size(run.arch) == size] for size in run.sizes}
            known = [size for size, days in of_size.items() for _ in range(self.mix.together(run, days))]
            outlooks.append(self.mix.outlook(run, known))
            open_days = [row.on for row in of_arch if not row.size(run.arch)]
            # of reusable trays only those away at the same time are needed: that is known of booked visits alone
            further = 0 if run.reusable else self.visits - len(rows)
            unknown.append(self.mix.together(run, open_days) + further)
        return outlooks, {tuple(unknown): 1.0}, len(rows)

    def _next(self, stocks: Stocks, arch: int, size: int, chance: float) -> NextTray:
        row = self.grid.rows[arch]
        cell = row.cells[size]
        article = self.picture.items.get(next(iter(cell.item_ids), 0))
        return NextTray(row.arch, cell.size, article.code if article else "", stocks[arch][size], _ppm(chance))

    def _bought(
        self, outlooks: Sequence[SizeOutlook], stocks: Stocks, cases: Cases, chance: float
    ) -> Iterator[NextTray]:
        """The best tray again and again, until the target is reached."""
        for _ in range(MOST_TRAYS):
            if chance >= self.mix.target:
                return
            best = trays.buy_next(outlooks, stocks, cases)[0]
            chance = best.chance
            yield self._next(stocks, best.arch, best.size, chance)
            stocks = trays.with_one_more(stocks, best.arch, best.size)


def _ppm(chance: float) -> int:
    return int(MILLION * chance + 1e-6)

"""The dentist's look before visits: which tray sizes run low, whether the materials last, which visits can't be done.

Trays of each line, arch and size stand beside what the booked visits will likely take: a size known from an earlier
visit is certain, an unknown one follows the size mix that was fitted here. Materials are asked whether they serve
today's visits with one retake of every step, and how many visits of a kind the stock carries at all.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain import estimates, trays
from inventory.domain.estimates import ExpectedLine
from inventory.domain.quantity import show_units
from inventory.domain.trays import SizeWord
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, SettingSpeed, Viscosity
from inventory.service import forecasting, laying_out, proposing, readiness, size_mix, stock_views
from inventory.service.forecasting import Picture
from inventory.service.practice import Practice
from inventory.service.readiness import Readiness
from inventory.service.size_mix import SizeMix
from inventory.service.stock_views import TrayGrid
from inventory.store.queries import visits as query
from inventory.store.queries.visits import VisitRow

MOST_CASES = 20


@dataclass(frozen=True, slots=True)
class SizeCell:
    """One size of one arch: trays ready, away, and what the booked visits will likely take (in tenths of a tray)."""

    size: str
    item_ids: tuple[int, ...]
    available: int
    away: int
    expected_tenths: int
    target: int
    word: SizeWord
    reason: str


@dataclass(frozen=True, slots=True)
class SizeRow:
    arch: Arch
    cells: tuple[SizeCell, ...]


@dataclass(frozen=True, slots=True)
class SizeGrid:
    """One tray line; ``all_fitted_percent`` is the chance that every booked visit can be fitted from stock."""

    line: str
    booked: int
    all_fitted_percent: int
    rows: tuple[SizeRow, ...]


@dataclass(frozen=True, slots=True)
class MaterialLine:
    """One material: what is usable, whether opened, whether it serves today's visits with a retake of each step."""

    item_id: int
    name: str
    viscosity: Viscosity | None
    setting_speed: SettingSpeed | None
    amount: str
    qty: int
    base: BaseUnit
    needed_today: int
    enough_today: bool
    last_day: date | None


@dataclass(frozen=True, slots=True)
class KindPossible:
    """How many visits of a kind, both arches, the stock carries; ``lacks`` names what the next one would miss."""

    case_kind: str
    name: str
    count: int
    capped: bool
    lacks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DentistsView:
    """Everything of the dentist's one look."""

    today: date
    until: date
    grids: tuple[SizeGrid, ...]
    materials: tuple[MaterialLine, ...]
    possible: tuple[KindPossible, ...]
    not_ready: tuple[Readiness, ...]
    booked: int


def dentists_view(practice: Practice, days: int | None = None) -> DentistsView:
    """Trays, materials and booked visits of the next days (default: the practice's horizon) in one reading."""
    grids = stock_views.trays(practice).grids
    with practice.reading() as desk:
        picture = forecasting.picture(desk)
        until = picture.today + timedelta(days=days if days is not None else desk.settings["horizon_days"])
        booked = [row for row in picture.planned if row.on <= until]
        mix = size_mix.read(desk, picture)
        ready = readiness.readiness_of(desk, picture, until, mix)
        proposals = proposing.proposed(desk, picture).proposals
        to_order = {number for number, proposal in proposals.items() if proposal.runs_short and proposal.packs}
        kinds = {kind.id: kind for kind in query.case_kinds(desk.session) if kind.active}
        return DentistsView(
            today=picture.today,
            until=until,
            grids=tuple(_grid(picture, grid, booked, mix, to_order) for grid in grids),
            materials=tuple(_materials(picture, booked)),
            possible=tuple(
                _possible(picture, kind.id or 0, kind.code, kind.name) for kind in kinds.values() if kind.id
            ),
            not_ready=tuple(one for one in ready if not one.ready),
            booked=len(booked),
        )


def _grid(
    picture: Picture, grid: TrayGrid, booked: Sequence[VisitRow], mix: SizeMix, to_order: Collection[int]
) -> SizeGrid:
    visits = [row for row in booked if grid.line in _lines(picture, row)]
    outlooks, unknown, stocks = [], [], []
    for row in grid.rows:
        run = mix.runs[grid.line, row.arch]
        of_arch = [visit for visit in visits if row.arch in visit.arches]
        of_size = {size: [visit.on for visit in of_arch if visit.size(row.arch) == size] for size in run.sizes}
        known = [size for size, days in of_size.items() for _ in range(mix.together(run, days))]
        outlooks.append(mix.outlook(run, known))
        days = [visit.on for visit in of_arch if not visit.size(row.arch)]
        unknown.append(min(MOST_CASES, mix.together(run, days)))
        stocks.append(tuple(cell.available for cell in row.cells))
    cases = {tuple(unknown): 1.0}
    chance = trays.chance_all_fitted(outlooks, stocks=tuple(stocks), cases=cases) if visits else 1.0
    nothing = tuple((0,) * len(stock) for stock in stocks)
    targets = trays.smallest_stock(outlooks, cases, mix.target).stocks if visits else nothing
    rows = (
        SizeRow(row.arch, tuple(_cells(row, trays.expected_take(outlook, cases_of_arch), target, to_order)))
        for row, outlook, cases_of_arch, target in zip(grid.rows, outlooks, unknown, targets, strict=True)
    )
    return SizeGrid(grid.line, len(visits), int(100 * chance), tuple(rows))


def _cells(
    row: stock_views.TrayRow, expected: Sequence[float], target: Sequence[int], to_order: Collection[int]
) -> Iterator[SizeCell]:
    for cell, take, aim in zip(row.cells, expected, target, strict=True):
        due = any(number in to_order for number in cell.item_ids)
        status = trays.size_status(cell.available, cell.away, take, aim, to_order=due)
        yield SizeCell(
            cell.size, cell.item_ids, cell.available, cell.away, round(10 * take), aim, status.word, status.reason
        )


def _lines(picture: Picture, row: VisitRow) -> set[str | None]:
    return {need.tray_line for need in picture.needs.get(row.case_kind_id, ()) if need.kind is ItemKind.TRAY}


def _materials(picture: Picture, booked: Sequence[VisitRow]) -> Iterator[MaterialLine]:
    """The materials that some need names first, with what today's visits and a retake of each step would take."""
    wanted: dict[int, int] = {}
    for rows in picture.needs.values():
        for need in rows:
            if need.kind in (ItemKind.IMPRESSION, ItemKind.BITE) and need.articles:
                wanted.setdefault(need.articles[0], 0)
    for row in booked:
        if row.on == picture.today:
            for line in laying_out.expected(picture, row):
                if line.articles and line.articles[0] in wanted:
                    wanted[line.articles[0]] += 2 * line.gross_qty
    for number, needed in wanted.items():
        if number in picture.items:
            yield _material(picture, number, needed)


def _material(picture: Picture, number: int, needed: int) -> MaterialLine:
    item = picture.items[number]
    usable = [
        stand
        for stand in picture.stands
        if stand.item_id == number and laying_out.stack_of(stand).usable(picture.today) and stand.place_role.usable
    ]
    sealed = sum(stand.on_hand for stand in usable if stand.opened_on is None)
    opened = sum(stand.on_hand for stand in usable if stand.opened_on is not None)
    return MaterialLine(
        item_id=number, name=item.name, viscosity=item.viscosity, setting_speed=item.setting_speed,
        amount=show_units(sealed // item.unit_qty, opened, item.unit_qty, item.base), qty=sealed + opened,
        base=item.base, needed_today=needed, enough_today=sealed + opened >= needed,
        last_day=min((stand.last_day for stand in usable if stand.last_day), default=None),
    )  # fmt: skip


def _possible(picture: Picture, kind_id: int, code: str, name: str) -> KindPossible:
    needs = laying_out.step_needs(picture, picture.needs.get(kind_id, ()))
    lines = estimates.expected_use(needs, tuple(Arch), with_optional=True)
    stacks = [laying_out.stack_of(stand) for stand in picture.stands if stand.place_role.usable]
    found = estimates.cases_possible(lines, stacks, picture.today, most=MOST_CASES)
    by_key = {line.key: line for line in lines}
    return KindPossible(
        code, name, found.count, not found.lacks,
        tuple(dict.fromkeys(_lack(picture, by_key[short.key] if not short.key.tip else None, short.item_id)
                            for short in found.lacks)),
    )  # fmt: skip


def _lack(picture: Picture, line: ExpectedLine | None, item_id: int | None) -> str:
    if item_id is not None and item_id in picture.items:
        return picture.items[item_id].name
    return f"{line.need.step}: no article" if line else "a mixing tip"

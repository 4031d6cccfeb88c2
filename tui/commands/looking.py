"""What is in stock: lot by lot, item by item, and the trays by arch and size."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from inventory.domain.quantity import show, show_money
from inventory.errors import NotFound
from tui.commands import base, finding, shapes, words

if TYPE_CHECKING:
    from inventory.service.dentists_view import DentistsView, KindPossible, MaterialLine, SizeCell
    from inventory.service.stock_views import ItemLine, LotLine, Lots

KINDS = ("impression", "bite", "tray", "tip", "accessory")


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``items``, ``lots`` and ``trays``."""
    items = commands.add_parser(
        "items", parents=[common], help="every item: usable, on hold, expired, elsewhere, value; why to order it",
        description="What is left of every item, usable stock first; with --why how much to order and why.",
    )  # fmt: skip
    items.add_argument("--kind", choices=KINDS, help="only items of this kind")
    items.add_argument("--why", metavar="CODE", help="the arithmetic of the order proposal for one item")
    base.reading(items)
    items.set_defaults(run=_items)
    lots = commands.add_parser(
        "lots", parents=[common], help="what stands where, lot by lot, in issue order, with stock numbers",
        description="Every lot that is left, place by place, in the order in which it should be used.",
    )  # fmt: skip
    lots.add_argument("--item", metavar="CODE", help="only this item's lots")
    lots.add_argument("--lot", metavar="LOT", help="only the lot of this number, or lot:ID")
    lots.add_argument("--place", metavar="NAME", help="only what stands there")
    base.reading(lots)
    lots.set_defaults(run=_lots)
    trays = commands.add_parser(
        "trays", parents=[common], help="trays by arch and size, materials for today, visits the stock carries",
        description="Trays of each size: available, away, what the booked visits will likely take, which run low; "
        "whether the materials last for today's visits; how many visits of each kind the stock carries.",
    )  # fmt: skip
    base.reading(trays)
    trays.set_defaults(run=_trays)


def _items(context: base.Context) -> int:
    from inventory.domain.vocabulary import ItemKind  # noqa: PLC0415
    from inventory.service import stock_views  # noqa: PLC0415

    if context.args.why:
        return _why(context, context.args.why)
    kind = ItemKind(context.args.kind) if context.args.kind else None
    found = stock_views.items(context.practice, kind=kind)
    title = f"{base.number_of(len(found.lines), 'item')}, worth {show_money(found.value_cents)}"
    context.show(shapes.ITEMS, found, words.titled(title, map(_item, found.lines), "No items."))
    return base.OK


def _item(line: "ItemLine") -> str:
    parts = ((line.blocked, "on hold or recalled"), (line.expired, "expired"), (line.elsewhere, "elsewhere"))
    return words.facts(
        f"{line.code}, {line.name}: {words.stock(line.sealed_units, line.opened_qty, line.unit_qty, line.base)} usable",
        *(f"{show(qty, line.base)} {what}" for qty, what in parts if qty),
        f"{show(line.soon, line.base)} expires soon" if line.soon else None,
        f"first use by {line.next_last_day.isoformat()}" if line.next_last_day else None,
        f"{base.number_of(line.not_read, 'lot')} with a date not read yet" if line.not_read else None,
        None if line.unvalued == line.total else f"worth {show_money(line.value_cents)}",
        f"{show(line.unvalued, line.base)} without a known price" if line.unvalued else None,
        None if line.active else "given up",
    )  # fmt: skip


def _why(context: base.Context, code: str) -> int:
    from inventory.domain import why  # noqa: PLC0415
    from inventory.service import weekly_check  # noqa: PLC0415

    proposals = weekly_check.weekly_check(context.practice).proposals
    proposal = next((one for one in proposals if one.code == code.strip().upper()), None)
    if proposal is None:
        raise NotFound(f"There is no item {code!r} to order.", "Look it up with 'items'.")
    order = f"order {base.number_of(proposal.packs, 'pack')} for {show_money(proposal.cents)}"
    lines = [f"{proposal.code}: {order if proposal.packs else 'nothing to order now'}", *why.text(proposal.why),
             *(f"Mind: {warning}" for warning in proposal.warnings)]  # fmt: skip
    result = {"proposal": proposal, "why": [each.as_data() for each in proposal.why]}
    context.show(shapes.PROPOSAL, result, lines)
    return base.OK


def _lots(context: base.Context) -> int:
    from inventory.service import catalogue, stock_views  # noqa: PLC0415

    args = context.args
    found = stock_views.lots(
        context.practice, item_id=catalogue.item(context.practice, args.item).item_id if args.item else None,
        lot_id=finding.lot(context, args.lot, args.item) if args.lot else None, place=args.place,
    )  # fmt: skip
    context.show(shapes.LOTS, found, _lots_told(found))
    return base.OK


def _lots_told(found: "Lots") -> Iterator[str]:
    yield from words.titled(
        f"{base.number_of(len(found.lines), 'lot')} by item and place, first to be used first",
        (told for line in found.lines for told in lot_told(line)), "Nothing is left.",
    )  # fmt: skip


def lot_told(line: "LotLine") -> Iterator[str]:
    """A lot at a place, and a line for its sealed stack and for each opened unit."""
    days = base.number_of(line.days_left, "day") + " left" if line.days_left is not None and line.usable else None
    ours = line.number_is_ours and line.lot_number != words.NO_LOT
    yield words.facts(
        f"{line.item_code}, {line.item_name}, {words.lot(line.lot_number, line.use_by, line.use_by_read)}",
        "house number" if ours else None, days, line.state.value, *(f"because {reason}" for reason in line.why_held),
    )  # fmt: skip
    if line.sealed_id is not None:
        there = words.on_hand(line.sealed_units * line.unit_qty, line.unit_qty, line.unit_name, line.base)
        yield f"  stock {line.sealed_id}: {line.place}, {there}"
    for unit in line.opened:
        there = words.on_hand(unit.qty, line.unit_qty, line.unit_name, line.base, unit.opened_on)
        last = f"usable until {unit.last_day.isoformat()}" if unit.last_day else None
        yield words.facts(f"  stock {unit.holding_id}: {line.place}", there, last, unit.state.value)


def _trays(context: base.Context) -> int:
    from inventory.service import dentists_view  # noqa: PLC0415

    view = dentists_view.dentists_view(context.practice)
    context.show(shapes.TRAYS, view, _trays_told(view))
    return base.OK


def _trays_told(view: "DentistsView") -> Iterator[str]:
    yield f"{view.today.isoformat()}: {base.number_of(view.booked, 'visit')} booked until {view.until.isoformat()}"
    for grid in view.grids:
        if grid.booked:
            visits = base.number_of(grid.booked, "booked visit")
            yield f"{grid.line}: {visits}, all can be fitted with a chance of {grid.all_fitted_percent} percent"
        for row in grid.rows:
            yield f"{grid.line}, {words.arch(row.arch)}"
            yield from (f"  {_cell(cell)}" for cell in row.cells)
    yield "Materials"
    yield from (f"  {_material(line)}" for line in view.materials)
    yield "Visits that the stock carries"
    yield from (f"  {_possible(kind)}" for kind in view.possible)
    for visit in view.not_ready:
        yield words.facts(f"Visit {visit.visit_id}, case {visit.case_ref}, {visit.on.isoformat()}", *visit.missing)


def _cell(cell: "SizeCell") -> str:
    return words.facts(f"size {cell.size}: {cell.word.value}", cell.reason, f"{cell.away} away" if cell.away else None)


def _material(line: "MaterialLine") -> str:
    needed = f"today's visits with a retake of each step need {show(line.needed_today, line.base)}"
    return words.facts(
        f"{line.name}: {line.amount} usable ({show(line.qty, line.base)})",
        None if line.setting_speed is None else f"{line.setting_speed.value} set",
        f"first use by {line.last_day.isoformat()}" if line.last_day else None,
        needed if line.needed_today else None, None if line.enough_today else "not enough",
    )  # fmt: skip


def _possible(kind: "KindPossible") -> str:
    more = " or more" if kind.capped else ""
    return words.facts(f"{kind.name}: {kind.count}{more}", *(f"then no {lack}" for lack in kind.lacks))

"""What is ahead: whether booked visits can be done, and which tray sizes to buy."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from inventory.domain.quantity import show_money
from inventory.errors import NotFound
from tui import tray_words
from tui.commands import ahead_shapes as shapes
from tui.commands import base, words

if TYPE_CHECKING:
    from inventory.service.readiness import Readiness
    from inventory.service.tray_buying import IdleSize, LineToBuy, NextTray, TrayBuying

WORST_SIZES = 6


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``ready`` and ``buy-trays``."""
    ready = commands.add_parser(
        "ready", parents=[common], help="booked visits: ready, ready if a delivery arrives, or short of something",
        description="Walks the stock forward in the order of the visits; exit status 1 where a visit is short.",
    )  # fmt: skip
    ready.add_argument("--days", metavar="N", type=base.a_number, help="how far to look ahead")
    ready.add_argument("--why", metavar="VISIT", type=base.a_number, help="the arithmetic behind one visit")
    base.reading(ready)
    ready.set_defaults(run=_ready)
    trays = commands.add_parser(
        "buy-trays", parents=[common], help="which tray size to buy next, and the money in sizes nobody needed",
        description="The size whose next tray most helps that the next visits can all be fitted; sizes not used.",
    )  # fmt: skip
    trays.add_argument("--visits", metavar="N", type=base.a_number, help="the next N visits of each line; 10")
    trays.add_argument("--months", metavar="N", type=base.a_number, help="sizes not used for N months; 12")
    base.reading(trays)
    trays.set_defaults(run=_buy_trays)


def _ready(context: base.Context) -> int:
    from inventory.service import readiness  # noqa: PLC0415

    found = readiness.readiness(context.practice, context.args.days)
    if context.args.why is not None:
        found = tuple(one for one in found if one.visit_id == context.args.why)
        if not found:
            raise NotFound(f"Visit {context.args.why} is not ahead.", "'ready' lists those that are.")
    data = [{"visit": one, "why": [each.as_data() for each in one.why]} for one in found]
    title = f"{base.number_of(len(found), 'booked visit')}, {sum(not one.ready for one in found)} short"
    lines = (line for one in found for line in _visit(one, why=context.args.why is not None))
    context.show(shapes.READY, {"visits": data}, words.titled(title, lines, "No visits are booked."))
    return base.OK if all(one.ready for one in found) else base.ACT


def _visit(one: "Readiness", *, why: bool) -> Iterator[str]:
    from inventory.domain import why as derivations  # noqa: PLC0415

    head = f"visit {one.visit_id}, {one.on.isoformat()}, case {one.case_ref}, {one.case_kind_name}"
    answer = one.answer.value if one.answer.value == "ready" else None
    yield words.facts(f"{head}: {'; '.join(filter(None, (answer, *one.missing, *one.notes)))}")
    if why:
        yield from derivations.text(one.why)


def _buy_trays(context: base.Context) -> int:
    from inventory.service import tray_buying  # noqa: PLC0415

    args = context.args
    found = tray_buying.tray_buying(
        context.practice, visits=args.visits or tray_buying.VISITS, months=args.months or tray_buying.MONTHS
    )
    context.show(shapes.BUY_TRAYS, found, _told(found))
    return base.OK


def _told(found: "TrayBuying") -> Iterator[str]:
    for line in found.lines:
        yield from _line(line, found.target_percent)
    since = f"not used since {found.idle_since.isoformat()}"
    held = f"Sizes {since}: {show_money(found.idle_cents)} on the shelf"
    yield from words.titled(held, map(_idle, found.idle), f"Every size held was used: none {since}.")
    yield from words.titled("Learned here", map(tray_words.rate, found.rates), "")


def _line(line: "LineToBuy", target: int) -> Iterator[str]:
    chance = f"{tray_words.percent(line.chance_ppm)} of 100 that all can be fitted"
    yield f"{line.line}: {tray_words.looked_at(line)}: {chance}"
    yield f"  {tray_words.to_target(line, target)}"
    yield from (f"  {_size(size)}" for size in line.sizes[:WORST_SIZES])


def _size(size: "NextTray") -> str:
    gain = f"one more makes it {tray_words.percent(size.chance_ppm)} of 100"
    return words.facts(f"{words.arch(size.arch)} {size.size}", f"{size.available} available", gain, size.item_code)


def _idle(size: "IdleSize") -> str:
    last = f"last fitted {size.last_fitted.isoformat()}" if size.last_fitted else "never fitted"
    trays = base.number_of(size.trays, "tray")
    return words.facts(f"{size.line}, {words.arch(size.arch)} {size.size}: {trays}", show_money(size.cents), last)

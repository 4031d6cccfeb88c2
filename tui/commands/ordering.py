"""Purchase orders by command: what to order, the orders written, and each step of one from draft to given up."""

import argparse
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from inventory.domain.quantity import show, show_money
from inventory.errors import BadInput, NotFound
from tui.commands import base, order_shapes, words

if TYPE_CHECKING:
    from inventory.service.ordering import Wanted
    from inventory.service.orders import Order, OrderLine
    from inventory.service.proposing import ProposedOrder

STATES = ("draft", "sent", "part", "received", "cancelled")
PACKS = "ITEM=PACKS"


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``orders`` and ``order`` with its verbs."""
    listing = commands.add_parser(
        "orders", parents=[common], help="purchase orders, newest first; or what to order now, by supplier",
        description="Purchase orders with their lines and what is still to come; with --proposed what to order now.",
    )  # fmt: skip
    listing.add_argument(
        "number", metavar="ORDER", nargs="?", default="", help="one of them by its number, e.g. O-0012"
    )
    listing.add_argument("--state", choices=STATES, help="only orders in this state")
    listing.add_argument("--supplier", metavar="NAME", default="", help="only orders to this supplier")
    listing.add_argument("--limit", metavar="N", type=base.a_number, default=50, help="at most so many (50)")
    listing.add_argument("--proposed", action="store_true", help="what to order now from each supplier, and why")
    base.reading(listing)
    listing.set_defaults(run=_orders)
    order = commands.add_parser(
        "order", parents=[common], help="write, change, send, print and give up purchase orders",
        description="The program sends nothing: write the sheet, send it yourself, then mark the order as sent.",
    )  # fmt: skip
    _verbs(order.add_subparsers(metavar="VERB", parser_class=base.Parser, required=True, dest="verb"), common)


def _verbs(verbs: "base.Commands", common: base.Parser) -> None:
    draft = verbs.add_parser("draft", parents=[common], help="write a draft: what is proposed, or what you say")
    draft.add_argument("supplier", metavar="SUPPLIER", help="as the catalogue names it")
    draft.add_argument("packs", metavar=PACKS, nargs="*", help="e.g. LIGHT-50=2; without any, what is proposed")
    base.writing(draft)
    draft.set_defaults(run=_draft)
    change = verbs.add_parser("change", parents=[common], help="change the packs of a draft; 0 takes an item off")
    _number(change)
    change.add_argument("packs", metavar=PACKS, nargs="+", help="e.g. LIGHT-50=3; what is left out stays")
    change.set_defaults(run=_change)
    send = verbs.add_parser("send", parents=[common], help="mark a draft as sent: its goods are on order from then on")
    _number(send)
    send.add_argument("--on", metavar="DAY", help="the day it was sent, if not today")
    send.add_argument("--expected", metavar="DAY", help="the day the supplier named")
    send.set_defaults(run=_send)
    expect = verbs.add_parser("expect", parents=[common], help="write down another day for what is still to come")
    _number(expect)
    expect.add_argument("day", metavar="DAY", help="the day the supplier named")
    expect.add_argument("--reason", metavar="TEXT", default="", help="why, in a few words")
    expect.set_defaults(run=_expect)
    cancel = verbs.add_parser("cancel", parents=[common], help="give up an order, or what is still to come of it")
    _number(cancel)
    cancel.add_argument("--reason", metavar="TEXT", required=True, help="why, in a few words")
    cancel.set_defaults(run=_cancel)
    short = verbs.add_parser("give-up", parents=[common], help="give up what is still to come of one item")
    _number(short)
    short.add_argument("item", metavar="ITEM", help="its code")
    short.add_argument("--reason", metavar="TEXT", required=True, help="why, in a few words")
    short.set_defaults(run=_give_up)
    sheet = verbs.add_parser("sheet", parents=[common], help="the order for the supplier: as text, or into a file")
    _number(sheet)
    sheet.add_argument(
        "--out", metavar="FILE", default="", help="a new file; its ending says which: .txt, .csv or .pdf"
    )
    sheet.set_defaults(run=_sheet)


def _number(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("number", metavar="ORDER", help="its number, e.g. O-0012")


def _orders(context: base.Context) -> int:
    from inventory.domain.vocabulary import OrderState  # noqa: PLC0415
    from inventory.service import orders  # noqa: PLC0415

    args = context.args
    if args.proposed:
        return _proposed(context)
    if args.number:
        found: tuple[Order, ...] = (orders.order(context.practice, args.number),)
    else:
        states = [OrderState(args.state)] if args.state else []
        found = orders.orders(context.practice, states=states, supplier=args.supplier, limit=args.limit)
    told = [line for order in found for line in _told(order)]
    context.show(order_shapes.ORDERS, {"orders": [_data(order) for order in found]}, told or ["No orders."])
    return base.OK


def _data(order: "Order") -> dict[str, object]:
    lines = [{"line": line, "why": [each.as_data() for each in line.why]} for line in order.lines]
    return {"order": order, "lines": lines}


def _told(order: "Order") -> Iterator[str]:
    from inventory.domain import ordering  # noqa: PLC0415

    yield words.facts(
        f"Order {order.number}, {order.supplier}: {order.state.value}",
        f"written {order.written_on.isoformat()} by {order.by}",
        f"sent {order.sent_on.isoformat()}" if order.sent_on else None,
        f"expected {order.expected_on.isoformat()}" if order.expected_on and order.state.open else None,
        "overdue" if order.overdue else None,
        ordering.told(order.terms, order.sum)
        if order.sent_on is None
        else f"in all {show_money(order.sum.total_cents)}",
    )
    yield from (f"  {_line(line)}" for line in order.lines)


def _line(line: "OrderLine") -> str:
    left = line.open_units
    return words.facts(
        f"{line.code}, {line.name}: {base.number_of(line.packs, 'pack')} of {line.units_per_pack}",
        show_money(line.cents), f"{base.number_of(line.came_units, 'unit')} came" if line.came_units else None,
        f"{base.number_of(left, 'unit')} still to come" if left else None,
        f"{base.number_of(line.cancelled_packs, 'pack')} given up" if line.cancelled_packs else None,
    )  # fmt: skip


def _proposed(context: base.Context) -> int:
    from inventory.service import orders  # noqa: PLC0415

    args = context.args
    found = [
        one
        for one in orders.proposed_orders(context.practice)
        if args.supplier.strip().casefold() in ("", one.supplier.casefold())
    ]
    if args.supplier and not found:
        raise NotFound(f"There is no supplier {args.supplier!r} that sells anything.", "Look at the catalogue.")
    due = [one for one in found if one.ordered]
    told = [line for one in due for line in (*proposed_told(one), f"  {one.supplier} {one.lead.words}")]
    context.show(
        order_shapes.PROPOSED_ORDERS, {"orders": [proposed_data(one) for one in due]}, told or ["Nothing to order now."]
    )
    return base.ACT if due else base.OK


def proposed_data(order: "ProposedOrder") -> dict[str, object]:
    """A proposed order with its arithmetic as data."""
    parts = ("supplier", "due_cents", "sum", "terms", "lead", "added_for", "ordered", "warnings")
    return {**{part: getattr(order, part) for part in parts}, "why": [each.as_data() for each in order.why]}


def proposed_told(order: "ProposedOrder") -> Iterator[str]:
    """A proposed order: its sum, its lines, what was added and what that saves, what to mind."""
    from inventory.domain import ordering  # noqa: PLC0415

    yield f"To order from {order.supplier}: {ordering.told(order.terms, order.sum)}"
    for line in order.ordered:
        added = f"{line.added} of them {order.added_for}" if line.added else None
        yield words.facts(
            f"  {line.code}, {line.name}: {base.number_of(line.packs, 'pack')}, {show(line.qty, line.base)}",
            show_money(line.cents), added,
        )  # fmt: skip
    if order.added_for:
        yield f"  Added {order.added_for}: {order.told_additions}"
    yield from (f"  Mind: {warning}" for warning in order.warnings)


def _draft(context: base.Context) -> int:
    from inventory.service import ordering  # noqa: PLC0415

    args = context.args
    wanted = [ordering.Wanted(code, packs) for code, packs in _packs(args.packs)] or _as_proposed(context)
    order = ordering.draft(context.practice, args.supplier, wanted, by=context.by, confirmed=args.yes)
    return _say(order, f"The order as its supplier reads it: {base.PROGRAM} order sheet {order.number}")


def _as_proposed(context: base.Context) -> "Sequence[Wanted]":
    from inventory.service import ordering, orders  # noqa: PLC0415

    name = context.args.supplier.strip().casefold()
    proposed = orders.proposed_orders(context.practice)
    lines = [line for one in proposed if one.supplier.casefold() == name for line in one.ordered]
    return [ordering.Wanted(line.code, line.packs, line.supply.units_per_pack, line.why) for line in lines]


def _change(context: base.Context) -> int:
    from inventory.service import ordering  # noqa: PLC0415

    packs = dict(_packs(context.args.packs))
    return _say(ordering.edit(context.practice, context.args.number, packs, by=context.by))


def _send(context: base.Context) -> int:
    from inventory.service import ordering  # noqa: PLC0415

    args = context.args
    order = ordering.send(
        context.practice, args.number, by=context.by, sent_on=context.day(args.on, "--on"),
        expected_on=context.day(args.expected, "--expected"),
    )  # fmt: skip
    return _say(order)


def _expect(context: base.Context) -> int:
    from inventory.service import ordering  # noqa: PLC0415

    args = context.args
    day = context.typed_date(args.day, "day").day
    return _say(ordering.expect(context.practice, args.number, day, by=context.by, reason=args.reason))


def _cancel(context: base.Context) -> int:
    from inventory.service import ordering  # noqa: PLC0415

    args = context.args
    return _say(ordering.cancel(context.practice, args.number, reason=args.reason, by=context.by))


def _give_up(context: base.Context) -> int:
    from inventory.service import ordering  # noqa: PLC0415

    args = context.args
    return _say(ordering.close_short(context.practice, args.number, args.item, reason=args.reason, by=context.by))


def _sheet(context: base.Context) -> int:
    from inventory.service import order_sheets  # noqa: PLC0415

    args = context.args
    if not args.out:
        base.say(*order_sheets.written(context.practice, args.number, "txt").decode().splitlines())
        return base.OK
    path = Path(args.out)
    content = order_sheets.written(context.practice, args.number, path.suffix.removeprefix(".").lower())
    try:
        with path.open("xb") as file:
            file.write(content)
    except OSError as error:
        raise BadInput(f"--out: {path} can't be written: {error.strerror}.", "Name a file that is new.") from None
    base.say(f"Written to {path}. Nothing was sent: send it yourself, then mark the order as sent.")
    return base.OK


def _packs(texts: Sequence[str]) -> list[tuple[str, int]]:
    """``LIGHT-50=2`` as item and packs.

    Raises:
        BadInput: not so written.
    """
    found = []
    for text in texts:
        code, sign, count = text.partition("=")
        if not sign or not code.strip():
            raise BadInput(f"{text!r} can't be read.", f"Write {PACKS}, e.g. LIGHT-50=2.")
        found.append((code.strip(), base.whole_number(count, code.strip())))
    return found


def _say(order: "Order", *more: str) -> int:
    base.say(*_told(order), *more)
    return base.OK

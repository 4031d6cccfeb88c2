"""Several practices together: stock, what will expire, orders, transfers that save money, and their two halves."""

from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from inventory.domain.quantity import parse_decimal, show, show_money
from inventory.errors import BadInput
from tui.commands import base, group_shapes, receiving, stock, words

if TYPE_CHECKING:
    from inventory.service.group import Expiring, Group, GroupItem, GroupOrder, OpenHalf, Proposal
    from inventory.service.practice import Practice

FILE = "a file with one address a line; it may hold passwords, so keep it readable by you alone"


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``group``."""
    group = commands.add_parser(
        "group", parents=[common], help="several practices together: stock, expiry, orders; transfers between them",
        description="'group show' reads several stores and writes nothing. A transfer has two halves: the practice "
        "that gives posts 'group send', the one that gets 'group take', each in its own book, under one reference.",
    )  # fmt: skip
    verbs = group.add_subparsers(metavar="VERB", parser_class=base.Parser, required=True)
    shown = verbs.add_parser(
        "show", parents=[common], help="look at several practices, and which lots another one would use up in time",
        description="Exit status 1 where a transfer is proposed or only half of one is posted.",
    )  # fmt: skip
    shown.add_argument(
        "stores", metavar="PATH-or-URL", nargs="*", type=base.an_address,
        help="the practices' stores; your own where none is named",
    )  # fmt: skip
    shown.add_argument("--list", metavar="FILE", help=FILE)
    shown.add_argument("--least", metavar="AMOUNT", help="propose transfers that gain so much or more; 5.00")
    shown.add_argument("--days", metavar="N", type=base.a_number, help="days a transfer is on its way; 2")
    base.reading(shown)
    shown.set_defaults(run=_show)
    send = verbs.add_parser("send", parents=[common], help="post what goes out to another practice, as a return")
    send.add_argument("stock", metavar="STOCK[=UNITS]", nargs="+", help=stock.AMOUNT_HELP)
    send.add_argument("--to", metavar="PRACTICE", required=True, help="which practice gets it")
    send.set_defaults(run=_send)
    take = verbs.add_parser("take", parents=[common], help="post what came from another practice, as a receipt")
    take.add_argument("item", metavar="ITEM", help="code of the item here")
    take.add_argument("units", metavar="UNITS", type=base.a_number, help="sealed units, or pieces")
    take.add_argument("--lot", metavar="LOT", default="", help="the number on the package")
    take.add_argument("--use-by", metavar="DATE", default="?", help="a day, a month, none (the maker states none) or ?")
    take.add_argument("--from", metavar="PRACTICE", dest="sender", required=True, help="which practice gave it")
    take.add_argument("--place", metavar="NAME", default="", help="where it is put; the store room")
    take.set_defaults(run=_take)
    for half in (send, take):
        half.add_argument(
            "--ref", metavar="REFERENCE", required=True, help="the transfer's, the same at both practices"
        )
        half.add_argument("--on", metavar="DAY", help="another day than today")
        base.writing(half)


def _show(context: base.Context) -> int:
    from inventory.service import group  # noqa: PLC0415

    args = context.args
    least = group.LEAST_CENTS if args.least is None else parse_decimal(args.least, 100, "--least")
    with ExitStack() as opened:
        practices = [_open(context, address, opened) for address in _addresses(context)]
        found = group.look(practices, least_cents=least, days=group.DAYS if args.days is None else args.days)
    context.show(group_shapes.GROUP, found, _told(found))
    return base.ACT if found.transfers or found.open_halves else base.OK


def _addresses(context: base.Context) -> list[str]:
    args = context.args
    listed: list[str] = []
    if args.list:
        try:
            lines = Path(args.list).read_text(encoding="utf-8").splitlines()
        except (OSError, UnicodeDecodeError) as error:
            said = error.strerror if isinstance(error, OSError) else "it is no text"
            raise BadInput(f"--list: {args.list} can't be read: {said}.", "Name a file of addresses.") from None
        listed = [line.strip() for line in lines if line.strip() and not line.lstrip().startswith("#")]
    return [*args.stores, *listed] or [context.database]


def _open(context: base.Context, address: str, opened: ExitStack) -> tuple[str, "Practice"]:
    from inventory.service import opening  # noqa: PLC0415

    practice = opening.open_practice(address, today=getattr(context.args, "today", None))
    opened.callback(practice.store.close)
    return practice.store.name, practice


def _send(context: base.Context) -> int:
    from inventory.service import group_posting  # noqa: PLC0415

    args = context.args
    parts = stock.parts(context)
    return stock.told("Sent", group_posting.send(context.practice, parts, args.ref, args.to, context.slip()))


def _take(context: base.Context) -> int:
    from inventory.service import group_posting  # noqa: PLC0415

    args = context.args
    use_by = receiving.use_by(context, args.use_by, "--use-by")
    came = [group_posting.Taken(args.item, args.units, args.lot, use_by, args.place)]
    return stock.told("Taken", group_posting.take(context.practice, came, args.ref, args.sender, context.slip()))


def _told(found: "Group") -> Iterator[str]:
    yield f"{base.number_of(len(found.practices), 'practice')}: {', '.join(found.practices)}"
    yield from words.titled("Stock", map(_item, found.items), "No stock.")
    yield from words.titled("Expected to expire", map(_expiring, found.expiring), "Nothing is expected to expire.")
    yield from words.titled("Orders", map(_order, found.orders), "Nothing is on order.")
    gain = f"Transfers that would save {show_money(found.gain_cents)} in all"
    yield from words.titled(gain, map(_transfer, found.transfers), "No transfer would save money.")
    for one in found.transfers:
        yield from (f"  {line}" for line in _halves(one))
    if found.open_halves:
        yield from words.titled("Only half posted", map(_half, found.open_halves), "")


def _item(item: "GroupItem") -> str:
    there = (f"{one.practice} {show(one.usable, item.base)}" for one in item.at)
    lost = f"{show_money(item.lost_cents)} expected to expire" if item.lost_cents else None
    return words.facts(f"{item.name}: {show(item.usable, item.base)}", *there, lost)


def _expiring(lot: "Expiring") -> str:
    lost = f"{show(lot.lost, lot.base)} of {show(lot.qty, lot.base)} expected to expire, {show_money(lot.lost_cents)}"
    return words.facts(
        f"{lot.practice}: {lot.name}, lot {lot.lot}", lot.place, f"last day {lot.last_day.isoformat()}", lost,
        f"stock {lot.holding_id}",
    )  # fmt: skip


def _order(order: "GroupOrder") -> str:
    expected = f"expected {order.expected_on.isoformat()}" if order.expected_on else None
    return words.facts(f"{order.practice}: order {order.number}", order.supplier, order.state.value, expected)


def _transfer(one: "Proposal") -> str:
    units = base.number_of(one.units, one.unit_name)
    added = f"{show_money(one.added_cents)} more expected to expire there" if one.added_cents > 0 else None
    return words.facts(
        f"{one.reference}: {units} of {one.name}, lot {one.lot}, from {one.sender} to {one.receiver}",
        f"saves {show_money(one.gain_cents)}", f"{show_money(one.saved_cents)} less expected to expire here", added,
    )  # fmt: skip


def _halves(one: "Proposal") -> Iterator[str]:
    """Both halves as commands, each for its own practice."""
    yield (
        f"at {one.sender}: {base.PROGRAM} group send {one.holding_id}={one.units} --to {one.receiver} "
        f"--ref {one.reference}"
    )
    yield (
        f"at {one.receiver}: {base.PROGRAM} group take {one.taken_as} {one.units} --lot {one.lot} "
        f"--use-by {one.use_by.isoformat()} --from {one.sender} --ref {one.reference}"
    )


def _half(half: "OpenHalf") -> str:
    done, missing = ("sent", "taken") if half.sent else ("taken", "sent")
    return words.facts(
        f"{half.reference}: {done} on {half.on.isoformat()} at {half.practice}, {half.words}", *half.items,
        f"not {missing} anywhere",
    )  # fmt: skip

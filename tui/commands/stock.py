"""Change stock outside a visit: open, carry, throw away, send back, count, hold and release; each with who and why."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from inventory.domain.quantity import parse_amount, show
from inventory.domain.vocabulary import BaseUnit
from inventory.errors import BadInput
from tui.commands import base, finding, keeping, receiving, words

if TYPE_CHECKING:
    from inventory.service.moving import Moved, Part
    from tui.commands.finding import Stock

STOCK_HELP = "stock number as 'lots' shows it, or a lot number, LOT@PLACE where it stands at several"
AMOUNT_HELP = f"{STOCK_HELP}; =AMOUNT for a part of it, in units (2), mL or g"


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add the verbs of stock and of lots."""

    def verb(name: str, text: str, run: base.Run, *, parts: bool = False, proof: bool = False) -> base.Parser:
        parser = commands.add_parser(name, parents=[common], help=text, description=f"{text[0].upper()}{text[1:]}.")
        if parts:
            parser.add_argument("stock", metavar="STOCK[=AMOUNT]", nargs="+", help=AMOUNT_HELP)
        if proof:
            parser.add_argument("--proof", metavar="TEXT", default="", help="credit note, return number, certificate")
        parser.add_argument("--on", metavar="DAY", help="another day than today")
        base.writing(parser)
        parser.set_defaults(run=run)
        return parser

    opening = verb("open", "open a sealed unit, where it stands or at a chair", _open)
    opening.add_argument("stock", metavar="STOCK", help=STOCK_HELP)
    opening.add_argument("--to", metavar="PLACE", help="where it is opened")
    move = verb("move", "carry stock to another place; without STOCK: move the whole practice to another store", _move)
    move.add_argument("stock", metavar="STOCK[=AMOUNT]", nargs="*", help=AMOUNT_HELP)
    move.add_argument(
        "--to", metavar="PLACE", required=True,
        help="where it is carried; for the whole practice the URL of an empty store, postgresql:// or sqlite:///",
    )  # fmt: skip
    verb("discard", "throw stock away, with a reason; recalled stock with proof", _discard, parts=True, proof=True)
    verb("return", "send stock back to its supplier, with a reason and proof", _return, parts=True, proof=True)
    rest = verb("write-off", "write off what is left in an opened unit because it serves no step", _write_off)
    rest.add_argument("stock", metavar="STOCK", help=STOCK_HELP)
    empty = verb("use-up", "book an opened unit as used to the end (bottle empty)", _use_up)
    empty.add_argument("stock", metavar="STOCK", help=STOCK_HELP)
    count = verb("count", "put one balance right: what is really there, with a reason", _count)
    count.add_argument("stock", metavar="STOCK", help=f"{STOCK_HELP}; LOT@PLACE also where the book has none of it")
    count.add_argument("content", metavar="CONTENT", help="sealed: units; opened: mL, g or tenths (4t); or pieces")
    _add_lot_verbs(commands, common)


def _add_lot_verbs(commands: "base.Commands", common: base.Parser) -> None:
    for name, text, run in (
        ("hold", "put a lot on hold, so that it is never proposed", _hold),
        ("release", "release a lot from its hold", _release),
        ("amend", "put right a lot's number or use-by date, as read from the package", _amend),
    ):
        parser = commands.add_parser(name, parents=[common], help=text, description=f"{text[0].upper()}{text[1:]}.")
        finding.lot_options(parser)
        base.writing(parser)
        parser.set_defaults(run=run)
        if name == "amend":
            parser.add_argument("--number", metavar="NUMBER", help="the number on the package")
            parser.add_argument("--use-by", metavar="DATE", help="a day, a month, none (the maker states none) or ?")
            parser.add_argument("--made-on", metavar="DAY", help="the day it was made, where the package says so")


def _open(context: base.Context) -> int:
    from inventory.service import moving  # noqa: PLC0415

    stock = finding.one(context, context.args.stock, sealed=True)
    moved = moving.open_unit(context.practice, stock.holding_id, context.slip(), to_place=context.args.to)
    return told("Opened", moved)


def _move(context: base.Context) -> int:
    if not context.args.stock:
        return keeping.move_practice(context)
    from inventory.service import moving  # noqa: PLC0415

    return told("Carried", moving.transfer(context.practice, parts(context), context.args.to, context.slip()))


def _discard(context: base.Context) -> int:
    from inventory.service import moving  # noqa: PLC0415

    return told("Discarded", moving.discard(context.practice, parts(context), context.slip()))


def _return(context: base.Context) -> int:
    from inventory.service import moving  # noqa: PLC0415

    return told("Returned", moving.return_to_supplier(context.practice, parts(context), context.slip()))


def _write_off(context: base.Context) -> int:
    from inventory.service import moving  # noqa: PLC0415

    stock = finding.one(context, context.args.stock, sealed=False)
    return told("Written off", moving.write_off_rest(context.practice, stock.holding_id, context.slip()))


def _use_up(context: base.Context) -> int:
    from inventory.service import moving  # noqa: PLC0415

    stock = finding.one(context, context.args.stock, sealed=False)
    return told("Used up", moving.use_up(context.practice, stock.holding_id, context.slip()))


def _count(context: base.Context) -> int:
    from inventory.service import moving  # noqa: PLC0415

    target, stock = finding.counted(context, context.args.stock)
    content = amount(stock, context.args.content)
    moved = moving.correct_count(context.practice, target, content, context.slip())
    if moved.document_id is None:
        base.say("The book was right; nothing was posted.")
        return base.OK
    return told("Count corrected", moved)


def parts(context: base.Context) -> Sequence["Part"]:
    """The stock named by STOCK=AMOUNT, with how much of it."""
    from inventory.service.moving import Part  # noqa: PLC0415

    named_parts = []
    for text in context.args.stock:
        named, sign, typed = text.rpartition("=") if "=" in text else (text, "", "")
        stock = finding.one(context, named)
        named_parts.append(Part(stock.holding_id, amount(stock, typed) if sign else None))
    return named_parts


def amount(stock: "Stock", text: str) -> int:
    """An amount of some stock in base units: of sealed units a bare number means units, else mL, g or pieces."""
    typed = text.strip()
    if stock.base is not BaseUnit.PIECE and stock.opened_on is None and typed.isascii() and typed.isdigit():
        return base.whole_number(typed, "amount") * stock.unit_qty
    if not typed:
        raise BadInput("amount: nothing was typed.", "Type e.g. 2, or 12.5 mL.")
    return parse_amount(typed, stock.base, stock.unit_qty)


def told(done: str, moved: "Moved") -> int:
    """Say what was posted, line by line; returns the exit status."""
    from inventory.service.tracing import told_line  # noqa: PLC0415

    again = " (posted before; nothing more was posted)" if moved.again else ""
    base.say(f"{done}: entry {moved.document_id}{again}")
    for line in moved.lines:
        there = f"{show(line.on_hand, line.base)} there now, stock {line.holding_id}"
        base.say(f"  {words.facts(told_line(line), there)}")
    return base.OK


def _hold(context: base.Context) -> int:
    from inventory.service import holding  # noqa: PLC0415

    lot_id = finding.lot(context, context.args.lot, context.args.item)
    made = holding.hold(context.practice, lot_id=lot_id, reason=context.args.reason, by=context.by)
    base.say(f"On hold: lot {made.lot_number}. It is not proposed any more; set it aside.")
    return base.OK


def _release(context: base.Context) -> int:
    from inventory.service import holding  # noqa: PLC0415

    lot_id = finding.lot(context, context.args.lot, context.args.item)
    args = context.args
    holding.release(context.practice, lot_id=lot_id, reason=args.reason, by=context.by, confirmed=args.yes)
    base.say(f"Released: lot {context.args.lot}.")
    return base.OK


def _amend(context: base.Context) -> int:
    from inventory.service import receiving as service  # noqa: PLC0415

    args = context.args
    amended = service.amend_lot(
        context.practice, finding.lot(context, args.lot, args.item), reason=args.reason, by=context.by,
        number=args.number, made_on=context.day(args.made_on, "--made-on"),
        use_by=None if args.use_by is None else receiving.use_by(context, args.use_by, "--use-by"),
    )  # fmt: skip
    base.say(words.facts(f"Amended: lot {amended.number}", words.use_by(amended.use_by, amended.use_by_read)))
    base.say(*(f"Mind: {said}." for said in amended.recall))
    return base.OK

"""Which items are counted how often, and why; what is due; and a practice's own judgement of an item."""

import argparse
from collections.abc import Iterator
from typing import TYPE_CHECKING

from inventory.domain.quantity import show_money
from inventory.domain.vocabulary import Criticality
from inventory.errors import BadInput, NotFound
from tui import class_words as said
from tui.commands import base, use_shapes, words

if TYPE_CHECKING:
    from inventory.service.item_classes import ItemClass, ItemClasses


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``classes`` with its verbs."""
    classes = commands.add_parser(
        "classes", parents=[common], help="which items to count how often: by value of use and by need; what is due",
        description="Classes A, B and C by the value of a year's use, with vital, essential and normal; every how many "
        "weeks each is counted. Exit status 1 with --due where an item is due.",
    )  # fmt: skip
    _listing(classes)
    verbs = classes.add_subparsers(metavar="VERB", parser_class=base.Parser)
    listing = verbs.add_parser("list", parents=[common], help="all of them", argument_default=argparse.SUPPRESS)
    _listing(listing)
    judge = verbs.add_parser("set", parents=[common], help="say how vital an item is, or how often it is counted")
    judge.add_argument("item", metavar="ITEM", help="code of the item")
    judge.add_argument("--criticality", choices=[each.value for each in Criticality], help="how badly it is missed")
    judge.add_argument("--every", metavar="WEEKS", help="weeks of its own between counts; usual: by its category")
    base.writing(judge)
    judge.set_defaults(run=_set)


def _listing(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--why", metavar="ITEM", help="one of them, with its arithmetic")
    parser.add_argument("--due", action="store_true", help="only those not counted for longer than their weeks")
    base.reading(parser)
    parser.set_defaults(run=_list)


def _list(context: base.Context) -> int:
    from inventory.service import item_classes  # noqa: PLC0415

    args = context.args
    found = item_classes.item_classes(context.practice)
    lines = found.due if args.due else found.lines
    if args.why:
        lines = (_of(found, args.why),)
    data = {
        "today": found.today, "since": found.since, "sums": found.sums,
        "items": [
            {"line": line, "due": line.due(found.today), "why": [each.as_data() for each in line.classed.why]}
            for line in lines
        ],
    }  # fmt: skip
    context.show(use_shapes.CLASSES, data, _told(found, lines, why=bool(args.why)))
    return base.ACT if args.due and lines else base.OK


def _of(found: "ItemClasses", code: str) -> "ItemClass":
    for line in found.lines:
        if line.code == code.strip().upper():
            return line
    raise NotFound(f"There is no item {code!r} in use.", "Look it up with 'items'.")


def _told(found: "ItemClasses", lines: "tuple[ItemClass, ...]", *, why: bool) -> Iterator[str]:
    from inventory.domain import why as derivations  # noqa: PLC0415

    yield f"Use from {found.since.isoformat()} to {found.today.isoformat()}"
    for each in found.sums:
        yield f"  class {each.value}: {base.number_of(each.items, 'item')}, {show_money(each.cents)}"
    yield from words.titled(
        "Most value first", (said.line(line, found.today) for line in lines), "No item is due to be counted."
    )
    for line in lines if why else ():
        yield from derivations.text(line.classed.why)


def _set(context: base.Context) -> int:
    from inventory.service import item_classes  # noqa: PLC0415

    args = context.args
    if args.criticality is None and args.every is None:
        raise BadInput("Nothing is to be set.", "Say --criticality, --every, or both.")
    usual = (args.every or "").strip().lower() == "usual"
    line = item_classes.set_counting(
        context.practice, args.item, criticality=Criticality(args.criticality) if args.criticality else None,
        weeks=None if usual or args.every is None else base.whole_number(args.every, "--every"), usual=usual,
        by=context.by, reason=args.reason,
    )  # fmt: skip
    base.say(said.line(line, context.today))
    return base.OK

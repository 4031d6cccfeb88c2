"""What steps take, by command: the default, what was learned and why; accept, pin or reset a figure."""

import argparse
from collections.abc import Iterator
from typing import TYPE_CHECKING

from inventory.domain.quantity import PER_SIGN, parse_decimal
from inventory.errors import NotFound
from tui import estimate_words as said
from tui.commands import base, estimate_shapes

if TYPE_CHECKING:
    from inventory.service.learning import Learned


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``estimates`` with its verbs."""
    estimates = commands.add_parser(
        "estimates", parents=[common], help="what steps take: default, learned and why; accept, pin, reset",
        description="Net use of one attempt, tip and purge left out; learned from rounds of counting and from amounts "
        "that people entered.",
    )  # fmt: skip
    _listing(estimates)
    verbs = estimates.add_subparsers(metavar="VERB", parser_class=base.Parser)
    listing = verbs.add_parser("list", parents=[common], help="all of them", argument_default=argparse.SUPPRESS)
    _listing(listing)
    accept = verbs.add_parser("accept", parents=[common], help="use what was learned from now on")
    _which(accept)
    base.writing(accept)
    accept.set_defaults(run=_accept)
    pin = verbs.add_parser("pin", parents=[common], help="say what a step takes, whatever is learned; with a reason")
    _which(pin)
    pin.add_argument("mean", metavar="AMOUNT", help="net use of one attempt in mL or g, e.g. 9.5")
    pin.add_argument("--sd", metavar="AMOUNT", help="its spread from case to case; else in proportion as before")
    base.writing(pin)
    pin.set_defaults(run=_pin)
    reset = verbs.add_parser(
        "reset", parents=[common], help="back to the default, and forget what was observed before; with a reason"
    )
    _which(reset)
    base.writing(reset)
    reset.set_defaults(run=_reset)


def _listing(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--why", metavar="NUMBER", type=base.a_number, help="one of them, with its arithmetic")
    base.reading(parser)
    parser.set_defaults(run=_list)


def _which(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("number", metavar="NUMBER", type=base.a_number, help="its number in the list")


def _list(context: base.Context) -> int:
    from inventory.service import learning  # noqa: PLC0415

    number = context.args.why
    found = learning.learned(context.practice)
    if number is not None:
        found = (_of(found, number),)
    data = [{"use": one, "why": [each.as_data() for each in one.why]} for one in found]
    context.show(estimate_shapes.SHAPES["estimates"], {"estimates": data}, _told(found, why=number is not None))  # type: ignore[arg-type]
    return base.OK


def _of(found: "tuple[Learned, ...]", number: int) -> "Learned":
    for one in found:
        if one.need_id == number:
            return one
    raise NotFound(f"There is no estimate {number}.", "'estimates' lists them.")


def _told(found: "tuple[Learned, ...]", *, why: bool) -> Iterator[str]:
    kind = ""
    for one in found:
        if one.case_kind_name != kind:
            kind = one.case_kind_name
            yield kind
        yield f"  {said.line(one)}"
        for each in one.why if why else ():
            yield from each.lines()


def _accept(context: base.Context) -> int:
    from inventory.service import learning  # noqa: PLC0415

    return _done(learning.accept(context.practice, context.args.number, by=context.by, reason=context.args.reason))


def _pin(context: base.Context) -> int:
    from inventory.service import learning  # noqa: PLC0415

    args = context.args
    per = PER_SIGN[_of(learning.learned(context.practice), args.number).base]
    mean = parse_decimal(args.mean, per, "amount")
    spread = None if args.sd is None else parse_decimal(args.sd, per, "--sd")
    return _done(learning.pin(context.practice, args.number, mean, spread, by=context.by, reason=args.reason))


def _reset(context: base.Context) -> int:
    from inventory.service import learning  # noqa: PLC0415

    return _done(learning.reset(context.practice, context.args.number, by=context.by, reason=context.args.reason))


def _done(one: "Learned") -> int:
    base.say(one.case_kind_name, f"  {said.line(one)}")
    return base.OK

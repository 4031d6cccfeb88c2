"""What stands where, topping operatories up to their own level, and taking expired stock off the shelves."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from inventory.domain.quantity import show, show_money
from inventory.errors import BadInput
from tui.commands import base, finding, looking, place_shapes, words

if TYPE_CHECKING:
    from inventory.service.expired import ExpiredLine, Found, TakenOff
    from inventory.service.places import PlaceLine, ToppedUp


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``places``, ``level``, ``top-up`` and ``expired``."""
    listing = commands.add_parser(
        "places", parents=[common], help="what stands where: every place, or all that stands at one",
        description="Every place in the order in which it is walked; with a name, its lots and its own levels.",
    )  # fmt: skip
    listing.add_argument("name", metavar="PLACE", nargs="?", default="", help="e.g. 'operatory 1'")
    base.reading(listing)
    listing.set_defaults(run=_places)
    level = commands.add_parser(
        "level", parents=[common], help="to how many sealed units of an item an operatory is topped up",
        description="Sets an operatory's own level of an item; 0 takes it away.",
    )  # fmt: skip
    level.add_argument("place", metavar="PLACE", help="an operatory")
    level.add_argument("item", metavar="ITEM", help="its code")
    level.add_argument("units", metavar="UNITS", type=base.a_number, help="sealed units; 0: no level of its own")
    base.writing(level)
    level.set_defaults(run=_level)
    top_up = commands.add_parser(
        "top-up", parents=[common], help="carry to an operatory from the store room what it lacks, in one entry",
        description="Tops an operatory up to its own levels, what expires first before the rest. What is open there "
        "does not count; expired stock and what is on hold stay where they are.",
    )  # fmt: skip
    top_up.add_argument("place", metavar="PLACE", help="an operatory")
    top_up.add_argument("--dry-run", action="store_true", help="only say what would be carried, and what lacks")
    base.writing(top_up)
    base.reading(top_up)
    top_up.set_defaults(run=_top_up)
    _add_expired(commands, common)


def _add_expired(commands: "base.Commands", common: base.Parser) -> None:
    expired = commands.add_parser(
        "expired", parents=[common], help="what stands expired, place by place; take it off the shelf",
        description="What is past its last day of use in store rooms and operatories, in the order of a walk.",
    )  # fmt: skip
    expired.add_argument("--place", metavar="PLACE", default="", help="only there")
    base.reading(expired)
    expired.set_defaults(run=_expired)
    verbs = expired.add_subparsers(metavar="take-off", parser_class=base.Parser)
    take_off = verbs.add_parser("take-off", parents=[common], help="post what was found of it at one place")
    take_off.add_argument("at", metavar="PLACE", help="where")
    for name, text in (
        ("set-aside", "found and set aside"),
        ("discard", "found and thrown away"),
        ("not-there", "not there: the count is corrected"),
    ):
        take_off.add_argument(
            f"--{name}", metavar="STOCK", nargs="+", default=[], help=f"{text}; a stock number, or all"
        )
    take_off.add_argument("--proof", metavar="TEXT", default="", help="of what was thrown away, e.g. a certificate")
    base.writing(take_off)
    take_off.set_defaults(run=_take_off)


def _places(context: base.Context) -> int:
    from inventory.service import places  # noqa: PLC0415

    shape: Any = place_shapes.SHAPES["places"]
    found = places.places(context.practice)
    if not context.args.name:
        context.show(shape, {"places": found, "lots": (), "levels": ()}, map(_place, found))
        return base.OK
    here = places.place(context.practice, context.args.name)
    lots = (told for line in here.lines for told in looking.lot_told(line))
    lines = [*words.titled(f"{here.name}:", lots, f"{here.name}: nothing stands there.")]
    lines += [f"Level: {line.name} ({line.code}): {line.there} of {line.level} there" for line in here.levels]
    named = [line for line in found if line.name == here.name]
    context.show(shape, {"places": named, "lots": here.lines, "levels": here.levels}, lines)
    return base.OK


def _place(line: "PlaceLine") -> str:
    return words.facts(
        f"{line.name} ({line.role.value.replace('_', ' ')})",
        f"{base.number_of(line.items, 'item')} in {base.number_of(line.lots, 'lot')}" if line.lots else "empty",
        f"{line.blocked} of them expired, on hold or recalled" if line.blocked else None,
        f"below its own level of {base.number_of(line.below, 'item')}" if line.below else None,
        f"worth {show_money(line.value_cents)}", None if line.active else "not in use any more",
    )  # fmt: skip


def _level(context: base.Context) -> int:
    from inventory.service import places  # noqa: PLC0415

    args = context.args
    line = places.set_level(context.practice, args.place, args.item, args.units, by=context.by, reason=args.reason)
    said = f"is topped up to {line.level}" if line.level else "has no level of its own there any more"
    base.say(f"{line.name} ({line.code}) at {args.place} {said}.")
    return base.OK


def _top_up(context: base.Context) -> int:
    from inventory.service import places  # noqa: PLC0415

    args = context.args
    if args.dry_run:
        found = places.plan(context.practice, args.place)
    else:
        found = places.top_up(context.practice, args.place, context.slip())
    shape: Any = place_shapes.SHAPES["top-up"]
    context.show(shape, found, _topped_up(found, dry_run=args.dry_run))
    return base.ACT if found.lacking else base.OK


def _topped_up(found: "ToppedUp", *, dry_run: bool) -> Iterator[str]:
    again = " (posted before; nothing more was posted)" if found.again else ""
    if not found.picks:
        yield f"Nothing to carry to {found.place}."
    elif dry_run:
        yield f"To carry to {found.place}:"
    else:
        yield f"Carried to {found.place}: entry {found.document_id}{again}"
    for line, one in found.picks:
        use_by = f"use by {one.use_by.isoformat()}" if one.use_by else None
        told = words.facts(f"{line.name}: {one.amount}", _lot(one.lot_number), use_by, f"from {one.from_place}")
        yield f"  {told}"
    for line in found.lacking:
        short = base.number_of(line.lacks, line.unit_name or "unit")
        yield f"Lacking: {line.name} ({line.code}): {short} below its level."


def _lot(number: str) -> str | None:
    """A lot's number; nothing where the item is kept without lots."""
    return None if number == words.NO_LOT else f"lot {number}"


def _expired(context: base.Context) -> int:
    from inventory.service import expired  # noqa: PLC0415

    found = expired.walk(context.practice, place=context.args.place)
    lines: list[str] = []
    for stop in found.stops:
        lines += words.titled(f"{stop.place}:", map(_expired_line, stop.lines), "")
    shape: Any = place_shapes.SHAPES["expired"]
    context.show(shape, found, lines or ["Nothing stands expired."])
    return base.ACT if found.lines else base.OK


def _expired_line(line: "ExpiredLine") -> str:
    why = "open for too long" if line.opened_too_long else "expired"
    return words.facts(
        f"stock {line.holding_id}", f"{line.item_name}: {line.amount}", f"lot {line.lot_number}",
        f"{why}, last day {line.last_day.isoformat()}", words.late(line.blocked) or None,
    )  # fmt: skip


def _take_off(context: base.Context) -> int:
    from inventory.service import expired  # noqa: PLC0415

    args = context.args
    walk = expired.walk(context.practice, place=args.at)
    there = [line.holding_id for stop in walk.stops for line in stop.lines]
    aside, thrown = _found(context, args.set_aside, there), _found(context, args.discard, there)
    gone = tuple(one.holding_id for one in _found(context, args.not_there, there))
    findings = expired.Findings(args.at, aside, thrown, gone)
    return _taken(expired.take_off(context.practice, findings, context.slip()))


def _found(context: base.Context, named: Sequence[str], there: Sequence[int]) -> "tuple[Found, ...]":
    """The lines that are named, ``all`` of a place, each with =AMOUNT for a part of it."""
    from inventory.service.expired import Found  # noqa: PLC0415

    if list(named) == ["all"]:
        if not there:
            raise BadInput("Nothing stands expired there.", "Nothing has to be done.")
        return tuple(Found(number) for number in there)
    found = []
    for text in named:
        stock, sign, amount = text.partition("=")
        number = base.whole_number(stock, "STOCK") if stock.isdigit() else finding.one(context, stock).holding_id
        found.append(Found(number, _qty(context, number, amount) if sign else None))
    return tuple(found)


def _qty(context: base.Context, number: int, amount: str) -> int:
    from tui.commands import stock  # noqa: PLC0415

    return stock.amount(finding.one(context, str(number)), amount)


def _taken(taken: "TakenOff") -> int:
    from inventory.service.tracing import told_line  # noqa: PLC0415

    again = " (posted before; nothing more was posted)" if taken.again else ""
    entries = "entries" if taken.documents[1:] else "entry"
    base.say(f"Taken off at {taken.place}: {entries} {', '.join(map(str, taken.documents))}{again}")
    for line in taken.lines:
        base.say(f"  {words.facts(told_line(line), f'{show(line.on_hand, line.base)} there now')}")
    if taken.left:
        base.say(f"{base.number_of(taken.left, 'line')} still to be looked at there.")
    return base.OK

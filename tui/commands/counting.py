"""Rounds of counting by command: begin one, print its sheet, enter what was read, review it, approve it."""

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from inventory.domain.dates import parse_moment
from inventory.domain.quantity import show, show_money
from inventory.errors import BadInput
from tui.commands import base, count_shapes, receiving, words

if TYPE_CHECKING:
    from datetime import datetime

    from inventory.service.count_review import Review, ReviewLine
    from inventory.service.count_sheet import RoundCard, SheetLine

KINDS = ("impression", "bite", "tray", "tip", "accessory")
READING_HELP = "sealed: units (3); opened: tenths (4 or 4t), or grams with the package (62.5g); or pieces"


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``count-round`` with its verbs."""
    rounds = commands.add_parser(
        "count-round", parents=[common], help="count the stock in a round: start, sheet, record, review, approve",
        description="A round counts everything, or some places or groups. Nothing changes in the book before it is "
        "approved; each reading knows its moment, so work can go on while it is counted.",
    )  # fmt: skip
    verbs = rounds.add_subparsers(metavar="VERB", parser_class=base.Parser, required=True, dest="verb")
    _looking_verbs(verbs, common)
    _writing_verbs(verbs, common)


def _looking_verbs(verbs: "base.Commands", common: base.Parser) -> None:
    listing = verbs.add_parser("list", parents=[common], help="all rounds, newest first")
    base.reading(listing)
    listing.set_defaults(run=_list)
    sheet = verbs.add_parser("sheet", parents=[common], help="what to count, in the order of walking; or as a file")
    _round(sheet)
    sheet.add_argument("--out", metavar="FILE", default="", help="a new file ending in .txt, .csv or .pdf")
    base.reading(sheet)
    sheet.set_defaults(run=_sheet)
    review = verbs.add_parser("review", parents=[common], help="what was read beside what the book expected")
    _round(review)
    base.reading(review)
    review.set_defaults(run=_review)


def _writing_verbs(verbs: "base.Commands", common: base.Parser) -> None:
    start = verbs.add_parser("start", parents=[common], help="begin a round")
    start.add_argument("--place", metavar="NAME", action="append", default=[], help="only what stands here")
    start.add_argument("--kind", choices=KINDS, action="append", default=[], help="only items of this kind")
    start.add_argument("--family", metavar="NAME", action="append", default=[], help="only items of this family")
    start.add_argument("--item", metavar="CODE", action="append", default=[], help="only this item")
    start.add_argument("--open-book", action="store_true", help="not blind: the sheet says what the book expects")
    start.set_defaults(run=_start)
    record = verbs.add_parser("record", parents=[common], help="enter what was read")
    _round(record)
    record.add_argument("readings", metavar="LINE=READING", nargs="*", help=f"LINE as on the sheet; {READING_HELP}")
    record.add_argument("--at", metavar="DAY HH:MM", default="", help="when it was read, if not now, e.g. 9:30")
    record.add_argument("--take-back", metavar="LINE", action="append", default=[], help="this reading was none")
    record.add_argument("--rest-is-gone", action="store_true", help="of all lines not read, nothing is there any more")
    record.set_defaults(run=_record)
    found = verbs.add_parser("found", parents=[common], help="add stock that stands where the book has none of it")
    _round(found)
    found.add_argument("item", metavar="ITEM", help="its code")
    found.add_argument("reading", metavar="READING", help=READING_HELP)
    found.add_argument("--place", metavar="NAME", required=True, help="where it stands")
    found.add_argument("--lot", metavar="LOT", default="", help="the number on its package")
    found.add_argument(
        "--use-by", metavar="DATE", default="?", help="a day, a month, none (the maker states none) or ?"
    )
    found.add_argument("--opened", metavar="DAY", help="it is an opened unit, opened on this day")
    found.add_argument("--at", metavar="DAY HH:MM", default="", help="when it was read, if not now")
    found.set_defaults(run=_found)
    approve = verbs.add_parser("approve", parents=[common], help="put the book right by what was read, once")
    _round(approve)
    base.writing(approve, reason="why the book was wrong, as far as known; needed where something differs")
    approve.set_defaults(run=_approve)
    drop = verbs.add_parser("drop", parents=[common], help="give a round up; the book stays as it is")
    _round(drop)
    drop.add_argument("--reason", metavar="TEXT", required=True, help="why, in a few words")
    drop.set_defaults(run=_drop)


def _round(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("round", metavar="ROUND", type=base.a_number, help="its number")


def _start(context: base.Context) -> int:
    from inventory.domain.vocabulary import ItemKind  # noqa: PLC0415
    from inventory.service import counting  # noqa: PLC0415
    from inventory.service.count_shelves import Scope  # noqa: PLC0415

    args = context.args
    kinds = tuple(ItemKind(kind) for kind in args.kind)
    scope = Scope(tuple(args.place), kinds, tuple(args.family), tuple(args.item))
    begun = counting.start(context.practice, scope, blind=not args.open_book, by=context.by)
    base.say(_card(begun), f"Its sheet: {base.PROGRAM} count-round sheet {begun.round_id}")
    return base.OK


def _list(context: base.Context) -> int:
    from inventory.service import counting  # noqa: PLC0415

    rounds = counting.rounds(context.practice)
    data = {"rounds": [_card_data(card) for card in rounds]}
    context.show(count_shapes.ROUNDS, data, [_card(card) for card in rounds] or ["Nothing was counted in rounds yet."])
    return base.OK


def _card(card: "RoundCard") -> str:
    from inventory.service.count_sheets import scope_words  # noqa: PLC0415

    return words.facts(
        f"Round {card.round_id}: {card.state}", scope_words(card.scope), "blind" if card.blind else None,
        f"begun {card.started_at:%Y-%m-%d} by {card.by}", base.number_of(card.counted, "line") + " read",
        f"entry {card.document_id}" if card.document_id else None,
    )  # fmt: skip


def _card_data(card: "RoundCard") -> dict[str, object]:
    from inventory.service.count_sheets import scope_words  # noqa: PLC0415

    return {"card": card, "scope": scope_words(card.scope)}


def _sheet(context: base.Context) -> int:
    from inventory.service import count_sheets, counting  # noqa: PLC0415

    args = context.args
    if args.out:
        kind = Path(args.out).suffix.removeprefix(".").lower()
        return base.write_file(args.out, count_sheets.written(context.practice, args.round, kind), "--out")
    seen = counting.sheet(context.practice, args.round)
    data = {"round": _card_data(seen.round), "lines": seen.lines}
    text = count_sheets.written(context.practice, args.round, "txt").decode()
    context.show(count_shapes.SHEET, data, text.splitlines())
    return base.OK


def _record(context: base.Context) -> int:
    from inventory.service import counting  # noqa: PLC0415

    args, practice = context.args, context.practice
    at = _moment(context)
    pairs = [_pair(text) for text in args.readings]
    if not (pairs or args.take_back or args.rest_is_gone):
        raise BadInput("Nothing was read.", "Write LINE=READING, e.g. 12=3.")
    for key in args.take_back:
        counting.withdraw(practice, args.round, key, by=context.by)
        base.say(f"Taken back: line {key}.")
    for key, reading in pairs:
        base.say(_line(counting.record(practice, args.round, key, reading, by=context.by, at=at)))
    if args.rest_is_gone:
        rest = [line.key for line in counting.sheet(practice, args.round).lines if not line.counted]
        counting.confirm_none(practice, args.round, rest, by=context.by)
        base.say(f"Nothing there: {', '.join(rest) or 'no line was left'}.")
    return base.OK


def _pair(text: str) -> tuple[str, str]:
    key, sign, reading = text.partition("=")
    if not (sign and key.strip() and reading.strip()):
        raise BadInput(f"{text!r} can't be read.", "Write LINE=READING, e.g. 12=3.")
    return key.strip(), reading


def _moment(context: base.Context) -> "datetime | None":
    """The moment that ``--at`` names, of the practice's own time."""
    from datetime import datetime  # noqa: PLC0415

    typed = context.args.at.strip()
    if not typed:
        return None
    day, at = parse_moment(typed, context.today, context.order, "--at")
    if at is None:
        raise BadInput(f"--at: {typed!r} has no time.", "Type e.g. 9:30, or 2027-03-12 9:30.")
    with context.practice.reading() as desk:
        return datetime.combine(day.day, at, tzinfo=desk.zone)


def _found(context: base.Context) -> int:
    from inventory.service import counting  # noqa: PLC0415

    args = context.args
    use_by = receiving.use_by(context, args.use_by, "--use-by")
    what = counting.Found(args.item, args.place, args.lot, use_by, context.day(args.opened, "--opened"))
    base.say(
        _line(counting.found(context.practice, args.round, what, args.reading, by=context.by, at=_moment(context)))
    )
    return base.OK


def _line(line: "SheetLine") -> str:
    from inventory.service.count_sheets import what_words  # noqa: PLC0415

    qty = show(line.counted_qty, line.base) if line.counted_qty is not None and line.reading else None
    return words.facts(
        f"Line {line.key}: {line.item_name}", f"lot {line.lot_number}", line.place, what_words(line),
        f"read {line.reading}", qty if line.opened_on else None,
    )  # fmt: skip


def _review(context: base.Context) -> int:
    from inventory.service import count_review  # noqa: PLC0415

    found = count_review.review(context.practice, context.args.round)
    data = {
        "round": _card_data(found.round), "lines": found.lines, "unread": [line.key for line in found.unread],
        "plus_cents": found.plus_cents, "minus_cents": found.minus_cents,
    }  # fmt: skip
    context.show(count_shapes.REVIEW, data, _told(found))
    return base.ACT if found.differences or found.problems or found.unread else base.OK


def _told(found: "Review") -> Iterator[str]:
    yield _card(found.round)
    yield from words.titled(
        f"{base.number_of(len(found.differences), 'difference')}:", map(_difference, found.differences),
        "The book is right about all that was read.",
    )  # fmt: skip
    money = f"Found {show_money(found.plus_cents)}, missing {show_money(-found.minus_cents)}"
    yield words.facts(money, f"{base.number_of(found.unpriced, 'line')} without a price" if found.unpriced else None)
    yield from words.titled("Not read, and left as it is:", map(_unread, found.unread), "Every line was read.")


def _difference(line: "ReviewLine") -> str:
    one = line.line
    return words.facts(
        f"line {one.key}: {one.item_name}", f"lot {one.lot_number}", one.place,
        f"book {show(line.expected_qty, one.base)}", f"read {one.reading}",
        f"{'+' if line.difference > 0 else ''}{show(line.difference, one.base)}",
        None if line.cents is None else show_money(line.cents), line.problem or None,
    )  # fmt: skip


def _unread(line: "SheetLine") -> str:
    from inventory.service.count_sheets import what_words  # noqa: PLC0415

    return words.facts(f"line {line.key}: {line.item_name}", f"lot {line.lot_number}", line.place, what_words(line))


def _approve(context: base.Context) -> int:
    from inventory.service import count_review  # noqa: PLC0415
    from inventory.service.tracing import told_line  # noqa: PLC0415

    args = context.args
    done = count_review.approve(
        context.practice, args.round, reason=args.reason, by=context.by, request_key=base.request_key(args)
    )
    again = " (approved before; nothing more was posted)" if done.again else ""
    entry = f"entry {done.document_id}" if done.document_id else "the book was right, nothing was posted"
    base.say(f"Round {args.round} approved: {entry}{again}")
    base.say(*(f"  {told_line(line)}" for line in done.lines))
    return base.OK


def _drop(context: base.Context) -> int:
    from inventory.service import counting  # noqa: PLC0415

    args = context.args
    base.say(_card(counting.drop(context.practice, args.round, reason=args.reason, by=context.by)))
    return base.OK

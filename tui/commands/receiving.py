"""Receive a delivery by command: one argument a line of the slip, every article of its packs with it."""

import argparse
from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from inventory.domain.dates import parse_time
from inventory.domain.quantity import parse_decimal
from inventory.errors import BadInput
from tui.commands import base, shapes, words

if TYPE_CHECKING:
    from inventory.service.delivery_lines import Arrival, PackArticle
    from inventory.service.lots import UseBy
    from inventory.service.receiving import Preview, Received, ReceivedLine

DESCRIPTION = """One LINE for each lot of each article, its parts divided by semicolons:

  'LIGHT-50; packs=2; lot=A123; use-by=2028-05'
  'TRAY-U-M; units=10; use-by=none; damaged=1'

packs or units: how many came, broken ones included. lot: empty for a house number. use-by: a day, a month, none (the
maker states none) or ? (not read yet). Also: made-on, place, damaged, pack-of (units in the pack, where several are
sold), price (of a pack), instead-of (the item of the order that it came in place of). A LINE that begins with + is the
lot of a further article in the packs of the line before:

  '+ TIP-50; lot=T77; use-by=none'"""
PARTS = ("packs", "units", "lot", "use-by", "made-on", "place", "damaged", "pack-of", "price", "instead-of")
OF_A_FURTHER_ARTICLE = ("lot", "use-by", "made-on", "damaged")


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``receive`` and ``deliveries``."""
    receive = commands.add_parser(
        "receive", parents=[common], help="receive a delivery: lots, dates, packs or units, place",
        description=DESCRIPTION, formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    receive.add_argument("supplier", metavar="SUPPLIER", help="as the catalogue names it")
    receive.add_argument("lines", metavar="LINE", nargs="+", help="a lot of an article, as above")
    receive.add_argument("--slip", metavar="NUMBER", default="", help="of the delivery slip; the same one is caught")
    receive.add_argument("--order", metavar="NUMBER", default="", help="the order it came for, e.g. O-0012")
    receive.add_argument("--on", metavar="DAY", help="another day than today")
    receive.add_argument("--time", metavar="HH:MM", help="of that day, where the shelf was counted on it")
    receive.add_argument("--place", metavar="NAME", default="", help="another place than the store room")
    receive.add_argument("--preview", action="store_true", help="print what would be posted; post nothing")
    base.reading(receive)
    base.writing(receive)
    receive.set_defaults(run=_receive)
    listing = commands.add_parser("deliveries", parents=[common], help="deliveries in the book, newest first")
    listing.add_argument(
        "delivery", metavar="DELIVERY", type=base.a_number, nargs="?", help="one of them, with its lines"
    )
    listing.add_argument("--since", metavar="DAY", help="only those received from this day on")
    listing.add_argument("--limit", metavar="N", type=base.a_number, default=100, help="at most so many (100)")
    base.reading(listing)
    listing.set_defaults(run=_deliveries)


def _receive(context: base.Context) -> int:
    from inventory.service import receiving  # noqa: PLC0415

    args = context.args
    delivery = receiving.Delivery(
        supplier=args.supplier, lines=_lines(context, args.lines), received_on=context.day(args.on, "--on"),
        at=parse_time(args.time, "--time") if args.time else None,
        slip_no=args.slip, place=args.place, order=args.order,
    )  # fmt: skip
    if args.preview:
        preview = receiving.preview(context.practice, delivery)
        context.show(shapes.PREVIEW, preview, _previewed(preview))
        return base.OK
    received = receiving.receive(
        context.practice, delivery, by=context.by, request_key=base.request_key(args), confirmed=args.yes
    )
    context.show(shapes.RECEIVED, received, _received(received))
    return base.OK


def _lines(context: base.Context, texts: Sequence[str]) -> tuple["Arrival", ...]:
    """The lines typed, each with the further articles that follow it."""
    from dataclasses import replace  # noqa: PLC0415

    lines: list[Arrival] = []
    for number, text in enumerate(texts, start=1):
        where = f"line {number}"
        if not text.strip().startswith("+"):
            lines.append(_arrival(context, text, where))
        elif lines:
            further = _further(context, text.strip()[1:], where)
            lines[-1] = replace(lines[-1], contents=(*lines[-1].contents, further))
        else:
            raise BadInput(f"{where}: a further article has no line before it.", "Name the pack's own article first.")
    return tuple(lines)


def _arrival(context: base.Context, text: str, where: str) -> "Arrival":
    from inventory.service.delivery_lines import Arrival  # noqa: PLC0415

    item, parts = _parts(text, where, PARTS)
    found: dict[str, Any] = _lot(context, parts, where)
    for name, part in (("packs", "packs"), ("units", "units"), ("damaged_units", "damaged"), ("pack_of", "pack-of")):
        if part in parts:
            found[name] = base.whole_number(parts[part], f"{where}, {part}")
    if "price" in parts:
        found["pack_cents"] = parse_decimal(parts["price"], 100, f"{where}, price")
    return Arrival(item=item, place=parts.get("place", ""), instead_of=parts.get("instead-of", ""), **found)


def _further(context: base.Context, text: str, where: str) -> "PackArticle":
    from inventory.service.delivery_lines import PackArticle  # noqa: PLC0415

    item, parts = _parts(text, where, OF_A_FURTHER_ARTICLE)
    damaged = base.whole_number(parts.get("damaged", "0"), f"{where}, damaged")
    return PackArticle(item=item, damaged_units=damaged, **_lot(context, parts, where))


def _lot(context: base.Context, parts: dict[str, str], where: str) -> dict[str, Any]:
    found: dict[str, Any] = {"lot": parts.get("lot", "")}
    if "use-by" in parts:
        found["use_by"] = use_by(context, parts["use-by"], f"{where}, use-by")
    if "made-on" in parts:
        made_on: date = context.typed_date(parts["made-on"], f"{where}, made-on").day
        found["made_on"] = made_on
    return found


def use_by(context: base.Context, text: str, what: str) -> "UseBy":
    """A use-by date as a label gives it, in the practice's order of day and month."""
    from inventory.service.lots import parse_use_by  # noqa: PLC0415

    return parse_use_by(text, context.today, context.order, what)


def _parts(text: str, where: str, known: Sequence[str]) -> tuple[str, dict[str, str]]:
    """The article's code, and what is said of it by name."""
    item, *rest = [part.strip() for part in text.split(";")]
    parts = {}
    for part in filter(None, rest):
        name, sign, value = (piece.strip() for piece in part.partition("="))
        if not sign or name.casefold() not in known:
            raise BadInput(f"{where}: {part!r} can't be read.", f"Write NAME=VALUE with one of: {', '.join(known)}.")
        parts[name.casefold()] = value
    return item, parts


def _line(line: "ReceivedLine") -> str:
    return words.facts(
        f"{line.item} {line.name}", f"lot {line.lot}" if line.lot else None,
        "house number" if line.number_is_ours else None,
        words.use_by(line.use_by, line.use_by_read), base.number_of(line.units, "unit"),
        f"{line.damaged_units} damaged, not received" if line.damaged_units else None,
    )  # fmt: skip


def _previewed(preview: "Preview") -> Iterator[str]:
    yield from words.titled("Would be received:", map(_line, preview.lines), "Nothing would be received.")
    yield from (f"Mind: {warning}" for warning in preview.warnings)
    yield from (f"To be confirmed with --yes: {ask}" for ask in preview.asks)


def _received(received: "Received") -> Iterator[str]:
    again = " (posted before; nothing more was posted)" if received.again else ""
    yield words.facts(
        f"Delivery {received.delivery_id} from {received.supplier}", received.received_on.isoformat(),
        f"slip {received.slip_no}" if received.slip_no else None,
        f"order {received.order}" if received.order else None, f"entry {received.document_id}",
    ) + again  # fmt: skip
    yield from (f"  {_line(line)}" for line in received.lines)
    yield from (f"Mind: {warning}" for warning in received.warnings)


def _deliveries(context: base.Context) -> int:
    from inventory.service import receiving  # noqa: PLC0415

    args = context.args
    if args.delivery is not None:
        received = receiving.delivery(context.practice, args.delivery)
        context.show(shapes.RECEIVED, received, _received(received))
        return base.OK
    cards = receiving.deliveries(context.practice, since=context.day(args.since, "--since"), limit=args.limit)
    lines = (
        words.facts(
            f"Delivery {card.delivery_id}", card.received_on.isoformat(), card.supplier,
            f"slip {card.slip_no}" if card.slip_no else None, f"entered by {card.by}",
            "undone since" if card.undone else None,
        )
        for card in cards
    )  # fmt: skip
    title = base.number_of(len(cards), "delivery", "deliveries")
    context.show(shapes.DELIVERIES, {"deliveries": cards}, words.titled(title, lines, "No deliveries."))
    return base.OK

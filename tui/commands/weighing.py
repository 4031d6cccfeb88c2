"""What would be: one item's forecast, a change tried without making it, and what a short-dated delivery is worth."""

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from inventory.domain.quantity import parse_decimal, show, show_money
from inventory.errors import BadInput
from tui import what_if_words
from tui.commands import ahead_shapes as shapes
from tui.commands import base, picturing, words

if TYPE_CHECKING:
    from datetime import date

    from inventory.service.forecast import ItemAhead, LotAhead
    from inventory.service.short_dated import Offer
    from inventory.service.what_if import Scenario, WhatIf


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``forecast``, ``what-if`` and ``short-dated``."""
    forecast = commands.add_parser(
        "forecast", parents=[common], help="one item: expected use and why, each lot's chance, when it runs out",
        description="Booked visits and further ones by kind; lots walked over drawn courses of use, always the same.",
    )  # fmt: skip
    forecast.add_argument("item", metavar="ITEM", help="code of the item")
    picturing.drawing(forecast)
    forecast.set_defaults(run=_forecast)
    what_if = commands.add_parser(
        "what-if", parents=[common], help="a late supplier, more visits, another pack: what changes",
        description="Asks the weekly check again with something changed, or several things; nothing is written.",
    )  # fmt: skip
    what_if.add_argument("--supplier", metavar="NAME", help="a supplier that is late; with --late")
    what_if.add_argument("--late", metavar="DAYS", type=base.a_number, help="by so many days")
    what_if.add_argument("--more", metavar="KIND=N", action="append", help="N more visits of a case kind")
    what_if.add_argument("--within", metavar="DAYS", type=base.a_number, help="of --more: within so many days; 30")
    what_if.add_argument(
        "--pack", metavar="ITEM=UNITS[@PRICE]", action="append", help="an item bought in packs of so many units"
    )
    base.reading(what_if)
    what_if.set_defaults(run=_what_if)
    offer = commands.add_parser(
        "short-dated", parents=[common], help="what a short-dated delivery is worth, and why",
        description="The discount from which on taking it costs no more than an ordinary delivery.",
    )  # fmt: skip
    offer.add_argument("item", metavar="ITEM", help="code of the item")
    offer.add_argument("packs", metavar="PACKS", type=base.a_number, help="packs offered")
    offer.add_argument("use_by", metavar="USE-BY", help="their date, e.g. 2027-05-31 or 2027-05")
    base.reading(offer)
    offer.set_defaults(run=_short_dated)


def _forecast(context: base.Context) -> int:
    from inventory.service import forecast  # noqa: PLC0415
    from tui.pictures import stock_course as course  # noqa: PLC0415

    found = forecast.forecast(context.practice, context.args.item)
    data = {"ahead": found, "why": found.why.as_data()}
    picture = course.draw(found, picturing.width(context))
    lines = picturing.shown(context, picture, course.legend(found), (*_forecast_told(found), *course.tell(found)))
    context.show(shapes.FORECAST, data, lines)
    return base.OK


def _forecast_told(found: "ItemAhead") -> Iterator[str]:
    unit = found.base
    yield f"{found.item}, {found.name}: the next {found.days} days, until {found.until.isoformat()}"
    yield from found.why.lines()
    yield from (f"  {source.words}" for source in found.sources)
    enough = (f"{show(one.qty, unit)} with {one.chance_ppm // 10_000} of 100" for one in found.enough)
    yield f"Enough for it: {', '.join(enough)}"
    parts = (
        (found.usable, "usable"),
        (found.arriving, "on order"),
        (found.expired, "expired"),
        (found.held, "on hold"),
    )
    yield f"Stock: {', '.join(f'{show(qty, unit)} {what}' for qty, what in parts if qty) or 'nothing'}"
    days = zip((10, 50, 90), found.runs_out, strict=True)
    yield f"Runs out: {', '.join(f'{_day(on)} in {part} of 100 courses' for part, on in days)}"
    lost = f"Expected to expire: {show(found.lost, unit)}, {show_money(found.lost_cents)}"
    yield from words.titled(lost, (_lot(lot, found) for lot in found.lots), "No lot is usable.")


def _day(on: "date | None") -> str:
    return on.isoformat() if on else "not foreseen"


def _lot(lot: "LotAhead", found: "ItemAhead") -> str:
    lost = f"{show(lot.lost, found.base)} expected to expire, {show_money(lot.lost_cents)}" if lot.lost else None
    used_up = f"used up in time with {lot.used_up_ppm // 10_000} of 100" if lot.last_day else "no date to expire on"
    last = f"last day {lot.last_day.isoformat()}" if lot.last_day else None
    return words.facts(f"{lot.label}", lot.place, show(lot.qty, found.base), last, used_up, lost)


def _what_if(context: base.Context) -> int:
    from inventory.service import what_if  # noqa: PLC0415

    found = what_if.what_if(context.practice, list(_scenarios(context)))
    context.show(shapes.WHAT_IF, found, _what_if_told(found))
    return base.OK


def _scenarios(context: base.Context) -> "Iterator[Scenario]":
    from inventory.service.what_if import WITHIN, Late, More, Pack  # noqa: PLC0415

    args = context.args
    if (args.supplier is None) != (args.late is None):
        raise BadInput("--supplier and --late belong together.", "Say who is late and by how many days.")
    if args.supplier is not None:
        yield Late(args.supplier, args.late)
    for text in args.more or ():
        kind, number = _pair(text, "--more", "final_stock_tray=4")
        yield More(kind, _number(number, "--more"), args.within if args.within is not None else WITHIN)
    for text in args.pack or ():
        item, pack = _pair(text, "--pack", "LIGHT=8 or LIGHT=8@95.50")
        units, _, price = pack.partition("@")
        cents = parse_decimal(price, 100, "--pack") if price else None
        yield Pack(item, _number(units, "--pack"), cents)


def _pair(text: str, option: str, example: str) -> tuple[str, str]:
    name, sign, value = text.partition("=")
    if not (name.strip() and sign and value.strip()):
        raise BadInput(f"{option}: {text!r} can't be read.", f"Write it as {example}.")
    return name.strip(), value.strip()


def _number(text: str, option: str) -> int:
    if not re.fullmatch(r"[0-9]{1,6}", text):
        raise BadInput(f"{option}: {text!r} is not a whole number.", "Correct it.")
    return int(text)


def _what_if_told(found: "WhatIf") -> Iterator[str]:
    yield f"What if: {'; '.join(found.asked)}"
    yield from what_if_words.summary(found)
    lines = (what_if_words.line(change) for change in found.changes)
    yield from words.titled("Items that change", lines, "No item changes.")
    if found.visits:
        yield "Visits that change"
        yield from (f"  {what_if_words.visit(one)}" for one in found.visits)


def _short_dated(context: base.Context) -> int:
    from inventory.service import short_dated  # noqa: PLC0415

    args = context.args
    day = context.typed_date(args.use_by, "USE-BY").day
    found = short_dated.offer(context.practice, args.item, args.packs, day)
    context.show(shapes.SHORT_DATED, {"offer": found, "why": found.why.as_data()}, _offer_told(found))
    return base.OK


def _offer_told(found: "Offer") -> Iterator[str]:
    usual = f", usually {found.usual_days} days" if found.usual_days is not None else ""
    life = f"{(found.use_by - found.arrives).days} days left when it comes{usual}"
    packs = base.number_of(found.packs, "pack")
    yield words.facts(f"{found.item}, {found.name}: {packs} from {found.supplier}",
                      f"use by {found.use_by.isoformat()}", f"here on {found.arrives.isoformat()}", life)  # fmt: skip
    yield f"{found.sentence[0].upper()}{found.sentence[1:]}."
    yield from found.why.lines()

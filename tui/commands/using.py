"""What was used and what was wasted in a period, by item and by kind of visit."""

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from inventory.domain.usage import PERIODS, Usage, period
from inventory.errors import BadInput
from tui import usage_words as said
from tui.commands import base, use_shapes, words

if TYPE_CHECKING:
    from datetime import date


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``usage``."""
    usage = commands.add_parser(
        "usage", parents=[common], help="use and waste of a period by item, cost of materials by kind of visit",
        description="Used, purged in tips, retaken, lost, expired, discarded, returned, miscounted: in mL, g or pieces "
        "and in money; what visits of each kind cost in materials, with the spread.",
    )  # fmt: skip
    usage.add_argument("--from", dest="since", metavar="DAY", help="first day; the first of this month")
    usage.add_argument("--to", dest="until", metavar="DAY", help="last day; today")
    usage.add_argument("--period", choices=[each.replace(" ", "-") for each in PERIODS], help="instead of the days")
    usage.add_argument("--csv", metavar="FILE", default="", help="also write the items to a new CSV file")
    usage.add_argument("--visits-csv", metavar="FILE", default="", help="also write the kinds of visits to a new one")
    base.reading(usage)
    usage.set_defaults(run=_usage)


def _usage(context: base.Context) -> int:
    from inventory.service import usage  # noqa: PLC0415

    args = context.args
    found = usage.usage(context.practice, *_days(context, args))
    tables = usage.as_csv(found)
    for name, table in ((args.csv, "items"), (args.visits_csv, "visits")):
        if name:
            _write(Path(name), tables[table])
    context.show(use_shapes.USAGE, found, _told(found))
    return base.OK


def _days(context: base.Context, args: argparse.Namespace) -> "tuple[date, date]":
    if args.period and (args.since or args.until):
        raise BadInput("--period: the days are given too.", "Name a period, or its days with --from and --to.")
    since, until = period((args.period or "this month").replace("-", " "), context.today)
    return context.day(args.since, "--from") or since, context.day(args.until, "--to") or until


def _told(found: Usage) -> Iterator[str]:
    yield said.title(found)
    yield from said.summary(found)
    yield from words.titled("Items, most money first", map(said.item, found.items), "Nothing moved.")
    costs = words.titled("Materials by kind of visit", map(said.kind, found.kinds), "No visit was booked out.")
    yield from costs
    yield said.beside(found)


def _write(path: Path, text: str) -> None:
    try:
        with path.open("x", encoding="utf-8", newline="") as file:
            file.write(text)
    except FileExistsError:
        raise BadInput(f"{path} is there already.", "Name a new file.") from None
    except OSError as wrong:
        raise BadInput(f"{path} can't be written: {wrong.strerror}.", "Name another file.") from None

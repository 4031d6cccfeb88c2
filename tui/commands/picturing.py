"""Pictures as text: lots until their last day, use week by week, tray sizes fitted; each told in sentences too."""

import argparse
from collections.abc import Iterable, Sequence

from tui.commands import base
from tui.commands import picture_shapes as shapes

NARROW, WIDE = 78, 118


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``shelf``, ``weekly-use`` and ``fitted``."""
    shelf = commands.add_parser(
        "shelf", parents=[common], help="lots until their last day: which are used up in time, what will be left",
        description="Every lot, or those of one item, at mean use; the one that ends first on top.",
    )  # fmt: skip
    shelf.add_argument("item", metavar="ITEM", nargs="?", default="", help="code of the item; all where left out")
    drawing(shelf)
    shelf.set_defaults(run=_shelf)
    weeks = commands.add_parser(
        "weekly-use", parents=[common], help="what was used of an item week by week, and what was wasted",
        description="What visits took, mixing tips' purges included; wasted and discarded apart.",
    )  # fmt: skip
    weeks.add_argument("item", metavar="ITEM", help="code of the item")
    weeks.add_argument("--weeks", metavar="N", type=base.a_number, help="so many weeks back; 26")
    drawing(weeks)
    weeks.set_defaults(run=_weekly_use)
    fitted = commands.add_parser(
        "fitted", parents=[common], help="tray sizes fitted by arch, beside what is there of each",
        description="Two years count; sizes held far off their share are named.",
    )  # fmt: skip
    drawing(fitted)
    fitted.set_defaults(run=_fitted)


def drawing(parser: argparse.ArgumentParser) -> None:
    """Options of readings that can be drawn."""
    base.reading(parser)
    parser.add_argument("--picture", action="store_true", help="draw it in text instead of telling it")
    parser.add_argument("--wide", action="store_true", help="draw it for a terminal of 120 columns")


def shown(context: base.Context, picture: Sequence[str], legend: Sequence[str], told: Iterable[str]) -> Iterable[str]:
    """The picture with what its signs mean, where it was asked for; else what it tells."""
    return (*picture, "", *legend) if context.args.picture else told


def width(context: base.Context) -> int:
    """Columns a picture may take."""
    return WIDE if context.args.wide else NARROW


def _shelf(context: base.Context) -> int:
    from inventory.service import shelf_timeline  # noqa: PLC0415
    from tui.pictures import shelf_bars as bars  # noqa: PLC0415

    found = shelf_timeline.timeline(context.practice, context.args.item)
    lines = shown(context, bars.draw(found, width(context)), bars.legend(found), bars.tell(found))
    context.show(shapes.SHELF, found, lines)
    return base.OK


def _weekly_use(context: base.Context) -> int:
    from inventory.service import weekly_use  # noqa: PLC0415
    from tui.pictures import week_bars as bars  # noqa: PLC0415

    args = context.args
    weeks = weekly_use.WEEKS if args.weeks is None else args.weeks
    found = weekly_use.weekly_use(context.practice, args.item, weeks=weeks)
    lines = shown(context, bars.draw(found, width(context)), bars.legend(found), bars.tell(found))
    context.show(shapes.WEEKLY_USE, found, lines)
    return base.OK


def _fitted(context: base.Context) -> int:
    from inventory.service import fitted_sizes  # noqa: PLC0415
    from tui.pictures import size_bars as bars  # noqa: PLC0415

    found = fitted_sizes.fitted_sizes(context.practice)
    lines = shown(context, bars.draw(found, width(context)), bars.legend(found), bars.tell(found))
    context.show(shapes.FITTED, found, lines)
    return base.OK

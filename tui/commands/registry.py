"""All commands in one table, in the order in which ``--help`` lists them."""

import argparse

from inventory import __version__
from tui.commands import (
    ahead,
    base,
    booking_out,
    checking,
    importing,
    looking,
    ordering,
    receiving,
    scanning,
    screens,
    setting,
    stock,
    telling,
    visiting,
    weighing,
)

GROUPS = (
    screens, setting, importing, checking, looking, ahead, weighing, visiting, booking_out,
    ordering, receiving, scanning, stock, telling,
)  # fmt: skip

EPILOG = """\
Exit status: 0 nothing to act on, 1 something to act on, 2 bad usage or input, 3 the program or its store failed.
Without a command the screens open on your practice. IMPRESSION_STOCK_DATABASE names the store where no option does.
Expired or recalled material is not used; the maker's instructions and local codes rule; licensed practice decides.
No patient names anywhere: case references only."""


def parser() -> base.Parser:
    """The program's whole command line."""
    common = base.common()
    whole = base.Parser(
        prog=base.PROGRAM,
        description="Keeps the impression supplies of a denture practice ready, in date and traceable.",
        epilog=EPILOG,
        parents=[common],
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    whole.add_argument("--version", action="version", version=f"{base.PROGRAM} {__version__}")
    whole.set_defaults(run=screens.own_practice)
    commands = whole.add_subparsers(metavar="COMMAND", parser_class=base.Parser, required=False)
    for group in GROUPS:
        group.add(commands, common)
    return whole

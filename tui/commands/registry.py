"""All commands in one table, in the order in which ``--help`` lists them; only the one that is meant is loaded."""

import argparse
from collections.abc import Sequence
from importlib import import_module

from inventory import __version__
from tui.commands import base

GROUPS = {
    "screens": ("demo", "seed"),
    "serving": ("serve",),
    "setting": ("set-up", "settings"),
    "importing": ("import",),
    "checking": ("week", "verify"),
    "looking": ("items", "lots", "trays"),
    "ahead": ("ready", "buy-trays"),
    "weighing": ("forecast", "what-if", "short-dated"),
    "picturing": ("shelf", "weekly-use", "fitted"),
    "asking": ("fits", "retakes", "questions"),
    "learning": ("estimates",),
    "using": ("usage",),
    "counting_classes": ("classes",),
    "visiting": ("visits", "lay-out"),
    "calendar": ("calendar",),
    "booking_out": ("book-out", "undo"),
    "laboratory": ("laboratory", "case-record"),
    "ordering": ("orders", "order"),
    "receiving": ("receive", "deliveries"),
    "scanning": ("scan", "package", "packages", "labels"),
    "stock": ("open", "move", "discard", "return", "write-off", "use-up", "count", "hold", "release", "amend"),
    "grouping": ("group",),
    "places": ("places", "level", "top-up", "expired"),
    "keeping": ("backup", "restore", "export", "roles-script"),
    "counting": ("count-round",),
    "telling": ("history",),
    "tracing": ("trace",),
    "notices": ("notice",),
}
"""The module of each group, and the commands that it adds."""

PLAIN = {"trace": ("any", ("lot", "case", "any"))}
"""Commands that may be typed without a verb: the one that is meant then, and all of them."""

VALUED = ("--database", "--today", "--by")  # common options that take the next word as their value

EPILOG = """\
Exit status: 0 nothing to act on, 1 something to act on, 2 bad usage or input, 3 the program or its store failed.
Without a command the screens open on your practice. IMPRESSION_STOCK_DATABASE names the store where no option does.
Expired or recalled material is not used; the maker's instructions and local codes rule; licensed practice decides.
No patient names anywhere: case references only."""


def parser(words: Sequence[str] | None = None) -> base.Parser:
    """The program's command line.

    Args:
        words: what was typed, to load no more than the command in it needs; None gives the whole command line.
    """
    common = base.common()
    whole = base.Parser(
        prog=base.PROGRAM,
        description="Keeps the impression supplies of a denture practice ready, in date and traceable.",
        epilog=EPILOG,
        parents=[common],
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    whole.add_argument("--version", action="version", version=f"{base.PROGRAM} {__version__}")
    whole.set_defaults(run=_screens)
    commands = whole.add_subparsers(metavar="COMMAND", parser_class=base.Parser, required=False)
    for group in GROUPS if words is None else groups_for(words):
        import_module(f"tui.commands.{group}").add(commands, common)
    return whole


def _screens(context: base.Context) -> int:
    """Without a command: the screens on the user's own practice."""
    from tui.commands import screens  # noqa: PLC0415

    return screens.own_practice(context)


def in_full(words: Sequence[str]) -> list[str]:
    """A command typed without its verb, in full: ``trace HE205`` is ``trace any HE205``."""
    typed = list(words)
    command = _command(typed)
    if command not in PLAIN or command is None:
        return typed
    meant, verbs = PLAIN[command]
    after = typed.index(command) + 1
    if typed[after:] and not {*typed[after:]} & {*verbs, "-h", "--help"}:
        typed.insert(after, meant)
    return typed


def groups_for(words: Sequence[str]) -> tuple[str, ...]:
    """The groups that what was typed needs: its command's; all of them where help is asked or nothing fits."""
    command = _command(words)
    if command == "":
        return ()
    return tuple(group for group, names in GROUPS.items() if command in names) or tuple(GROUPS)


def _command(words: Sequence[str]) -> str | None:
    """The command in what was typed; empty where there is none, None where help on all of them is asked."""
    rest = iter(words)
    for word in rest:
        if word in VALUED:
            next(rest, None)
        elif word in ("-h", "--help"):
            return None
        elif not word.startswith("-"):
            return word
    return ""

"""What all commands share: the common options, opening the practice, printing text or JSON, exit statuses.

Exit status 0: nothing to act on; 1: something to act on; 2: bad usage or bad input; 3: the program or its store failed.
Services are imported inside the commands, so that ``--help`` costs little more than the argument parser.
"""

import argparse
import json
import sys
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from inventory import settings
from inventory.errors import BadInput, NeedsConfirmation, PracticeError, RowErrors
from tui.commands.shaping import Shape, as_json

if TYPE_CHECKING:
    from inventory.domain.dates import DateOrder, TypedDate
    from inventory.service.moving import Slip
    from inventory.service.practice import Practice

OK, ACT, BAD, FAILED = range(4)
ENDS = (".", "!", "?", ":", ";")  # of a sentence, or of a part of one
PROGRAM = "impression-stock"
LARGEST_NUMBER = 2**31 - 1  # of a visit, lot, document ... in either store
YEARS = range(1970, 2200)  # in which --today makes sense


class Parser(argparse.ArgumentParser):
    """An argument parser whose errors are one clear line and that guesses no shortened options."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **{"allow_abbrev": False, **options})

    def error(self, message: str) -> NoReturn:
        """Print what is wrong and how to get help; exit with 2."""
        complain(f"{message}. Try '{self.prog} --help'.")
        self.exit(BAD)


Run = Callable[["Context"], int]
if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[Parser]  # noqa: SLF001 - argparse names no public type for it


@dataclass
class Context(ExitStack):
    """The common options of one call, and how to get at the practice; closes what it opened."""

    args: argparse.Namespace
    settings: settings.Settings
    _practice: "Practice | None" = field(default=None, init=False)

    def __post_init__(self) -> None:
        super().__init__()

    @property
    def database(self) -> str:
        return getattr(self.args, "database", None) or self.settings.database or settings.default_store()

    @property
    def by(self) -> str:
        return getattr(self.args, "by", None) or self.settings.by

    @property
    def practice(self) -> "Practice":
        """The practice that the options name, opened once."""
        return self.open()

    def open(self, *, create: bool = False, address: str = "") -> "Practice":
        """Open the practice that the options name, unless it is open already.

        Args:
            create: whether an absent store may be created.
            address: another store than the options name.
        """
        from inventory.service import clock_check, opening  # noqa: PLC0415

        if self._practice is None:
            today = getattr(self.args, "today", None)
            self._practice = opening.open_practice(address or self.database, today=today, create=create)
            self.callback(self._let_go, self._practice)
            if said := clock_check.caution_of(self._practice):
                complain(f"Mind: {said}")
        return self._practice

    def _let_go(self, practice: "Practice") -> None:
        practice.store.close()
        self._practice = None

    @property
    def today(self) -> date:
        """The practice-local date, or the one that ``--today`` gives."""
        with self.practice.reading() as desk:
            return desk.today

    @property
    def order(self) -> "DateOrder":
        """How the practice reads 3/12."""
        from inventory.domain.dates import DateOrder  # noqa: PLC0415

        with self.practice.reading() as desk:
            return DateOrder.DAY_FIRST if desk.settings["day_first"] else DateOrder.MONTH_FIRST

    def typed_date(self, text: str, what: str) -> "TypedDate":
        """A date as people type it, read in the practice's order of day and month.

        Raises:
            BadInput: it can't be read.
        """
        from inventory.domain.dates import parse_date  # noqa: PLC0415

        return parse_date(text, self.today, self.order, what)

    def day(self, text: str | None, what: str) -> date | None:
        """The day that an option gives, None where it was left out."""
        return None if text is None else self.typed_date(text, what).day

    def slip(self) -> "Slip":
        """What every change of stock says beside the stock itself, from the options of `writing`."""
        from inventory.service.moving import Slip  # noqa: PLC0415

        args = self.args
        return Slip(
            request_key=request_key(args), by=self.by, on=self.day(getattr(args, "on", None), "--on"),
            reason=args.reason, proof=getattr(args, "proof", ""), confirmed=args.yes,
        )  # fmt: skip

    def show(self, shape: Shape, result: Any, lines: Iterable[str]) -> None:
        """Print a reading as plain lines, or in its documented shape where ``--json`` was given."""
        if getattr(self.args, "json", False):
            print(json.dumps(as_json(shape, result), indent=2))  # ASCII only: nothing in it can steer a terminal
            return
        say(*lines)


def say(*lines: str) -> None:
    """Print lines on standard output."""
    for line in lines:
        print(harmless(line))


def write_text(path: str, text: str, what: str) -> int:
    """Write a text into a new file, or print it where the path is ``-``; returns the exit status.

    Raises:
        BadInput: the file exists, or can't be written.
    """
    if path == "-":
        print("\n".join(map(harmless, text.split("\n"))) if sys.stdout.isatty() else text, end="")
        return OK
    return write_file(path, text.encode("utf-8"), what)


def write_file(path: str, content: bytes, what: str) -> int:
    """Write a new file and say so; returns the exit status.

    Raises:
        BadInput: the file exists, or can't be written.
    """
    try:
        with Path(path).open("xb") as file:
            file.write(content)
    except (OSError, ValueError) as error:
        said = (error.strerror if isinstance(error, OSError) else "") or "no file can have this name"
        raise BadInput(f"{what}: {path} can't be written: {said}.", "Name a file that is new.") from None
    say(f"Written to {path}.")
    return OK


def harmless(text: str) -> str:
    """A line without control characters, so that no text in the book can steer the terminal."""
    return "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)


def complain(message: str) -> None:
    """One line on standard error."""
    lines = filter(None, (" ".join(line.split()) for line in message.splitlines()))
    said = ""
    for line in lines:
        said += f"{'' if not said else ' ' if said.endswith(ENDS) else '; '}{line}"
    print(f"{PROGRAM}: {harmless(said)}", file=sys.stderr)


def complain_of(error: PracticeError) -> None:
    """What went wrong and what to do, in one line; in a file with faults one line for each."""
    if isinstance(error, RowErrors):
        for fault in error.errors:
            complain(str(fault))
        complain(error.todo or "Nothing was changed.")
        return
    todo = error.todo
    if isinstance(error, NeedsConfirmation):
        todo = f"{todo} Repeat it with --yes{' and --reason TEXT' if error.reason_needed else ''} to confirm."
    message = error.message.strip()
    stop = "" if message.endswith(ENDS) or not todo else "."
    complain(f"{message}{stop} {todo.strip()}")


def a_day(text: str) -> date:
    """The option ``--today``: one certain day, whatever day it is now."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date; write it as 2027-03-31") from None
    if day.year not in YEARS:
        raise argparse.ArgumentTypeError(f"{text!r} is not in the years {YEARS.start} to {YEARS.stop - 1}")
    return day


def a_number(text: str) -> int:
    """The number of a visit, document, stock ...; also a count of days or lines."""
    if not (text.isascii() and text.isdigit() and int(text[:12]) <= LARGEST_NUMBER and len(text) < 12):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number; type digits, e.g. 12")
    return int(text)


def an_address(text: str) -> str:
    """A store's address; signs that can't be seen are refused before any system call meets them."""
    if not text.strip() or not text.isprintable():
        raise argparse.ArgumentTypeError("the address is empty or holds characters that can't be seen")
    mind_password(text)
    return text


def mind_password(text: str) -> None:
    """Warn of a password in a command: whoever lists what runs on this computer reads it."""
    if settings.has_password(text):
        complain("Mind: whoever uses this computer can read a password in a command; the README says where to keep it.")


def common() -> Parser:
    """Options that every command takes, before or after its name."""
    options = Parser(add_help=False, argument_default=argparse.SUPPRESS)
    group = options.add_argument_group("common options")
    group.add_argument("--database", metavar="PATH-or-URL", type=an_address, help="the practice's store")
    group.add_argument("--today", metavar="YYYY-MM-DD", type=a_day, help="work as if it were this day")
    group.add_argument("--by", metavar="INITIALS", help="who does this, for commands that write")
    return options


def reading(parser: argparse.ArgumentParser) -> None:
    """Options of commands that only read."""
    parser.add_argument("--json", action="store_true", default=argparse.SUPPRESS, help="print JSON instead of text")


def writing(parser: argparse.ArgumentParser, *, reason: str = "why, in a few words") -> None:
    """Options of commands that write."""
    group = parser.add_argument_group("options of commands that write")
    group.add_argument(
        "--request-key", metavar="KEY", default="", help="the same key posts once, however often it is tried"
    )
    group.add_argument("--yes", action="store_true", help="confirm what is unusual")
    group.add_argument("--reason", metavar="TEXT", default="", help=reason)


def request_key(args: argparse.Namespace) -> str:
    """The key given, or a new one."""
    from uuid import uuid4  # noqa: PLC0415

    return args.request_key.strip() or uuid4().hex


def whole_number(text: str, what: str) -> int:
    """A whole number from 0 up.

    Raises:
        BadInput: it is none.
    """
    try:
        return a_number(text.strip())
    except argparse.ArgumentTypeError:
        raise BadInput(f"{what}: {text!r} is not a whole number.", "Type digits only.") from None


def number_of(count: int, one: str, many: str = "") -> str:
    """A number with its noun: ``1 lot``, ``3 lots``."""
    return f"{count} {one if count == 1 else many or one + 's'}"

"""What all commands share: the common options, opening the practice, printing text or JSON, exit statuses.

Exit status 0: nothing to act on; 1: something to act on; 2: bad usage or bad input; 3: the program or its store failed.
Services are imported inside the commands, so that ``--help`` costs little more than the argument parser.
"""

import argparse
import json
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from typing import TYPE_CHECKING, Any, NoReturn

from inventory import settings
from inventory.errors import BadInput

if TYPE_CHECKING:
    from inventory.service.practice import Practice

OK, ACT, BAD, FAILED = range(4)
PROGRAM = "impression-stock"


class Parser(argparse.ArgumentParser):
    """An argument parser whose errors are one clear line."""

    def error(self, message: str) -> NoReturn:
        """Print what is wrong and how to get help; exit with 2."""
        self.exit(BAD, f"{PROGRAM}: {message}. Try '{self.prog} --help'.\n")


@dataclass(frozen=True, slots=True)
class Context:
    """The common options of one call, and how to get at the practice."""

    args: argparse.Namespace
    settings: settings.Settings

    @property
    def database(self) -> str:
        return getattr(self.args, "database", None) or self.settings.database or settings.default_store()

    @property
    def by(self) -> str:
        return getattr(self.args, "by", None) or self.settings.by

    def practice(self, *, create: bool = False) -> "Practice":
        """Open the practice that the options name."""
        from inventory.service import opening  # noqa: PLC0415

        return opening.open_practice(self.database, today=getattr(self.args, "today", None), create=create)

    def show(self, result: Any, lines: Iterable[str]) -> None:
        """Print a reading as plain lines, or as JSON where ``--json`` was given."""
        if getattr(self.args, "json", False):
            print(json.dumps(as_data(result), ensure_ascii=False, indent=2))
            return
        for line in lines:
            print(harmless(line))


def as_data(value: Any) -> Any:
    """Results as JSON data: ISO dates and instants, words of closed sets, integers in minor units."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: as_data(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, dict):
        return {str(as_data(key)): as_data(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [as_data(item) for item in value]
    return str(value) if isinstance(value, Decimal) else value


def harmless(text: str) -> str:
    """A line without control characters, so that no text in the book can steer the terminal."""
    return "".join(sign if sign.isprintable() or sign == "\t" else "\N{REPLACEMENT CHARACTER}" for sign in text)


def a_day(text: str) -> date:
    """An option's date."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date; write it as 2027-03-31") from None


def common() -> argparse.ArgumentParser:
    """Options that every command takes, before or after its name."""
    options = argparse.ArgumentParser(add_help=False, argument_default=argparse.SUPPRESS)
    group = options.add_argument_group("common options")
    group.add_argument("--database", metavar="PATH-or-URL", help="the practice's store")
    group.add_argument("--today", metavar="YYYY-MM-DD", type=a_day, help="work as if it were this day")
    return options


def reading(parser: argparse.ArgumentParser) -> None:
    """Options of commands that only read."""
    parser.add_argument("--json", action="store_true", help="print JSON instead of text")


def writing(parser: argparse.ArgumentParser) -> None:
    """Options of commands that write."""
    parser.add_argument("--by", metavar="INITIALS", default=None, help="who does this")
    parser.add_argument(
        "--request-key", metavar="KEY", default=None, help="the same key posts once, however often tried"
    )
    parser.add_argument("--yes", action="store_true", help="confirm what is unusual")
    parser.add_argument("--reason", default="", help="why")


def request_key(args: argparse.Namespace) -> str:
    """The key given, or a new one."""
    from uuid import uuid4  # noqa: PLC0415

    return args.request_key or uuid4().hex


def number(text: str, what: str) -> int:
    """A whole number from text.

    Raises:
        BadInput: it is none.
    """
    try:
        return int(text)
    except ValueError:
        raise BadInput(f"{what}: {text!r} is not a whole number.", "Type digits only.") from None


Run = Callable[[Context], int]


def complain(message: str) -> None:
    """One line on standard error."""
    print(f"{PROGRAM}: {harmless(' '.join(message.split()))}", file=sys.stderr)

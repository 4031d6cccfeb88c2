"""The practice's calendar: planned visits out of one, last days of use and days of orders into another."""

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from inventory.errors import BadInput
from tui.commands import base, calendar_shapes, words

if TYPE_CHECKING:
    from inventory.service.calendar_in import CalendarRead

SUFFIX = ".ics"


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``calendar``."""
    calendar = commands.add_parser(
        "calendar", parents=[common], help="plan visits by the practice's calendar; days to mind as a calendar",
        description="Calendar files are iCalendar (.ics), which calendars export.",
    )  # fmt: skip
    verbs = calendar.add_subparsers(metavar="VERB", parser_class=base.Parser, required=True)
    taken = verbs.add_parser(
        "in", parents=[common], help="plan, change and cancel visits by a calendar file or a folder of them",
        description="Which events are visits is the setting calendar_kinds: a category or a text of the summary (* for "
        "anything) with a case kind, e.g. settings set calendar_kinds '{\"Reline*\": \"reline lower\"}'. A reference "
        "behind the word of calendar_reference (case) is taken, else a fresh one drawn. No text of an event is kept.",
    )  # fmt: skip
    taken.add_argument("path", metavar="PATH", help="an .ics file, or a folder with some")
    taken.add_argument("--dry-run", action="store_true", help="say what would be done, keep nothing")
    base.reading(taken)
    taken.set_defaults(run=_in)
    given = verbs.add_parser(
        "out", parents=[common], help="write last days of use and days of orders for the office calendar",
        description="An earlier file of the same kind is replaced; its events are changed, not doubled.",
    )  # fmt: skip
    given.add_argument("file", metavar="FILE", help="the .ics file to write")
    base.reading(given)
    given.set_defaults(run=_out)


def _in(context: base.Context) -> int:
    from inventory.service import calendar_in  # noqa: PLC0415

    files = _read(Path(context.args.path))
    done = calendar_in.read_calendar(context.practice, files, by=context.by, dry_run=context.args.dry_run)
    context.show(calendar_shapes.CALENDAR_IN, done, _told(done))
    return base.OK


def _read(path: Path) -> list[bytes]:
    """The content of a file, or of a folder's calendar files in the order of their names, which are not said."""
    try:
        if path.is_dir():
            names = sorted(each for each in path.iterdir() if each.suffix.lower() == SUFFIX)
            return [name.read_bytes() for name in names]
        return [path.read_bytes()]
    except OSError as error:
        raise BadInput(f"PATH can't be read: {error.strerror}.", "Check the name and its permissions.") from None


def _told(done: "CalendarRead") -> Iterator[str]:
    from inventory.service.calendar_in import Outcome  # noqa: PLC0415

    touched = (Outcome.PLANNED, Outcome.CHANGED, Outcome.CANCELLED)
    counts = ", ".join(f"{done.count(outcome)} {outcome.value}" for outcome in touched)
    yield (
        f"{'Would be done' if done.dry_run else 'Done'}: {base.number_of(done.events, 'event')} in "
        f"{base.number_of(done.files, 'file')}; visits: {counts}, {done.unchanged} unchanged"
    )
    yield f"{base.number_of(done.passed_over, 'event')} passed over, being no kind of visit"
    if done.past:
        yield f"{base.number_of(done.past, 'visit')} before today not planned"
    for one in done.visits:
        yield words.facts(
            "  visit" if done.dry_run and one.outcome is Outcome.PLANNED else f"  visit {one.visit_id}",
            one.on.isoformat(), f"case {one.case_ref}", one.case_kind, one.outcome.value, one.why or None,
        )  # fmt: skip
    if done.damaged:
        yield f"Mind: {base.number_of(done.damaged, 'event')} with lines that can't be read."


def _out(context: base.Context) -> int:
    from inventory.service import calendar_dates  # noqa: PLC0415

    path = Path(context.args.file)
    _may_be_written(path)
    days = calendar_dates.days(context.practice)
    _replace(path, calendar_dates.written(context.practice, days))
    lines = (f"{day.on.isoformat()} {day.title}" for day in days)
    title = f"{base.number_of(len(days), 'day')} written to {path}"
    context.show(
        calendar_shapes.CALENDAR_OUT, {"days": days}, words.titled(title, lines, f"No days; written to {path}.")
    )
    return base.OK


def _may_be_written(path: Path) -> None:
    """Refuse to write over a file that this command did not write."""
    from inventory.reports.calendar_out import MAKER  # noqa: PLC0415

    if path.suffix.lower() != SUFFIX:
        raise BadInput(f"{path} is no name of a calendar file.", f"Name one ending in {SUFFIX}.")
    try:
        with path.open("rb") as file:
            ours = MAKER.encode() in file.read(500)
    except FileNotFoundError:
        return
    except OSError as error:
        raise BadInput(f"{path} can't be written: {error.strerror}.", "Name another file.") from None
    if not ours:
        raise BadInput(f"There is another calendar in {path} already.", "Name another file.")


def _replace(path: Path, content: bytes) -> None:
    """Write a file whole or not at all: another program may read it at any moment."""
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with beside.open("xb") as file:
            file.write(content)
        beside.replace(path)
    except OSError as error:
        with suppress(OSError):
            beside.unlink()
        raise BadInput(f"{path} can't be written: {error.strerror}.", "Name another file.") from None

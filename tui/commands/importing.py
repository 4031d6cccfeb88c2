"""Bring in a practice's own files by command: all right or nothing, or the right rows and the others given back."""

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import IO, TYPE_CHECKING

from inventory.errors import BadInput
from tui.commands import base, shapes

if TYPE_CHECKING:
    from inventory.service.importing import Imported

DESCRIPTION = """A file holds one kind of thing; its first row names the columns. A good order:

  people, places, suppliers, tray_sizes, items, supplies, fits, opening_stock, orders,
  visits

'import template KIND' prints an empty file with its columns and an example. Every fault is said with its row and
column, and nothing is taken in unless all is right; with --partial the right rows are, and the others are written to a
file to be corrected.

Columns of foreign names: --columns "Article no=code, Remarks=-" says which of ours they are, - for none; it is
remembered for files of this kind with this header. Of a spreadsheet (.xlsx) the first sheet is read."""


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``import``."""
    parser = commands.add_parser(
        "import", parents=[common], help="bring in files (catalogue, stock, orders, visits ...), or print a template",
        description=DESCRIPTION, formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    parser.add_argument("kind", metavar="KIND", help="the kind of file, or 'template'")
    parser.add_argument(
        "file", metavar="FILE", help="a CSV or .xlsx file, - for standard input; behind 'template' a kind"
    )
    parser.add_argument("--dry-run", action="store_true", help="check and count everything, keep nothing")
    parser.add_argument("--partial", metavar="REJECTED", help="take in the right rows; write the others to this file")
    parser.add_argument("--columns", metavar="'THEIRS=OURS, ..'", default="", help="which of ours foreign columns are")
    parser.add_argument("--update", action="store_true", help="rows may change what is known already")
    base.reading(parser)
    parser.set_defaults(run=_import)


def _import(context: base.Context) -> int:
    from inventory.service import import_mapping, importing  # noqa: PLC0415

    args = context.args
    columns = import_mapping.typed(args.columns)
    if args.kind == "template":
        print(importing.template(args.file), end="")
        return base.OK
    data = _read(args.file)
    practice = context.practice
    rejected = _new_file(args.partial) if args.partial else None  # before anything is taken in
    try:
        imported = importing.import_file(
            practice, args.kind, data, by=context.by, partial=rejected is not None, dry_run=args.dry_run,
            update=args.update, columns=columns,
        )  # fmt: skip
        if rejected is not None and imported.rejected:
            rejected.write(importing.rejected_csv(imported))
    finally:
        if rejected is not None:
            rejected.close()
            if not Path(args.partial).stat().st_size:
                Path(args.partial).unlink()
    context.show(shapes.IMPORTED, imported, _told(imported, args.partial))
    return base.OK


def _read(name: str) -> bytes:
    try:
        return sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
    except OSError as error:
        raise BadInput(f"{name} can't be read: {error.strerror}.", "Check the file's name and permissions.") from None


def _new_file(name: str) -> IO[str]:
    """A file that was not there before, so that no file of a person's is written over."""
    try:
        return Path(name).open("x", encoding="utf-8", newline="")
    except OSError as error:
        raise BadInput(f"--partial: {name} can't be written: {error.strerror}.", "Name a file that is new.") from None


def _told(imported: "Imported", rejected_to: str | None) -> Iterator[str]:
    done = "Would be imported" if imported.dry_run else "Imported"
    yield (
        f"{done}: {base.number_of(imported.rows, 'row')} of {imported.kind}, {imported.added} added, "
        f"{imported.updated} changed, {len(imported.rejected)} rejected"
    )
    yield from (f"  column {one.theirs}: {one.ours if one.ours != '-' else 'left out'}" for one in imported.columns)
    for rejected in imported.rejected:
        yield from (f"  {fault}" for fault in rejected.faults)
    if imported.rejected:
        yield f"The rejected rows are in {rejected_to}: correct them and import that file."
    yield from (f"Mind: {warning}" for warning in imported.warnings)

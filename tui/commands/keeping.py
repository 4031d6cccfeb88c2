"""Keep the whole practice safe: backups, restores, exports, the move to another store, roles of a database server."""

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from inventory import settings
from inventory.errors import BadInput
from tui.commands import base, keeping_shapes

if TYPE_CHECKING:
    from inventory.service.backup import BackedUp
    from inventory.service.restoring import Restored

RESTORE = """\
FILE is a backup, or an export: a folder, .zip or .json. It is checked first, and brought up to date where an earlier
version wrote it. It is put into an empty place only: with --yes a file that is there already is kept beside it under
another name; a database that holds a practice stays as it is, so name an empty one."""


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``backup``, ``restore``, ``export`` and ``roles-script``."""
    backup = commands.add_parser(
        "backup", parents=[common], help="write a checked backup of the whole practice, while people work",
        description="A SQLite file, whichever database the practice uses; opened again and compared before an older "
        "one goes. Exit status 1 where the practice itself has faults: such a copy is kept apart, and none goes.",
    )  # fmt: skip
    backup.add_argument("--to", metavar="FOLDER", help="the folder of this practice's backups; beside your data")
    backup.add_argument("--keep", metavar="N", type=base.a_number, help="so many stay; 14")
    base.reading(backup)
    backup.set_defaults(run=_backup)
    restore = commands.add_parser(
        "restore", parents=[common], help="put a backup or an export into an empty place", description=RESTORE,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    restore.add_argument("file", metavar="FILE", help="the backup or export")
    restore.add_argument("--to", metavar="PATH-or-URL", type=base.an_address, required=True, help="where it goes")
    restore.add_argument("--yes", action="store_true", help="keep what is there under another name")
    base.reading(restore)
    restore.set_defaults(run=_restore)
    export = commands.add_parser(
        "export", parents=[common], help="write everything as CSV or JSON, for other programs; 'restore' reads it",
        description="A folder of CSV files, the same in a .zip, or one .json; by the name's ending.",
    )  # fmt: skip
    export.add_argument("path", metavar="PATH", help="a folder, .zip or .json that is not there yet")
    base.reading(export)
    export.set_defaults(run=_export)
    roles = commands.add_parser(
        "roles-script", parents=[common], help="print the SQL that makes least rights on a PostgreSQL database",
        description="Run it as the owner of the database: impression-stock roles-script | psql DATABASE",
    )  # fmt: skip
    roles.set_defaults(run=_roles)


def _backup(context: base.Context) -> int:
    from inventory.service import backup  # noqa: PLC0415

    args = context.args
    practice = context.practice
    folder = Path(args.to) if args.to else settings.data_folder() / "backups" / practice.store.name
    made = backup.back_up(practice, folder, keep=backup.KEEP if args.keep is None else args.keep)
    data = {"made": made, "file": str(made.path), "faults": len(made.verified.findings)}
    context.show(keeping_shapes.BACKUP, data, _backed_up(made))
    return base.OK if made.verified.clean else base.ACT


def _backed_up(made: "BackedUp") -> Iterator[str]:
    yield f"Backup: {made.path}, {base.number_of(made.rows, 'row')}, {-(-made.size // 1024)} kB"
    if made.verified.clean:
        yield "Checked: it is the same book, and nothing is wrong with it."
    else:
        faults = base.number_of(len(made.verified.findings), "fault")
        yield f"Mind: the practice itself has {faults}; 'verify' lists them. No older backup was removed."
    yield from (f"Removed: {name}" for name in made.removed)


def _restore(context: base.Context) -> int:
    from inventory.service import restoring  # noqa: PLC0415

    args = context.args
    restored = restoring.restore(Path(args.file), args.to, confirmed=args.yes)
    data = {"restored": restored, "kept": str(restored.kept) if restored.kept else None}
    context.show(keeping_shapes.RESTORED, data, _restored(restored, settings.shown_address(args.to)))
    return base.OK


def _restored(restored: "Restored", place: str) -> Iterator[str]:
    if restored.kept:
        yield f"What stood there is now {restored.kept}."
    yield f"Restored: {place}, {base.number_of(restored.rows, 'row')}. Nothing is wrong with it."


def _export(context: base.Context) -> int:
    from inventory.service import exporting  # noqa: PLC0415

    made = exporting.export(context.practice, Path(context.args.path))
    told = f"Exported: {made.path}, {base.number_of(made.rows, 'row')} of {base.number_of(len(made.tables), 'table')}"
    tables = [{"table": name, "rows": rows} for name, rows in made.tables.items()]
    context.show(keeping_shapes.EXPORTED, {"path": str(made.path), "rows": made.rows, "tables": tables}, (told,))
    return base.OK


def _roles(_: base.Context) -> int:
    from importlib.resources import files  # noqa: PLC0415

    print(files("inventory.store").joinpath("roles.sql").read_text(encoding="utf-8"), end="")
    return base.OK


def move_practice(context: base.Context) -> int:
    """`move --to URL` without stock: copy the whole practice to another store."""
    from inventory.service import whole_book  # noqa: PLC0415

    address = context.args.to
    if "://" not in address:
        raise BadInput(
            "move: no stock is named.",
            "Name what is carried; or, to move the whole practice, give --to a URL: postgresql://user@host/database.",
        )
    moved = whole_book.move(context.practice, address)
    shown = settings.shown_address(address)
    base.say(
        f"Copied to {shown}: {base.number_of(moved.rows, 'row')}, the same book, and nothing is wrong with it.",
        f"{settings.shown_address(context.database)} stays as it is. On every workstation now: "
        f"{base.PROGRAM} settings set database {shown}",
    )
    return base.OK

"""Everything in the book as CSV or JSON, for whoever wants to read it without this program; and back again, exactly.

Three forms of the same: a folder of CSV files, the same in a ``.zip``, or one ``.json``. Each says by ``about`` which
version of the tables it has and how many rows are in each, so that a part that got lost is noticed.
"""

import csv
import io
import json
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any
from zipfile import ZIP_DEFLATED, BadZipFile, ZipFile, is_zipfile

from inventory.errors import BadInput, NotAllowed, StoreUnreachable
from inventory.service.practice import Practice
from inventory.store import copying, exporting, files
from inventory.store.copying import Row, Table
from inventory.store.engine import Session, open_store
from inventory.store.schema import HEAD

FORMAT = "impression-stock export"
ABOUT = "about.json"
ENCODING = "utf-8-sig"  # with the mark that spreadsheets know UTF-8 by
LARGEST_CELL = 10_000_000


@dataclass(frozen=True, slots=True)
class Exported:
    """What was written: where, and the rows of each table."""

    path: Path
    tables: dict[str, int]

    @property
    def rows(self) -> int:
        return sum(self.tables.values())


def export(practice: Practice, path: Path) -> Exported:
    """Write everything as it is at this moment: ``.json``, ``.zip`` of CSV files, or a folder of them.

    Args:
        practice: the practice at work.
        path: must not be there yet.

    Raises:
        NotAllowed: there is something of that name.
        StoreUnreachable: it can't be written.
    """
    if path.exists():
        raise NotAllowed(f"{path} is there already.", "Name a new file or folder.")
    with practice.reading() as desk:
        copying.take_time(desk.session)
        if path.suffix.lower() in (".json", ".zip"):
            with files.in_the_making(path) as part:
                write = _write_json if path.suffix.lower() == ".json" else _write_zip
                counts = write(desk.session, part)
                files.finish(part, path)
            return Exported(path, counts)
        with files.folder_in_the_making(path) as part:
            counts = _write_csv(desk.session, lambda name: files.private_file(part / name))
            part.rename(path)
        return Exported(path, counts)


def is_export(path: Path) -> bool:
    """Whether a path looks like an export rather than a backup."""
    return path.is_dir() or path.suffix.lower() in (".json", ".zip")


def take_in(source: Path, store: Path) -> None:
    """Make a store of an export.

    Args:
        source: folder, ``.zip`` or ``.json``.
        store: a file that is empty.

    Raises:
        BadInput: it can't be read, is incomplete or of another version.
    """
    with _opened(source) as (about, rows_of), closing(open_store(str(store))) as target, target.writing() as session:
        _check_about(source, about)
        tables = copying.tables()
        counted: dict[str, int] = {}
        copying.fill(session, ((table, _counting(table, rows_of(table), counted)) for table in tables))
        for name, count in about["rows"].items():
            if counted.get(name) != count:
                raise BadInput(f"{name}: {counted.get(name, 0)} rows are there, {count} were exported.", _AGAIN)


_AGAIN = "Use a complete export."
_RowsOf = Callable[[Table], Iterator[Row]]


def _counting(table: Table, rows: Iterable[Row], counted: dict[str, int]) -> Iterator[Row]:
    counted[table.name] = 0
    for row in rows:
        counted[table.name] += 1
        yield row


def _check_about(source: Path, about: Any) -> None:
    if not isinstance(about, dict) or about.get("format") != FORMAT or not isinstance(about.get("rows"), dict):
        raise BadInput(f"{source} is no export of this program.", "Name a folder, .zip or .json that 'export' wrote.")
    if about.get("schema") != HEAD:
        raise BadInput(
            f"{source} has tables of version {about.get('schema')}; this program has {HEAD}.",
            "Take a backup of that version instead: it is brought up to date when it is restored.",
        )


def _about(counts: dict[str, int]) -> dict[str, Any]:
    return {"format": FORMAT, "schema": HEAD, "rows": counts}


# writing


def _write_csv(session: Session, opened: Callable[[str], IO[bytes]]) -> dict[str, int]:
    counts = {}
    for table in copying.tables():
        with opened(f"{table.name}.csv") as raw, io.TextIOWrapper(raw, ENCODING, newline="") as text:
            writer = csv.writer(text)
            writer.writerow(column.name for column in table.columns)
            counts[table.name] = 0
            for cells in exporting.as_cells(table, copying.rows_of(session, table)):
                writer.writerow(cells)
                counts[table.name] += 1
    with opened(ABOUT) as raw:
        raw.write(json.dumps(_about(counts), indent=1).encode())
    return counts


def _write_zip(session: Session, part: Path) -> dict[str, int]:
    with ZipFile(part, "w", ZIP_DEFLATED) as archive:
        return _write_csv(session, lambda name: archive.open(name, "w"))


def _write_json(session: Session, part: Path) -> dict[str, int]:
    """One row a line, so that the file can be read by people too and is never held in memory as a whole."""
    counts: dict[str, int] = {}
    with part.open("w", encoding="utf-8") as text:
        text.write('{"tables": {')
        for table in copying.tables():
            names = json.dumps([column.name for column in table.columns])
            text.write(f'{"," if counts else ""}\n"{table.name}": {{"columns": {names}, "rows": [')
            counts[table.name] = 0
            for values in exporting.as_values(table, copying.rows_of(session, table)):
                text.write(f"{',' if counts[table.name] else ''}\n{json.dumps(values, ensure_ascii=False)}")
                counts[table.name] += 1
            text.write("]}")
        text.write(f'\n}},\n"about": {json.dumps(_about(counts))}}}\n')
    return counts


# reading


@contextmanager
def _opened(source: Path) -> Iterator[tuple[Any, _RowsOf]]:
    """What an export says about itself, and how its rows are read."""
    try:
        if source.is_dir():
            yield _read_csv(lambda name: (source / name).open("rb"))
        elif is_zipfile(source):
            with ZipFile(source) as archive:
                yield _read_csv(archive.open)
        else:
            yield _read_json(source)
    except (FileNotFoundError, KeyError) as error:
        raise BadInput(f"{source}: a part of it is missing ({error.args[-1]}).", _AGAIN) from None
    except (ValueError, csv.Error, BadZipFile, EOFError) as error:  # ValueError: JSON or text that can't be read
        raise BadInput(f"{source} can't be read: {error}.", _AGAIN) from None
    except OSError as error:
        raise StoreUnreachable(f"{source} can't be read: {error.strerror}.", "Check its permissions.") from None


def _read_csv(opened: Callable[[str], IO[bytes]]) -> tuple[Any, _RowsOf]:
    csv.field_size_limit(LARGEST_CELL)
    with opened(ABOUT) as raw:
        about = json.loads(raw.read())

    def rows_of(table: Table) -> Iterator[Row]:
        with opened(f"{table.name}.csv") as raw, io.TextIOWrapper(raw, ENCODING, newline="") as text:
            reader = csv.reader(text, strict=True)
            yield from exporting.from_cells(table, next(reader, []), reader)

    return about, rows_of


def _read_json(source: Path) -> tuple[Any, _RowsOf]:
    whole = json.loads(source.read_text(encoding="utf-8"))
    if not isinstance(whole, dict) or not isinstance(whole.get("tables"), dict):
        return None, lambda _: iter(())

    def rows_of(table: Table) -> Iterator[Row]:
        content = whole["tables"][table.name]
        return exporting.from_values(table, content["columns"], content["rows"])

    return whole.get("about"), rows_of

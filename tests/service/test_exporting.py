"""Everything as CSV and JSON: read again it is the same book, and no spreadsheet finds a formula in it."""

import csv
import json
import stat
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import JSON, Boolean, Column, Date, Enum, Integer, Table

from inventory.domain.cells import FORMULA_SIGNS, marked, unmarked
from inventory.errors import BadInput, NotAllowed, StoreUnreachable
from inventory.service import exporting, restoring
from inventory.service.clock import Clock
from inventory.service.practice import Practice
from inventory.store import copying
from inventory.store import exporting as rows_as_text
from inventory.store.columns import UtcInstant
from inventory.store.engine import open_store
from tests.full_book import full_book
from tests.service.test_backup import book, book_at, names
from tests.shelves import Hands
from tests.stores import NewStores, SqliteFiles

FORMS = ("everything", "everything.zip", "everything.json")
LIKE_FORMULAS = st.text(st.sampled_from("'=+-@ \t\r\n\"a1;,")) | st.text()


@pytest.fixture
def full(new_stores: NewStores) -> Iterator[Practice]:
    """Give a practice with something in every table."""
    with closing(open_store(new_stores.make_from("full", full_book))) as store:
        yield Practice(store, Clock(Hands()))


def test_what_is_exported_from_either_store_is_the_same_book_in_either(
    full: Practice, new_stores: NewStores, tmp_path: Path
) -> None:
    made = exporting.export(full, tmp_path / "all.zip")
    address = new_stores.make_empty()
    assert restoring.restore(made.path, address).rows == made.rows
    assert book_at(address) == book(full.store)


@pytest.fixture
def filed(tmp_path: Path, sqlite_template: Path) -> Iterator[Practice]:
    """Give the same in a file, for what is the same whichever database it is."""
    (tmp_path / "live").mkdir()
    with closing(open_store(SqliteFiles(tmp_path / "live", sqlite_template).make_from("full", full_book))) as store:
        yield Practice(store, Clock(Hands()))


@pytest.mark.parametrize("form", FORMS)
def test_every_form_is_the_same_book_for_its_owner_alone(filed: Practice, tmp_path: Path, form: str) -> None:
    path = tmp_path / "out" / form
    made = exporting.export(filed, path)
    assert restoring.restore(path, str(tmp_path / "new.db")).rows == made.rows
    assert book_at(tmp_path / "new.db") == book(filed.store)
    assert names(path.parent) == [form]
    private = [path.parent, *([path, *path.iterdir()] if path.is_dir() else [path])]
    assert {stat.S_IMODE(one.stat().st_mode) & 0o077 for one in private} == {0}


def test_no_cell_of_an_export_is_taken_for_a_formula(filed: Practice, tmp_path: Path) -> None:
    exporting.export(filed, tmp_path / "out")
    texts = {column.name for table in copying.tables() for column in table.columns if is_text(column)}
    seen = 0
    for file in (tmp_path / "out").glob("*.csv"):
        with file.open(encoding="utf-8-sig", newline="") as opened:
            for row in csv.DictReader(opened):
                cells = [cell for name, cell in row.items() if name in texts]
                assert not any(cell.lstrip(" ").startswith(FORMULA_SIGNS) for cell in cells), (file.name, row)
                seen += sum(cell.startswith("'") for cell in cells)
    assert seen > 10


def is_text(column: Column[Any]) -> bool:
    return not isinstance(column.type, Integer | Boolean | Date | UtcInstant | Enum)


@given(LIKE_FORMULAS)
def test_a_marked_text_comes_back_as_it_was_and_is_no_formula(text: str) -> None:
    assert unmarked(marked(text)) == text
    assert not marked(text).lstrip(" ").startswith(FORMULA_SIGNS)


def values_of(column: Column[Any]) -> st.SearchStrategy[Any]:
    """Give any value that a column can have."""
    kind = column.type
    if isinstance(kind, Enum):
        value: st.SearchStrategy[Any] = st.sampled_from(list(kind.enum_class or ()))
    elif isinstance(kind, Boolean):
        value = st.booleans()
    elif isinstance(kind, Integer):
        value = st.integers(-(2**63), 2**63 - 1)
    elif isinstance(kind, UtcInstant):
        value = st.datetimes(timezones=st.just(UTC), min_value=datetime(1970, 1, 1))  # noqa: DTZ001 - of any zone
    elif isinstance(kind, Date):
        value = st.dates(date(1, 1, 1))
    elif isinstance(kind, JSON):
        value = st.recursive(
            st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | LIKE_FORMULAS,
            lambda part: st.lists(part, max_size=3) | st.dictionaries(st.text(), part, max_size=3),
            max_leaves=5,
        )
    else:
        value = LIKE_FORMULAS
    return value | st.none() if column.nullable and not isinstance(kind, JSON) else value


def rows_for(table: Table) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({column.name: values_of(column) for column in table.columns})


@given(st.data())
def test_any_row_of_any_table_comes_back_from_cells_and_from_json(data: st.DataObject) -> None:
    table = data.draw(st.sampled_from(copying.tables()))
    row = data.draw(rows_for(table))
    header = [column.name for column in table.columns]
    cells = list(rows_as_text.as_cells(table, [row]))
    assert list(rows_as_text.from_cells(table, header, cells)) == [row]
    values = json.loads(json.dumps(list(rows_as_text.as_values(table, [row]))))
    assert list(rows_as_text.from_values(table, header, values)) == [row]


def lose_a_row(folder: Path) -> None:
    kept = (folder / "movement.csv").read_bytes().splitlines(keepends=True)[:-1]
    (folder / "movement.csv").write_bytes(b"".join(kept))


def lose_a_table(folder: Path) -> None:
    (folder / "lot.csv").unlink()


def other_version(folder: Path) -> None:
    (folder / "about.json").write_text(json.dumps({"format": exporting.FORMAT, "schema": "0001", "rows": {}}))


def other_columns(folder: Path) -> None:
    text = (folder / "person.csv").read_text("utf-8-sig")
    (folder / "person.csv").write_text(text.replace("initials", "name"))


def a_word_we_do_not_know(folder: Path) -> None:
    text = (folder / "person.csv").read_text("utf-8-sig")
    (folder / "person.csv").write_text(text.replace("assistant", "owner"))


def not_about_us(folder: Path) -> None:
    (folder / "about.json").write_text("[]")


def cut_short(folder: Path) -> None:
    (folder / "about.json").write_text('{"format": ')


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lose_a_row, "movement: .* rows are there"),
        (lose_a_table, "missing"),
        (other_version, "version 0001"),
        (other_columns, "its columns"),
        (a_word_we_do_not_know, "person, row 2, column role: 'owner'"),
        (not_about_us, "no export"),
        (cut_short, "can't be read"),
    ],
)
def test_an_export_that_is_not_whole_is_refused(
    tmp_path: Path, full_export: Path, spoil: Callable[[Path], None], said: str
) -> None:
    spoil(full_export)
    with pytest.raises(BadInput, match=said):
        restoring.restore(full_export, str(tmp_path / "new.db"))
    assert not (tmp_path / "new.db").exists()


@pytest.fixture
def full_export(filed: Practice, tmp_path: Path) -> Path:
    return exporting.export(filed, tmp_path / "out").path


@pytest.mark.parametrize("content", [b"", b"{}", b"[1]", b"\xff", b'{"tables": {}, "about": 1}'])
@pytest.mark.parametrize("ending", [".json", ".zip"])
def test_what_is_no_export_is_refused(tmp_path: Path, content: bytes, ending: str) -> None:
    path = tmp_path / f"file{ending}"
    path.write_bytes(content)
    with pytest.raises(BadInput):
        restoring.restore(path, str(tmp_path / "new.db"))
    with ZipFile(path, "w") as archive:
        archive.writestr("letter.txt", "Dear practice")
    with pytest.raises(BadInput):
        restoring.restore(path, str(tmp_path / "new.db"))
    assert names(tmp_path) == [path.name]


def test_nothing_is_written_over_and_a_place_that_can_not_be_is_said_so(filed: Practice, tmp_path: Path) -> None:
    (tmp_path / "there").touch()
    with pytest.raises(NotAllowed, match="there already"):
        exporting.export(filed, tmp_path / "there")
    for form in FORMS:
        with pytest.raises(StoreUnreachable, match="can't be written"):
            exporting.export(filed, tmp_path / "there" / "below" / form)

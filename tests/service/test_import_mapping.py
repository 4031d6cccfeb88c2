"""Files of foreign column names, and spreadsheets: taken in by the same rules as our own CSV."""

import io
from datetime import date, datetime
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.errors import BadInput, RowErrors
from inventory.service import import_spreadsheet, setting_up
from inventory.service.import_mapping import fold, names, typed
from inventory.service.importing import Imported, import_file, rejected_csv
from inventory.service.practice import Practice
from tests.service.catalogue_samples import BY

FOREIGN = "Article No;Designation;Kind;Unit;Content;Viscosity;Colour\nL-9;Light 9;impression;mL;50;3;blue\n"
SAID = {"article no": "code", "Designation": "name", "Colour": "-"}
on_sqlite = pytest.mark.parametrize("new_stores", ["sqlite"], indirect=True)


@pytest.fixture
def practice(stocked: Practice) -> Practice:
    return stocked


def load(practice: Practice, kind: str, data: str | bytes, **options: Any) -> Imported:
    return import_file(practice, kind, data.encode() if isinstance(data, str) else data, by=BY, **options)


def spreadsheet(*rows: tuple[object, ...]) -> bytes:
    book = openpyxl.Workbook()
    sheet: Any = book.active
    for row in rows:
        sheet.append(row)
    book.create_sheet("other").append(["not", "read"])
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


# names


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Art=code, Text = name", {"Art": "code", "Text": "name"}),
        ('"Price, net=price",x=-', {"Price, net": "price", "x": "-"}),
        ("a=b=code", {"a=b": "code"}), ("", {}), (" , ", {}),
    ],
)  # fmt: skip
def test_what_a_person_says_of_columns(text: str, said: dict[str, str]) -> None:
    assert typed(text) == said


@pytest.mark.parametrize("text", ["code", "=code", "art=", "a=code,b"])
def test_what_says_nothing_of_a_column_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="columns"):
        typed(text)


def test_capitals_blanks_hyphens_and_underscores_are_of_no_account() -> None:
    assert names(["Lead-Days", "MINIMUM", "freefrom", "who"], ["lead_days", "minimum", "free_from"], {}) == [
        "lead_days", "minimum", "free_from", "who",
    ]  # fmt: skip


@settings(max_examples=50)
@given(st.text(max_size=20))
def test_a_folded_name_stays_as_it_is(name: str) -> None:
    assert fold(fold(name)) == fold(name)


def test_foreign_columns_are_said_once_and_remembered_for_this_header(practice: Practice) -> None:
    with pytest.raises(RowErrors) as refused:
        load(practice, "items", FOREIGN)
    told = {fault.column: fault.message for fault in refused.value.errors}
    assert set(told) == {"code", "name", "Article No", "Designation", "Colour"}
    assert "leave it out ('Colour=-')" in told["Colour"]
    assert load(practice, "items", FOREIGN, columns=SAID, dry_run=True).added == 1
    assert setting_up.practice_state(practice).settings["import_columns"] == {}
    first = load(practice, "items", FOREIGN, columns=SAID)
    assert [(one.theirs, one.ours) for one in first.columns] == [
        ("Article No", "code"), ("Designation", "name"), ("Colour", "-")
    ]  # fmt: skip
    again = load(practice, "items", FOREIGN.replace("L-9", "L-10").replace("Article No", "ARTICLE_NO"))
    assert (again.added, again.columns[0].ours) == (1, "code")
    with pytest.raises(RowErrors):
        load(practice, "items", FOREIGN.replace("Colour", "Hue"))  # another header


@on_sqlite
def test_a_fault_names_the_column_as_the_file_does_and_the_rejected_file_can_be_read_again(practice: Practice) -> None:
    two = FOREIGN.replace("Kind", "Sort") + "L-8;Light 8;stone;mL;50;3;red\n"
    done = load(practice, "items", two, columns={**SAID, "Sort": "kind"}, partial=True)
    ((fault,),) = [one.faults for one in done.rejected]
    assert (fault.row, fault.column) == (3, "Sort (kind)")
    back = rejected_csv(done)
    assert back.splitlines()[0] == "Article No;Designation;Sort;Unit;Content;Viscosity;Colour;fault"
    assert load(practice, "items", back.replace("stone", "impression")).added == 1


@on_sqlite
@pytest.mark.parametrize(
    ("said", "message"), [({"Shade": "-"}, "no column 'Shade'"), ({"Colour": "hue"}, "no column 'hue'"),
                          ({**SAID, "Colour": "name"}, "there twice")],
)  # fmt: skip
def test_what_is_said_of_other_columns_is_refused(practice: Practice, said: dict[str, str], message: str) -> None:
    with pytest.raises(BadInput, match=message):
        load(practice, "items", FOREIGN, columns=said)


@on_sqlite
@pytest.mark.parametrize("wrong", [3, {"crowns": {}}, {"items": 3}, {"items": {"a": 3}}, {"items": {"a": {"b": 3}}}])
def test_a_setting_of_columns_that_means_nothing_is_refused(practice: Practice, wrong: object) -> None:
    with pytest.raises(BadInput, match="import_columns"):
        setting_up.change_settings(practice, {"import_columns": wrong}, by=BY)


# spreadsheets


@on_sqlite
def test_a_spreadsheet_is_taken_in_like_a_text_file(practice: Practice) -> None:
    head = ("item", "place", "lot", "use_by", "units", "opened_on")
    good = ("LIGHT-A", "store room", 4711, date(2028, 5, 31), 3.0, None, None)
    formula = ("LIGHT-A", "store room", "B", "=DATE(2028;5;31)", 2.5)
    error = ("LIGHT-A", "#N/A", "C", date(2028, 5, 31), 1)
    with pytest.raises(RowErrors) as refused:
        load(practice, "opening_stock", spreadsheet(head, good, (), formula, error))
    assert [(fault.row, fault.column, fault.message) for fault in refused.value.errors] == [
        (4, "use_by", "it is a formula that was saved without its value"),
        (4, "units", refused.value.errors[1].message),
        (5, "place", "the spreadsheet shows an error there"),
    ]
    assert load(practice, "opening_stock", spreadsheet(head, good)).added == 1


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        (4006381333931.0, "4006381333931"), (0.1, "0.1"), (12.50, "12.5"), (1e21, "1" + 21 * "0"), (7, "7"),
        (0.1 + 0.2, "0.3"), (True, "yes"), ("0012", "0012"), (date(2028, 5, 31), "2028-05-31"),
        (datetime.fromisoformat("2028-05-31 08:30"), "2028-05-31T08:30:00"),
    ],
)  # fmt: skip
def test_a_cell_reads_as_a_person_would_type_it(cell: object, text: str) -> None:
    assert import_spreadsheet.rows(spreadsheet(("x", cell))) == [["x", text]]


WHOLE = spreadsheet(("code", "name"), ("A", "=1+1"))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, len(WHOLE) - 1), st.binary(min_size=1, max_size=6), st.booleans())
def test_a_damaged_spreadsheet_is_read_or_refused_clearly(place: int, put: bytes, cut: bool) -> None:
    data = WHOLE[:place] + put + (b"" if cut else WHOLE[place + len(put) :])
    try:
        found = import_spreadsheet.rows(data)
    except BadInput:
        return
    assert all(isinstance(cell, str) for row in found for cell in row)


@pytest.mark.parametrize("data", [b"PK\x03\x04nothing", b"\xd0\xcf\x11\xe0old", WHOLE[:400]], ids=["zip", "old", "cut"])
def test_what_is_no_spreadsheet_says_what_to_do(data: bytes) -> None:
    assert import_spreadsheet.is_spreadsheet(data)
    with pytest.raises(BadInput, match="save it as"):
        import_spreadsheet.rows(data)

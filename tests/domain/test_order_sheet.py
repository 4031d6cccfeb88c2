"""The order sheet: columns that stand in line, sums that add up, and no cell that a spreadsheet would reckon."""

import csv
import io
from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from inventory.domain.cells import FORMULA_SIGNS
from inventory.reports.order_sheet import HEAD, Sheet, SheetLine, as_csv, as_text

LINES = (
    SheetLine("N-1", "Heavy body", 3, 4, "cartridge", 5800, 17_400),
    SheetLine("=1+1", "@Tray; upper, M", 12, 10, "tray", 140, 1680),
)
SHEET = Sheet("O-0001", "Supplier North", date(2026, 3, 2), "MB", "EUR", False, LINES, 19_080, 900)


def test_the_text_stands_in_columns_and_its_sums_add_up() -> None:
    lines = as_text(SHEET).splitlines()
    head, first, second = lines[5:8]
    packs = head.index("Packs") + len("Packs")
    assert (first[packs - 2 : packs], second[packs - 2 : packs]) == (" 3", "12")
    assert {len(line) for line in (head, first, second)} == {len(head)}  # money ends in one column
    assert [line.split()[-1] for line in lines[9:12]] == ["190.80", "9.00", "199.80"]


def test_no_cell_of_the_csv_is_a_formula() -> None:
    head, *rows = csv.reader(io.StringIO(as_csv(SHEET)))
    assert tuple(head) == HEAD
    assert rows[1][1:3] == ["'=1+1", "'@Tray; upper, M"]
    assert rows[0][3:] == ["3", "4", "cartridge", "58.00", "174.00", "EUR"]


@given(st.text(max_size=12), st.text(max_size=12))
def test_whatever_an_article_is_called_its_cell_is_text(number: str, name: str) -> None:
    sheet = Sheet("O-1", "S", date(2026, 3, 2), "MB", "EUR", True, (SheetLine(number, name, 1, 1, "x", 1, 1),), 1, 0)
    *_, row = csv.reader(io.StringIO(as_csv(sheet), newline=""))
    assert not any(cell.lstrip(" ").startswith(FORMULA_SIGNS) for cell in row[:3])

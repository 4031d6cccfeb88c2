"""A notice for the file: the CSV says everything the PDF says, no cell is a formula, and no page is too full."""

import csv
import io
from dataclasses import replace
from datetime import UTC, date, datetime

from inventory.reports.notice_pdf import as_pdf
from inventory.reports.notice_sheet import (
    CAUTIONS,
    HEAD,
    CaseRow,
    LotRow,
    PlaceRow,
    ProofRow,
    Sheet,
    as_csv,
)

DAY = date(2026, 3, 2)
CASE = CaseRow("C-1", DAY, "Heavy body", "A1", "12.5 mL", False, "told", "AB", "by telephone")
SHEET = Sheet(
    reference="=N-1", facts=(("Date", "2026-03-02"),), text="Sets late.", lines=("HEAVY, lot A1",),
    lots=(LotRow("Heavy body", "A1", "2027-01 end", "named"),),
    places=(PlaceRow("Heavy body", "A1", "Set aside", "0", "50", "-50", "0", "0", "0", "mL"),),
    cases=(CASE, replace(CASE, case="", lot_read=True)), proofs=(ProofRow(DAY, "AB", "returned", "CN 7"),),
    notes=("compare the package",), left=("Answer the notice.",), made=datetime(2026, 3, 2, 9, tzinfo=UTC),
)  # fmt: skip


def test_the_csv_has_a_row_for_each_fact_and_no_formula() -> None:
    head, *rows = csv.reader(io.StringIO(as_csv(SHEET), newline=""))
    assert tuple(head) == HEAD
    assert {row[1] for row in rows} == {"'=N-1"}
    parts = [row[0] for row in rows if row[0] != "caution"]
    assert parts == [
        "notice", "text", "names", "lot", "place", "case", "use without a case", "entry", "to be looked at",
        "left to do",
    ]  # fmt: skip
    assert len(rows) == len(parts) + len(CAUTIONS)
    place = dict(zip(head, rows[4], strict=True))
    assert (place["set_aside"], place["there"], place["unit"]) == ("-50", "50", "mL")
    assert [dict(zip(head, row, strict=True))["lot_read"] for row in rows[5:7]] == ["assumed", "confirmed"]


def test_the_pdf_takes_as_many_pages_as_its_cases_need() -> None:
    short = as_pdf(SHEET)
    long = as_pdf(replace(SHEET, reference="N \N{SNOWMAN}", cases=(CASE,) * 120))
    assert short.startswith(b"%PDF")
    assert short.count(b"/Type /Page\n") == 1
    assert long.count(b"/Type /Page\n") > 2

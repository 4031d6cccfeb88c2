"""The record of a case: what was used of which lots, what went to the laboratory, whole as text and on one page."""

from dataclasses import replace
from typing import Any

import pypdfium2  # type: ignore[import-untyped]  # it has no types
import pytest

from inventory.domain.vocabulary import TrialOutcome
from inventory.errors import BadInput, NotAllowed, NotFound
from inventory.reports import case_record as report
from inventory.reports.case_record import CaseSheet, MaterialLine, VisitPart
from inventory.service import booking, case_record, holding, laboratory, laying_out, tracing
from inventory.service.booking import UsedTray
from tests.clinic import Clinic, as_expected
from tests.service.catalogue_samples import BY, NOW, TODAY


def booked(clinic: Clinic) -> booking.Booked:
    """A final impression with a retake of the upper wash, a tray tried in vain, and every lot assumed."""
    visit = clinic.plan("C-9")
    form = laying_out.form(clinic.practice, visit.visit_id, retakes=[("wash", _upper(clinic, visit.visit_id))])
    request = as_expected(form)
    tried = replace(request.trays[0], outcome=TrialOutcome.TRIED_THROWN)
    return clinic.post(replace(request, trays=(*request.trays, _other(tried))))


def _upper(clinic: Clinic, visit_id: int) -> Any:
    return next(line.arch for line in laying_out.form(clinic.practice, visit_id).lines if line.step == "wash")


def _other(tray: UsedTray) -> UsedTray:
    return replace(tray, need_id=None)


def test_the_record_says_materials_lots_trays_retakes_and_what_was_sent(clinic: Clinic) -> None:
    visit_id = booked(clinic).visit.visit_id
    laboratory.pack(clinic.practice, laboratory.Packing(visit_id, ("impressions", "bite")), by=BY)
    laboratory.send(clinic.practice, visit_id, "courier", by=BY)
    text = report.as_text(case_record.sheet(clinic.practice, "C-9"))
    for said in (
        "Record of case C-9", "lot LIGHT-A-1, use by 2028-06-30, assumed", "(attempt 2)",
        "Retakes: ", "tried, thrown away", "To the laboratory: impressions, bite", "by courier",
        "Pour by: no time is stated", "nobody has read it", "no patient names",
    ):  # fmt: skip
        assert said in text, said


def test_a_lot_recalled_since_is_marked_in_the_record(clinic: Clinic) -> None:
    booked(clinic)
    before = case_record.sheet(clinic.practice, "C-9")
    assert {line.mind for part in before.visits for line in part.lines} == {""}
    lot = next(use.lot_id for use in tracing.case_lots(clinic.practice, "C-9") if use.item_code == "LIGHT-A")
    holding.hold(clinic.practice, lot_id=lot, reason="notice", by=BY, recall="N-1")
    after = case_record.sheet(clinic.practice, "C-9")
    assert {line.mind for part in after.visits for line in part.lines if line.lot == "LIGHT-A-1"} == {"recalled since"}
    assert case_record.BLOCKED in after.cautions


def test_a_case_is_found_by_its_reference_and_a_visit_by_its_number(clinic: Clinic) -> None:
    visit = booked(clinic).visit
    assert case_record.meant(clinic.practice, " C-9 ") == case_record.Meant("C-9")
    assert case_record.meant(clinic.practice, f"visit:{visit.visit_id}") == case_record.Meant("C-9", visit.visit_id)
    assert case_record.meant(clinic.practice, str(visit.visit_id)).visit_id == visit.visit_id
    with pytest.raises(NotFound):
        case_record.meant(clinic.practice, "C-99")
    with pytest.raises(NotFound):
        case_record.sheet(clinic.practice, "C-99")
    planned = clinic.plan("C-10")
    with pytest.raises(NotAllowed, match="is booked out"):
        case_record.sheet(clinic.practice, "C-10", visit_id=planned.visit_id)
    with pytest.raises(BadInput):
        case_record.written(clinic.practice, "C-9", "doc")


def test_the_files_of_a_record_hold_what_it_says(clinic: Clinic) -> None:
    booked(clinic)
    assert case_record.written(clinic.practice, "C-9", "txt").startswith(b"Record of case C-9")
    (page,) = _pages(case_record.written(clinic.practice, "C-9", "pdf"))
    assert "LIGHT-A-1" in page
    assert "Left out" not in page


def _pages(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [" ".join(page.get_textpage().get_text_range().split()) for page in document]
    finally:
        document.close()


def long_case(visits: int, lines: int, words: str) -> CaseSheet:
    line = MaterialLine("Wash upper", words, "12.5 mL", "L-1", "2028-06-30", "read", "")
    facts = (("Trays", words), ("To the laboratory", words * 20))
    part = VisitPart(1, TODAY, f"{TODAY}  {words}", "visit 1", (line,) * lines, facts)
    return CaseSheet("C-9", NOW, (part,) * visits, ("A caution.",))


@pytest.mark.parametrize(
    ("words", "visits", "lines"),
    [("Light body", 1, 12), ("Light body", 12, 9), ("W" * 120, 3, 8), ("W" * 120, 1, 120)],
    ids=["short", "many visits", "long words", "one long visit"],
)
def test_the_record_stays_one_page_however_long_the_case_is(visits: int, lines: int, words: str) -> None:
    sheet = long_case(visits, lines, words)
    (page,) = _pages(report.as_pdf(sheet))
    whole = page.count("L-1") == visits * lines
    assert ("Left out to keep one page" in page) is not whole
    assert "A caution." in page
    assert report.as_text(sheet).count("lot L-1") == visits * lines

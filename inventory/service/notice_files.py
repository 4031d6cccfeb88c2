"""A recall notice for the file: as PDF to print, as CSV; the program writes them, nothing is sent."""

from collections.abc import Iterator
from datetime import date

from inventory.domain.notices import Match
from inventory.domain.quantity import SIGNS, show
from inventory.domain.recall_work import CLASS_WORDS
from inventory.domain.vocabulary import BaseUnit, ContactStatus, UseByReading
from inventory.errors import BadInput
from inventory.reports import notice_pdf, notice_sheet
from inventory.reports.notice_sheet import CaseRow, LotRow, PlaceRow, ProofRow, Sheet
from inventory.service import notice_work
from inventory.service.notice_work import CaseWork, LotWork, NoticeHead, Worklist
from inventory.service.practice import Practice
from inventory.service.tracing import CaseUse

FORMATS = ("csv", "pdf")
NAMED = {Match.SURE: "named", Match.PERHAPS: "perhaps named", Match.NO: "put on hold by hand"}
STATUS = {
    ContactStatus.OPEN: "open",
    ContactStatus.TOLD: "told",
    ContactStatus.NOT_REACHED: "not reached",
    ContactStatus.NOT_NEEDED: "not needed",
}


def sheet(practice: Practice, reference: str) -> Sheet:
    """A notice as it is filed.

    Raises:
        NotFound: no such notice.
    """
    work = notice_work.worklist(practice, reference)
    with practice.reading() as desk:
        made = desk.now.astimezone(desk.zone)
    return Sheet(
        reference=work.head.reference,
        facts=tuple(_facts(work.head)),
        text=work.head.text,
        lines=tuple(
            f"{line.words}{f' (withdrawn {line.withdrawn_on})' if line.withdrawn_on else ''}" for line in work.lines
        ),
        lots=tuple(_lot(lot) for lot in work.lots),
        places=tuple(row for lot in work.lots for row in _places(lot)),
        cases=tuple(_cases(work)),
        proofs=tuple(ProofRow(one.on, one.by, one.words, one.proof) for one in work.proofs),
        notes=work.cautions,
        left=work.left,
        made=made,
    )


def written(practice: Practice, reference: str, kind: str) -> bytes:
    """A notice as a file's content.

    Args:
        practice: the practice at work.
        reference: of the notice.
        kind: one of `FORMATS`, as the ending of a file's name.

    Raises:
        NotFound: no such notice.
        BadInput: there is no such format.
    """
    if kind not in FORMATS:
        raise BadInput(f"A notice can't be written as {kind!r}.", f"Name a file ending in {' or '.join(FORMATS)}.")
    found = sheet(practice, reference)
    return notice_pdf.as_pdf(found) if kind == "pdf" else notice_sheet.as_csv(found).encode("utf-8")


def _facts(head: NoticeHead) -> Iterator[tuple[str, str]]:
    yield "Date", head.on.isoformat()
    yield "Class", CLASS_WORDS[head.notice_class]
    if head.answer_by is not None:
        yield "Answer by", head.answer_by.isoformat()
    if head.answered_on is not None:
        yield "Answered", f"{head.answered_on.isoformat()}: {head.answer_proof}"
    yield "State", "closed" if head.closed else "open"


def _lot(lot: LotWork) -> LotRow:
    named = NAMED[lot.match] if lot.released is None else f"not concerned: {lot.released}"
    return LotRow(lot.item_name, lot.number, use_by(lot.use_by, lot.use_by_read), named)


def use_by(on: date | None, read: UseByReading) -> str:
    """A use-by date as a table shows it."""
    if on is None:
        return "not read" if read is UseByReading.NOT_READ else "none stated"
    return f"{on:%Y-%m} end" if read is UseByReading.MONTH else on.isoformat()


def _places(lot: LotWork) -> Iterator[PlaceRow]:
    for one in lot.places:
        yield PlaceRow(
            item=lot.item_name, lot=lot.number, place=one.place, was=_plain(one.was, lot.base),
            there=_plain(one.there, lot.base), set_aside=_plain(one.set_aside, lot.base),
            missing=_plain(one.missing, lot.base), returned=_plain(one.returned, lot.base),
            destroyed=_plain(one.destroyed, lot.base), unit=SIGNS[lot.base],
        )  # fmt: skip


def _plain(qty: int, base: BaseUnit) -> str:
    return show(qty, base).split(" ")[0]


def _cases(work: Worklist) -> Iterator[CaseRow]:
    for case in work.cases:
        for use in case.uses:
            yield _used(case, use)
        if not case.uses:
            yield CaseRow(
                case.case_ref, None, "", "", "booking undone", True, STATUS[case.status], _by(case), case.note
            )
    for use in work.without_case:
        yield CaseRow(
            "",
            use.on,
            use.item_name,
            use.lot_number,
            show(use.qty, use.base),
            use.lot_confirmed,
            "",
            use.by,
            "without a visit",
        )


def _used(case: CaseWork, use: CaseUse) -> CaseRow:
    return CaseRow(
        case.case_ref, use.on, use.item_name, use.lot_number, show(use.qty, use.base), use.lot_confirmed,
        STATUS[case.status], _by(case), case.note,
    )  # fmt: skip


def _by(case: CaseWork) -> str:
    return case.told_by or ""

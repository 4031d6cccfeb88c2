"""Recall notices: enter one, add or withdraw what it names, note who was told and what was answered, close it.

Entering a notice and holding what it names is one unit of work, at every place and for lots with nothing left too,
since their cases matter. Nothing is deleted: a line that was wrong is withdrawn, and the lots that it alone named are
released with the reason. A notice is closed only when nothing of it is left to do; it says what is.

`notice_work` reads, `notice_deeds` moves stock for a notice, `recalling` holds later lots against it.
"""

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime

from inventory.domain.labels.reading import read_label
from inventory.domain.notices import Match, ScopeLine, line_names, named, written
from inventory.domain.vocabulary import ContactStatus, NoticeClass
from inventory.domain.words import clean
from inventory.errors import AlreadyDone, BadInput, NotAllowed, NotFound
from inventory.service import holding, notice_work, recalling
from inventory.service.lots import MAKING_LOTS
from inventory.service.notice_work import Worklist, found
from inventory.service.practice import Desk, Practice
from inventory.store.queries import catalogue
from inventory.store.queries import notices as query
from inventory.store.queries.receiving import one_at_a_time
from inventory.store.tables import Notice, NoticeCase, NoticeScope

TELL = "No patient names: case references only."


@dataclass(frozen=True, slots=True)
class ScopeDraft:
    """One line of what a notice names; what is empty does not matter.

    Attributes:
        item: code of the article as the practice calls it.
        code: the maker's code: catalogue number, GTIN or HIBC, also as scanned.
        lot_from: a lot number, or the first of a range.
        lot_to: the last of the range.
        received_from, received_to: the first and the last day on which it came; either may be open.
    """

    item: str = ""
    code: str = ""
    lot_from: str = ""
    lot_to: str = ""
    received_from: date | None = None
    received_to: date | None = None


@dataclass(frozen=True, slots=True)
class NoticeDraft:
    """A notice as it came; ``answer_by`` where an answer is asked for. No patient names in the text."""

    reference: str
    on: date
    lines: tuple[ScopeDraft, ...]
    notice_class: NoticeClass = NoticeClass.NONE
    text: str = ""
    answer_by: date | None = None


def enter(practice: Practice, draft: NoticeDraft, *, by: str) -> Worklist:
    """Take in a notice and put on hold, at once and at every place, what it names, or perhaps names.

    A notice that was noted only by its reference, when a lot was put on hold for it, is completed.

    Raises:
        BadInput: every field that can't be, by its name.
        NotFound: unknown item or initials.
        AlreadyDone: a notice of this reference was entered before; nothing was changed.
    """
    reference = clean(draft.reference, "reference", 80)
    with practice.writing() as desk:
        person_id = desk.person(by)
        one_at_a_time(desk.session, MAKING_LOTS)
        _check_days(desk, draft)
        if not draft.lines:
            raise BadInput("lines: the notice names nothing.", "Give an item, a code or a lot.")
        notice = _new(desk, person_id, reference)
        _set(desk, person_id, notice, _fields(draft))
        _name(desk, person_id, notice, draft.lines)
        return notice_work.of(desk, notice)


def add_line(practice: Practice, reference: str, line: ScopeDraft, *, by: str) -> Worklist:
    """Add a line to what a notice names, and put on hold what it names; a closed notice is then open again.

    Raises:
        BadInput, NotFound: as `enter`; or no such notice.
        AlreadyDone: the notice has this line.
    """
    with practice.writing() as desk:
        person_id = desk.person(by)
        one_at_a_time(desk.session, MAKING_LOTS)
        notice = found(desk, reference, lock=True)
        holding.open_again(desk, person_id, notice, "a line was added")
        _name(desk, person_id, notice, (line,))
        return notice_work.of(desk, notice)


def withdraw_line(practice: Practice, reference: str, line_id: int, *, reason: str, by: str) -> Worklist:
    """Withdraw a line that was wrong; lots that no other line names are released.

    Raises:
        BadInput: no reason, or unknown initials.
        NotFound: no such notice or line.
        AlreadyDone: it was withdrawn before.
    """
    reason = clean(reason, "reason", 500)
    with practice.writing() as desk:
        person_id = desk.person(by)
        one_at_a_time(desk.session, MAKING_LOTS)
        notice = found(desk, reference, lock=True)
        rows = query.scope(desk.session, [notice.id or 0])
        row = next((one for one in rows if one.id == line_id), None)
        if row is None:
            raise NotFound(f"Notice {notice.reference} has no line {line_id}.", "Look at what it names.")
        if row.withdrawn_at is not None:
            raise AlreadyDone(f"Line {line_id} was withdrawn before.", "Nothing more to do.")
        row.withdrawn_at = desk.now
        desk.log_change(person_id, "notice", notice.id, {f"line {line_id}": ("named", "withdrawn")}, reason)
        _release_unnamed(desk, person_id, notice, rows, withdrawn=row, reason=reason)
        return notice_work.of(desk, notice)


def change(
    practice: Practice,
    reference: str,
    *,
    by: str,
    reason: str,
    notice_class: NoticeClass | None = None,
    text: str | None = None,
    answer_by: date | None = None,
) -> Worklist:
    """Put right a notice's class, text or the day an answer is due; what is None stays.

    Raises:
        BadInput: no reason, a text too long, a day that can't be, or unknown initials.
        NotFound: no such notice.
    """
    reason = clean(reason, "reason", 500)
    with practice.writing() as desk:
        person_id = desk.person(by)
        notice = found(desk, reference, lock=True)
        _check_answer(answer_by, notice.notice_on)
        fields: dict[str, object] = {
            "notice_class": notice_class,
            "text": None if text is None else clean(text, "text", 4000, needed=False),
            "answer_by": answer_by,
        }
        _set(desk, person_id, notice, {name: value for name, value in fields.items() if value is not None}, reason)
        return notice_work.of(desk, notice)


def tell(
    practice: Practice, reference: str, case_ref: str, status: ContactStatus, *, by: str, note: str = ""
) -> Worklist:
    """Note how far the patient of a case was told, or that it is not needed, and why; no names.

    Raises:
        BadInput: a note too long, or unknown initials.
        NotFound: no such notice, or the case used no lot of it.
    """
    note = clean(note, "note", 500, needed=False)
    with practice.writing() as desk:
        person_id = desk.person(by)
        notice = found(desk, reference, lock=True)
        work = notice_work.of(desk, notice)
        case = next((one for one in work.cases if written(one.case_ref) == written(case_ref)), None)
        if case is None:
            raise NotFound(
                f"Case {case_ref.strip()!r} used no lot of notice {notice.reference}.", "Look at the list of cases."
            )
        row = query.contact_row(desk.session, notice.id or 0, case.case_ref)
        if row is None:
            row = NoticeCase(notice_id=notice.id or 0, case_ref=case.case_ref, at=desk.now, person_id=person_id)
            desk.session.add(row)
        row.status, row.note, row.at, row.person_id = status, note, desk.now, person_id
        desk.session.flush()
        changes: dict[str, tuple[object, object]] = {f"case {case.case_ref}"[:80]: (case.status, status)}
        desk.log_change(person_id, "notice", notice.id, changes, note)
        return notice_work.of(desk, notice)


def answer(practice: Practice, reference: str, *, proof: str, by: str, on: date | None = None) -> Worklist:
    """Note that the sender of the notice was answered, and what proves it.

    Args:
        practice: the practice at work.
        reference: of the notice.
        proof: what proves it: the reply form's number, the day and hour of an e-mail.
        by: initials.
        on: the day it was sent; None: today.

    Raises:
        BadInput: no proof, a day to come or before the notice, or unknown initials.
        NotFound: no such notice.
    """
    proof = clean(proof, "proof", 200)
    with practice.writing() as desk:
        person_id = desk.person(by)
        notice = found(desk, reference, lock=True)
        on = on or desk.today
        if not notice.notice_on <= on <= desk.today:
            raise BadInput(f"date: {on} is no day from the notice until today.", "Give the day it was sent.")
        _set(desk, person_id, notice, {"answered_at": desk.moment(on), "answer_proof": proof})
        return notice_work.of(desk, notice)


def close(practice: Practice, reference: str, *, by: str) -> Worklist:
    """Close a notice of which nothing is left to do; its lots stay on hold for good.

    Raises:
        NotFound: no such notice, or unknown initials.
        NotAllowed: something is left; the message says what.
        AlreadyDone: it is closed.
    """
    with practice.writing() as desk:
        person_id = desk.person(by)
        one_at_a_time(desk.session, MAKING_LOTS)
        notice = found(desk, reference, lock=True)
        if notice.state == "closed":
            raise AlreadyDone(f"Notice {notice.reference} is closed.", "Nothing more to do.")
        if left := notice_work.of(desk, notice).left:
            raise NotAllowed(f"Notice {notice.reference} can't be closed yet. {' '.join(left)}", "Do that first.")
        _set(desk, person_id, notice, {"state": "closed"})
        return notice_work.of(desk, notice)


def reopen(practice: Practice, reference: str, *, reason: str, by: str) -> Worklist:
    """Open a closed notice again.

    Raises:
        BadInput: no reason, or unknown initials.
        NotFound: no such notice.
        AlreadyDone: it is open.
    """
    reason = clean(reason, "reason", 500)
    with practice.writing() as desk:
        person_id = desk.person(by)
        notice = found(desk, reference, lock=True)
        if notice.state == "open":
            raise AlreadyDone(f"Notice {notice.reference} is open.", "Nothing more to do.")
        holding.open_again(desk, person_id, notice, reason)
        return notice_work.of(desk, notice)


def _check_days(desk: Desk, draft: NoticeDraft) -> None:
    if draft.on > desk.today:
        raise BadInput(f"date: {draft.on} is still to come.", "Give the date of the notice.")
    _check_answer(draft.answer_by, draft.on)


def _check_answer(answer_by: date | None, on: date) -> None:
    if answer_by is not None and answer_by < on:
        raise BadInput(f"answer by: {answer_by} is before the notice, {on}.", "Look at the notice again.")


def _new(desk: Desk, person_id: int, reference: str) -> Notice:
    """A new notice, or one that was so far noted by its reference alone."""
    notice = query.by_reference(desk.session, reference, lock=True)
    if notice is None:
        notice = Notice(reference=reference, notice_on=desk.today)
        desk.add(notice)
        desk.log_change(person_id, "notice", notice.id, {"reference": (None, reference)})
    elif query.scope(desk.session, [notice.id or 0]):
        raise AlreadyDone(
            f"Notice {notice.reference} was entered already, dated {notice.notice_on}.",
            "Open it in the list of recalls.",
        )
    return notice


def _fields(draft: NoticeDraft) -> dict[str, object]:
    return {
        "notice_on": draft.on,
        "notice_class": draft.notice_class,
        "text": clean(draft.text, "text", 4000, needed=False),
        "answer_by": draft.answer_by,
    }


def _set(desk: Desk, person_id: int, notice: Notice, fields: Mapping[str, object], reason: str = "") -> None:
    changes = {name: (_logged(desk, getattr(notice, name)), _logged(desk, value)) for name, value in fields.items()}
    desk.log_change(person_id, "notice", notice.id, changes, reason)
    for name, value in fields.items():
        setattr(notice, name, value)
    desk.session.flush()


def _logged(desk: Desk, value: object) -> object:
    """A value as the log of changes has it: moments to the minute, in the practice's own time."""
    return f"{value.astimezone(desk.zone):%Y-%m-%d %H:%M}" if isinstance(value, datetime) else value


def _name(desk: Desk, person_id: int, notice: Notice, drafts: tuple[ScopeDraft, ...]) -> None:
    """Write the lines, and put on hold what the notice names now."""
    number = notice.id or 0
    there = [_said(row) for row in query.scope(desk.session, [number]) if row.withdrawn_at is None]
    rows = []
    for place, draft in enumerate(drafts, 1):
        row = _row(desk, number, draft, f"line {place}" if len(drafts) > 1 else "line")
        if _said(row) in there:
            if len(drafts) > 1:
                continue
            raise AlreadyDone(f"Notice {notice.reference} has this line already.", "Nothing more to do.")
        there.append(_said(row))
        desk.add(row)
        desk.log_change(person_id, "notice", number, {f"line {row.id}": (None, "named")})
        rows.append(row)
    lines = list(recalling.resolved(desk, rows).values())
    facts = query.facts(desk.session, recalling.candidates(desk, lines))
    matches = {lot_id: match for lot_id, one in facts.items() if (match := named(lines, one)) is not Match.NO}
    recalling.hold_for(desk, person_id, notice, matches, query.memberships(desk.session, notice_ids=[number]))


def _said(row: NoticeScope) -> tuple[object, ...]:
    return (row.item_id, row.code, row.lot_from, row.lot_to, row.received_from, row.received_to)


def _row(desk: Desk, notice_id: int, draft: ScopeDraft, where: str) -> NoticeScope:
    """A line fit to be kept.

    Raises:
        BadInput: it names nothing, or what it says can't be.
        NotFound: no such item.
    """
    if fault := next(_faults(draft), ""):
        raise BadInput(f"{where}: {fault}.", "Say what the notice names: an item or a code, a lot or a range, or days.")
    item_id = None
    if draft.item.strip():
        item = catalogue.item_by_code(desk.session, draft.item.strip().upper())
        if item is None:
            raise NotFound(f"{where}: there is no item {draft.item.strip()!r}.", "Look it up in the list of items.")
        item_id = item.id
    lot_from, lot_to = (
        clean(text, f"{where}, lot", 60, needed=False) or None for text in (draft.lot_from, draft.lot_to)
    )
    return NoticeScope(
        notice_id=notice_id, item_id=item_id, code=_code(desk, draft.code, where), lot_from=lot_from,
        lot_to=None if lot_to == lot_from else lot_to, received_from=draft.received_from,
        received_to=draft.received_to,
    )  # fmt: skip


def _faults(draft: ScopeDraft) -> Iterator[str]:
    article = draft.item.strip() or draft.code.strip()
    first, last = draft.lot_from.strip(), draft.lot_to.strip()
    if not article and not first:
        yield "it names neither an item nor a lot"
    if last and not first:
        yield "a range of lots has a first one"
    if last and last != first and not article:
        yield "a range of lots belongs to an item"
    if draft.received_from and draft.received_to and draft.received_to < draft.received_from:
        yield f"{draft.received_to} is before {draft.received_from}"


def _code(desk: Desk, text: str, where: str) -> str | None:
    """A code as it is kept: what names the article in a scanned label, else what was typed."""
    code = clean(text.replace("\x1d", " "), f"{where}, code", 200, needed=False)
    if code and not code.isalnum():
        with suppress(BadInput):  # a catalogue number is no label
            code = read_label(text.strip(), desk.today).code or code
    return clean(code, f"{where}, code", 80, needed=False) or None


def _release_unnamed(
    desk: Desk, person_id: int, notice: Notice, rows: list[NoticeScope], *, withdrawn: NoticeScope, reason: str
) -> None:
    """Release the lots that a withdrawn line named and no other line of the notice does."""
    lines = recalling.resolved(desk, rows)
    gone = lines[withdrawn.id or 0]
    rest: list[ScopeLine] = [lines[row.id or 0] for row in rows if row.withdrawn_at is None]
    members = {one.lot_id for one in query.memberships(desk.session, notice_ids=[notice.id or 0])}
    facts = query.facts(desk.session, members)
    free = [
        lot_id
        for lot_id, one in facts.items()
        if line_names(gone, one) is not Match.NO and named(rest, one) is Match.NO
    ]
    holds = query.open_holds_of(desk.session, notice.id or 0, free)
    holding.let_go(desk, person_id, holds, f"line withdrawn: {reason}"[:500])

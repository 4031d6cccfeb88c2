"""Recall notices by command: enter one, work it off lot by lot and case by case, close it and print it."""

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from inventory.domain.quantity import show
from inventory.errors import BadInput
from tui.commands import base, finding, notice_shapes, stock, words

if TYPE_CHECKING:
    from inventory.service.notice_work import CaseWork, LotWork, NoticeCard, NoticeHead, Worklist
    from inventory.service.notices import ScopeDraft

CLASSES = ("I", "II", "III", "none")
STATUSES = {"told": "told", "not-reached": "not_reached", "not-needed": "not_needed", "open": "open"}
LINE = """A LINE says what the notice names, its parts divided by semicolons, each a name and a value:
  item (the practice's code), code (catalogue number, GTIN or HIBC, also as scanned), lot (or the first of a range),
  to (the last of the range), since and until (days between which it was received)
e.g. "item=LIGHT-50; lot=A0120; to=A0199" or "code=09506000134352; since=2027-01-01; until=2027-03-31"."""
REF_HELP = "the notice's reference"
NO_NAMES = "no patient names"


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``notice`` with its verbs."""
    notice = commands.add_parser(
        "notice", parents=[common], help="recall notices: what they name, what became of it, who was told",
        description="What a notice names is put on hold at once, also lots that come later; nothing closes while stock "
        "stands anywhere, a case is open or an answer is due. Recalled material is not used.",
    )  # fmt: skip
    verbs = notice.add_subparsers(metavar="VERB", parser_class=base.Parser, required=True, dest="verb")
    _reading(verbs, common)
    _scoping(verbs, common)
    _moving(verbs, common)
    _settling(verbs, common)


def _reading(verbs: "base.Commands", common: base.Parser) -> None:
    listing = verbs.add_parser("list", parents=[common], help="all notices, open ones first, with what is left to do")
    listing.add_argument("--open", action="store_true", help="open ones only")
    base.reading(listing)
    listing.set_defaults(run=_list)
    shown = _verb(verbs, common, "show", "its lots with what stands where, its cases, its proofs, what is left")
    base.reading(shown)
    shown.set_defaults(run=_show)
    printed = _verb(verbs, common, "print", "write it into a file for the records")
    printed.add_argument("--out", metavar="FILE", required=True, help="a new file; its ending says which: .pdf or .csv")
    printed.set_defaults(run=_print)


def _scoping(verbs: "base.Commands", common: base.Parser) -> None:
    enter = _verb(verbs, common, "enter", "enter a notice; what it names is put on hold at once", more=LINE)
    enter.add_argument("lines", metavar="LINE", nargs="+", help="what it names, as above")
    enter.add_argument("--dated", metavar="DAY", help="the notice's own date, if not today")
    _facts(enter)
    enter.set_defaults(run=_enter)
    scope = _verb(verbs, common, "scope", "add a line to what it names, or withdraw one", more=LINE)
    scope.add_argument("lines", metavar="LINE", nargs="*", help="what it names too, as above")
    scope.add_argument("--withdraw", metavar="N", type=base.a_number, help="the line of this number was wrong")
    scope.add_argument("--reason", metavar="TEXT", default="", help="why it is withdrawn")
    scope.set_defaults(run=_scope)
    change = _verb(verbs, common, "change", "put right its class, its text or the day of the answer")
    _facts(change)
    change.add_argument("--reason", metavar="TEXT", required=True, help="why, in a few words")
    change.set_defaults(run=_change)


def _facts(parser: base.Parser) -> None:
    parser.add_argument("--class", dest="notice_class", choices=CLASSES, help="as the authority gives it")
    parser.add_argument("--text", metavar="TEXT", help=f"what it says and asks; {NO_NAMES}")
    parser.add_argument("--answer-by", metavar="DAY", help="the day by which an answer is asked for")


def _moving(verbs: "base.Commands", common: base.Parser) -> None:
    found = _verb(verbs, common, "found", "set aside what was found of its lots")
    found.add_argument("stock", metavar="STOCK[=AMOUNT]", nargs="+", help=stock.AMOUNT_HELP)
    found.add_argument("--place", metavar="PLACE", default="", help="where it is set aside, if there are several")
    _posting(found)
    found.set_defaults(run=_found)
    missing = _verb(verbs, common, "missing", "say what is really there of a stock, where something is missing")
    missing.add_argument("stock", metavar="STOCK", help=stock.STOCK_HELP)
    missing.add_argument("there", metavar="CONTENT", nargs="?", default="0", help="what is there; nothing if left out")
    _posting(missing)
    missing.set_defaults(run=_missing)
    for name, text, run in (
        ("returned", "send stock of its lots back to the supplier, with proof", _returned),
        ("destroyed", "destroy stock of its lots, with proof", _destroyed),
    ):
        parser = _verb(verbs, common, name, text)
        parser.add_argument("stock", metavar="STOCK[=AMOUNT]", nargs="+", help=stock.AMOUNT_HELP)
        parser.add_argument("--proof", metavar="TEXT", default="", help="credit note, return number, certificate")
        _posting(parser)
        parser.set_defaults(run=run)


def _posting(parser: base.Parser) -> None:
    parser.add_argument("--on", metavar="DAY", help="another day than today")
    base.writing(parser)


def _settling(verbs: "base.Commands", common: base.Parser) -> None:
    told = _verb(verbs, common, "told", "note how far the patient of a case was told")
    told.add_argument("case", metavar="CASE-REF", help="the case's reference, never a name")
    told.add_argument("--status", choices=STATUSES, default="told", help="told, if left out")
    told.add_argument("--note", metavar="TEXT", default="", help=f"how, or why not; {NO_NAMES}")
    told.set_defaults(run=_told)
    answer = _verb(verbs, common, "answer", "note that the notice was answered, and what proves it")
    answer.add_argument("--proof", metavar="TEXT", required=True, help="reply form, day and hour of an e-mail")
    answer.add_argument("--on", metavar="DAY", help="the day it was sent, if not today")
    answer.set_defaults(run=_answer)
    close = _verb(verbs, common, "close", "close it; refused, with what is left, while anything is")
    close.set_defaults(run=_close)
    reopen = _verb(verbs, common, "reopen", "open a closed notice again")
    reopen.add_argument("--reason", metavar="TEXT", required=True, help="why, in a few words")
    reopen.set_defaults(run=_reopen)


def _verb(verbs: "base.Commands", common: base.Parser, name: str, text: str, *, more: str = "") -> base.Parser:
    import argparse  # noqa: PLC0415

    parser = verbs.add_parser(
        name, parents=[common], help=text, description=f"{text[0].upper()}{text[1:]}.\n\n{more}".strip(),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    parser.add_argument("reference", metavar="NOTICE", help=REF_HELP)
    return parser


# Readings


def _list(context: base.Context) -> int:
    from inventory.service import notice_work  # noqa: PLC0415

    found = notice_work.notices(context.practice, open_only=context.args.open)
    context.show(notice_shapes.NOTICES, {"notices": found}, map(_card, found) if found else ["No recall notices."])
    return base.ACT if any(not one.head.closed for one in found) else base.OK


def _card(card: "NoticeCard") -> str:
    return words.facts(
        _head(card.head), base.number_of(card.lots, "lot"), base.number_of(card.cases, "case"), card.outstanding.counts
    )


def _head(head: "NoticeHead") -> str:
    from inventory.domain.recall_work import CLASS_WORDS  # noqa: PLC0415

    state = "closed" if head.closed else "open"
    return f"Recall notice {head.reference} of {head.on.isoformat()}, {CLASS_WORDS[head.notice_class]}: {state}"


def _show(context: base.Context) -> int:
    from inventory.service import notice_work  # noqa: PLC0415

    work = notice_work.worklist(context.practice, context.args.reference)
    context.show(notice_shapes.NOTICE, work, _told_whole(work))
    return base.ACT if work.left else base.OK


def _told_whole(work: "Worklist") -> Iterator[str]:
    yield _head(work.head)
    yield from filter(None, [work.head.text])
    if work.head.answered_on:
        yield f"Answered {work.head.answered_on.isoformat()}: {work.head.answer_proof}"
    yield from words.titled("It names:", (f"{line.line_id}. {line.words}{_withdrawn(line.withdrawn_on)}"
                                          for line in work.lines), "It names nothing.")  # fmt: skip
    yield from words.titled("Left to do, most urgent first:", work.left, "Nothing is left to do.")
    yield from words.titled("To be looked at:", work.cautions, "Nothing is uncertain.")
    yield from words.titled("Lots:", (line for lot in work.lots for line in _lot(lot)), "The practice has none of it.")
    yield from words.titled("Cases, assumed lots first:", map(_case, work.cases), "No case used any of it.")
    entries = (
        words.facts(f"entry {one.document_id}", one.on.isoformat(), f"by {one.by}", one.words, one.proof)
        for one in work.proofs
    )
    yield from words.titled("Done under this notice:", entries, "Nothing was done yet.")


def _withdrawn(on: object) -> str:
    return f" (withdrawn {on})" if on else ""


def _lot(lot: "LotWork") -> Iterator[str]:
    from inventory.service.notice_files import NAMED  # noqa: PLC0415

    state = NAMED[lot.match] if lot.released is None else f"not concerned: {lot.released}"
    nothing = None if lot.heaps else "nothing left"
    yield words.facts(f"{lot.item_code}, {words.lot(lot.number, lot.use_by, lot.use_by_read)}", state, nothing)
    for heap in lot.heaps:
        aside = "set aside" if heap.aside else "to be found and set aside"
        yield f"  {words.facts(f'stock {heap.holding_id}', heap.words, f'at {heap.place}', aside)}"


def _case(case: "CaseWork") -> str:
    uses = "; ".join(
        words.facts(use.on.isoformat(), f"lot {use.lot_number}", show(use.qty, use.base), f"by {use.by}")
        for use in case.uses
    )
    told = f"{case.status.value.replace('_', ' ')}{f' by {case.told_by}' if case.told_by else ''}"
    sure = "lot confirmed" if case.lot_confirmed else "lot assumed"
    return words.facts(f"case {case.case_ref}: {told}", sure, uses or "booking undone", case.note)


def _print(context: base.Context) -> int:
    from inventory.service import notice_files  # noqa: PLC0415

    path = context.args.out
    content = notice_files.written(context.practice, context.args.reference, Path(path).suffix[1:].lower())
    return base.write_file(path, content, "--out")


# What it names


def _enter(context: base.Context) -> int:
    from inventory.domain.vocabulary import NoticeClass  # noqa: PLC0415
    from inventory.service import notices  # noqa: PLC0415

    args = context.args
    draft = notices.NoticeDraft(
        args.reference, context.day(args.dated, "--dated") or context.today, tuple(_lines(context, args.lines)),
        NoticeClass(args.notice_class or "none"), args.text or "", context.day(args.answer_by, "--answer-by"),
    )  # fmt: skip
    return _said(notices.enter(context.practice, draft, by=context.by))


def _scope(context: base.Context) -> int:
    from inventory.service import notices  # noqa: PLC0415

    args = context.args
    if bool(args.lines) is (args.withdraw is not None):
        raise BadInput("Nothing, or two things, were asked.", "Give a LINE to add, or --withdraw N with --reason.")
    if args.withdraw is not None:
        work = notices.withdraw_line(context.practice, args.reference, args.withdraw, reason=args.reason, by=context.by)
        return _said(work)
    for line in _lines(context, args.lines):
        work = notices.add_line(context.practice, args.reference, line, by=context.by)
    return _said(work)


def _lines(context: base.Context, texts: Sequence[str]) -> "Iterator[ScopeDraft]":
    """``item=LIGHT-50; lot=A0120; to=A0199`` as what it names.

    Raises:
        BadInput: not so written.
    """
    from inventory.service.notices import ScopeDraft  # noqa: PLC0415

    names = {"item": "item", "code": "code", "lot": "lot_from", "to": "lot_to"}
    days = {"since": "received_from", "until": "received_to"}
    for text in texts:
        said: dict[str, object] = {}
        for part in filter(str.strip, text.split(";")):
            name, sign, value = (piece.strip() for piece in part.partition("="))
            if not sign or name not in {**names, **days}:
                raise BadInput(f"{part.strip()!r} can't be read.", "Write e.g. item=LIGHT-50; lot=A0120; to=A0199.")
            said[names.get(name) or days[name]] = value if name in names else context.day(value, name)
        yield ScopeDraft(**said)  # type: ignore[arg-type]  # each by its own reader


def _change(context: base.Context) -> int:
    from inventory.domain.vocabulary import NoticeClass  # noqa: PLC0415
    from inventory.service import notices  # noqa: PLC0415

    args = context.args
    work = notices.change(
        context.practice, args.reference, by=context.by, reason=args.reason, text=args.text,
        notice_class=NoticeClass(args.notice_class) if args.notice_class else None,
        answer_by=context.day(args.answer_by, "--answer-by"),
    )  # fmt: skip
    return _said(work)


# What is done


def _found(context: base.Context) -> int:
    from inventory.service import notice_deeds  # noqa: PLC0415

    args = context.args
    moved = notice_deeds.found(
        context.practice, args.reference, stock.parts(context), context.slip(), to_place=args.place
    )
    return stock.told("Set aside", moved)


def _missing(context: base.Context) -> int:
    from inventory.service import notice_deeds  # noqa: PLC0415

    args = context.args
    meant = finding.one(context, args.stock)
    content = stock.amount(meant, args.there)
    moved = notice_deeds.counted(context.practice, args.reference, meant.holding_id, content, context.slip())
    if moved.document_id is None:
        base.say("The book was right; nothing was posted.")
        return base.OK
    return stock.told("Missing", moved)


def _returned(context: base.Context) -> int:
    from inventory.service import notice_deeds  # noqa: PLC0415

    parts = stock.parts(context)
    return stock.told(
        "Returned", notice_deeds.returned(context.practice, context.args.reference, parts, context.slip())
    )


def _destroyed(context: base.Context) -> int:
    from inventory.service import notice_deeds  # noqa: PLC0415

    parts = stock.parts(context)
    return stock.told(
        "Destroyed", notice_deeds.destroyed(context.practice, context.args.reference, parts, context.slip())
    )


def _told(context: base.Context) -> int:
    from inventory.domain.vocabulary import ContactStatus  # noqa: PLC0415
    from inventory.service import notices  # noqa: PLC0415

    args = context.args
    status = ContactStatus(STATUSES[args.status])
    return _said(notices.tell(context.practice, args.reference, args.case, status, by=context.by, note=args.note))


def _answer(context: base.Context) -> int:
    from inventory.service import notices  # noqa: PLC0415

    args = context.args
    on = context.day(args.on, "--on")
    return _said(notices.answer(context.practice, args.reference, proof=args.proof, by=context.by, on=on))


def _close(context: base.Context) -> int:
    from inventory.service import notices  # noqa: PLC0415

    return _said(notices.close(context.practice, context.args.reference, by=context.by))


def _reopen(context: base.Context) -> int:
    from inventory.service import notices  # noqa: PLC0415

    args = context.args
    return _said(notices.reopen(context.practice, args.reference, reason=args.reason, by=context.by))


def _said(work: "Worklist") -> int:
    """What a notice is after a change: its head, its lots, what is left."""
    lots = [lot for lot in work.lots if lot.released is None]
    told: Iterable[str] = (line for lot in lots for line in _lot(lot))
    base.say(_head(work.head), *words.titled("On hold for it:", told, "The practice has no lot of it."))
    base.say(*words.titled("Left to do, most urgent first:", work.left, "Nothing is left to do."))
    base.say(*(f"Mind: {caution}" for caution in work.cautions))
    return base.OK

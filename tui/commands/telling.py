"""What happened: the history newest first, where a lot went, and where a case's materials came from."""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from inventory.domain.quantity import show
from inventory.errors import BadInput
from tui.commands import base, finding, place_shapes, shapes, words

if TYPE_CHECKING:
    from inventory.service.tracing import CaseUse, Entry, LotTrace

KINDS = ("receipt", "opening", "use", "count", "discard", "transfer", "return", "reversal")
SUBJECTS = (
    "item", "supply", "supplier", "lot", "visit", "parcel", "purchase", "delivery", "person", "place", "setting",
    "tray_line", "barcode", "need", "estimate", "case_kind", "notice", "count_round",
)  # fmt: skip


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``history`` and ``trace``."""
    history = commands.add_parser(
        "history", parents=[common], help="what was posted, newest first; with --lot a lot's whole story",
        description="Every document with its movements: who, when, why, and whether it was undone since.",
    )  # fmt: skip
    history.add_argument("--lot", metavar="LOT", help="everything that ever happened to a lot, oldest first")
    history.add_argument("--item", metavar="CODE", help="documents that moved this item")
    history.add_argument("--visit", metavar="VISIT", type=base.a_number, help="documents of this visit")
    history.add_argument("--case", metavar="CASE-REF", help="documents of this case")
    history.add_argument("--person", metavar="INITIALS", default="", help="what this person posted")
    history.add_argument("--kind", choices=KINDS, help="only documents of this kind")
    history.add_argument("--since", metavar="DAY", help="first day on which it happened")
    history.add_argument("--until", metavar="DAY", help="last day on which it happened")
    history.add_argument("--before", metavar="DOCUMENT", type=base.a_number, help="the next page: older than this one")
    history.add_argument("--limit", metavar="N", type=base.a_number, default=50, help="at most so many documents (50)")
    history.add_argument(
        "--changes", action="store_true",
        help="what was changed beside the stock itself: items, prices, lots, holds, visits, orders; old and new",
    )  # fmt: skip
    history.add_argument("--subject", choices=SUBJECTS, metavar="WORD", help=f"of these only: {', '.join(SUBJECTS)}")
    history.add_argument(
        "--csv", metavar="FILE", default="", help="write all of it as CSV into a new file; - prints it"
    )
    base.reading(history)
    history.set_defaults(run=_history)
    trace = commands.add_parser(
        "trace", parents=[common], help="from a lot to its cases, or from a case to its lots",
        description="A recall names a lot and asks for the cases; a complaint names a case and asks for the lots. Lots "
        "that nobody read or scanned come first: they are assumed.",
    )  # fmt: skip
    verbs = trace.add_subparsers(metavar="lot|case", parser_class=base.Parser, required=True, dest="verb")
    lot = verbs.add_parser("lot", parents=[common], help="the cases that a lot was used for, and what is left")
    finding.lot_options(lot)
    base.reading(lot)
    lot.set_defaults(run=_trace_lot)
    case = verbs.add_parser("case", parents=[common], help="the lots that were used for a case")
    case.add_argument("case", metavar="CASE-REF", help="the case's reference")
    base.reading(case)
    case.set_defaults(run=_trace_case)


def _history(context: base.Context) -> int:
    from inventory.domain.vocabulary import DocumentKind  # noqa: PLC0415
    from inventory.service import audit, catalogue, tracing  # noqa: PLC0415

    args = context.args
    if args.changes or args.subject:
        return _changes(context)
    story: list[str] = []
    if args.lot:
        lot_id = finding.lot(context, args.lot, args.item)
        entries = tracing.lot_story(context.practice, lot_id)
        story = _story(context, lot_id)
    else:
        which = tracing.Filter(
            item_id=catalogue.item(context.practice, args.item).item_id if args.item else None, visit_id=args.visit,
            case_ref=args.case, kind=DocumentKind(args.kind) if args.kind else None,
            since=context.day(args.since, "--since"), until=context.day(args.until, "--until"), before_id=args.before,
        )  # fmt: skip
        entries = tracing.history(context.practice, which, person=args.person, limit=args.limit)
    if args.csv:
        return base.write_text(args.csv, audit.documents_csv(entries), "--csv")
    context.show(shapes.HISTORY, {"documents": entries, "story": story}, story or _told(entries))
    return base.OK


def _story(context: base.Context, lot_id: int) -> list[str]:
    from inventory.service import lot_story  # noqa: PLC0415

    found = lot_story.story(context.practice, lot_id)
    return [found.told(line) for line in found.lines]


def _changes(context: base.Context) -> int:
    from inventory.service import audit, catalogue, changes  # noqa: PLC0415

    args = context.args
    if args.kind or args.visit:
        raise BadInput("--kind and --visit are about entries of stock.", "Leave them out, or leave --changes out.")
    which = changes.Which(
        item_id=catalogue.item(context.practice, args.item).item_id if args.item and not args.lot else None,
        lot_id=finding.lot(context, args.lot, args.item) if args.lot else None, case_ref=args.case or "",
        person=args.person, subject=args.subject or "", since=context.day(args.since, "--since"),
        until=context.day(args.until, "--until"), before_id=args.before,
    )  # fmt: skip
    found = changes.changes(context.practice, which, limit=args.limit)
    if args.csv:
        return base.write_text(args.csv, audit.changes_csv(found), "--csv")
    lines = [f"{one.change_id}. {one.at:%Y-%m-%d %H:%M} {one.by or 'program'}: {one.words}" for one in found]
    context.show(place_shapes.CHANGES, {"changes": found}, lines or ["Nothing was changed that matches."])
    return base.OK


def _told(entries: Iterable["Entry"]) -> Iterator[str]:
    nothing = True
    for entry in entries:
        nothing = False
        yield f"{entry.document.document_id}. {entry.words}"
        yield from (f"  {line.words}" for line in entry.lines)
    if nothing:
        yield "Nothing was posted that matches."


def _trace_lot(context: base.Context) -> int:
    from inventory.service import tracing  # noqa: PLC0415

    traced = tracing.lot_uses(context.practice, finding.lot(context, context.args.lot, context.args.item))
    context.show(shapes.TRACE_LOT, traced, _lot_told(traced))
    return base.OK


def _lot_told(traced: "LotTrace") -> Iterator[str]:
    state = "recalled" if traced.recalled else "on hold" if traced.held else None
    yield words.facts(traced.item_name, words.lot(traced.lot_number, traced.use_by, traced.use_by_read), state)
    yield from words.titled(
        f"Used for {base.number_of(len(traced.uses), 'case')}, assumed ones first:", map(_use, traced.uses),
        "Used for no case.",
    )  # fmt: skip
    for left in traced.left:
        opened = f"opened {left.opened_on.isoformat()}" if left.opened_on else None
        yield words.facts(
            f"Left: {show(left.on_hand, traced.base)} at {left.place}", opened, f"stock {left.holding_id}"
        )
    sums = ("received", "counted", "used", "purged", "wasted", "discarded", "returned", "on_hand")
    yield from words.aligned([(name.replace("_", " "), show(getattr(traced, name), traced.base)) for name in sums])


def _trace_case(context: base.Context) -> int:
    from inventory.service import tracing  # noqa: PLC0415

    case = context.args.case.strip()
    uses = tracing.case_lots(context.practice, case)
    title = f"Case {case}: {base.number_of(len(uses), 'lot')}, assumed ones first:"
    context.show(
        shapes.TRACE_CASE, {"case_ref": case, "uses": uses},
        words.titled(title, map(_use, uses), f"Nothing was used for case {case}."),
    )  # fmt: skip
    return base.OK


def _use(use: "CaseUse") -> str:
    """One use: which case, when, what of which lot, and whether the lot is certain."""
    state = "recalled" if use.recalled else "on hold" if use.held else None
    return words.facts(
        f"case {use.case_ref}" if use.case_ref else "without a visit", use.on.isoformat(), f"by {use.by}",
        f"{use.item_name} {show(use.qty, use.base)}", words.lot(use.lot_number, use.use_by, use.use_by_read),
        " ".join(use.steps), "retaken" if use.retaken else None,
        words.certain(use.lot_number, confirmed=use.lot_confirmed),
        f"although {words.late(use.late_reason)}" if use.late_reason else None, state, f"entry {use.document_id}",
    )  # fmt: skip

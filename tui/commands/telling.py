"""What happened: the history, newest first."""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from inventory.errors import BadInput
from tui.commands import base, finding, place_shapes, shapes

if TYPE_CHECKING:
    from inventory.service.tracing import Entry

KINDS = ("receipt", "opening", "use", "count", "discard", "transfer", "return", "reversal")
SUBJECTS = (
    "item", "supply", "supplier", "lot", "visit", "parcel", "purchase", "delivery", "person", "place", "setting",
    "tray_line", "barcode", "need", "estimate", "case_kind", "notice", "count_round",
)  # fmt: skip


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``history``."""
    history = commands.add_parser(
        "history", parents=[common], help="what was posted, newest first; with --lot a lot's whole story",
        description="Every entry with its movements: who, when, why, and whether it was undone since.",
    )  # fmt: skip
    history.add_argument("--lot", metavar="LOT", help="everything that ever happened to a lot, oldest first")
    history.add_argument("--item", metavar="CODE", help="entries that moved this item")
    history.add_argument("--visit", metavar="VISIT", type=base.a_number, help="entries of this visit")
    history.add_argument("--case", metavar="CASE-REF", help="entries of this case")
    history.add_argument("--person", metavar="INITIALS", default="", help="what this person posted")
    history.add_argument("--kind", choices=KINDS, help="only entries of this kind")
    history.add_argument("--since", metavar="DAY", help="first day on which it happened")
    history.add_argument("--until", metavar="DAY", help="last day on which it happened")
    history.add_argument(
        "--before",
        metavar="ENTRY",
        type=base.a_number,
        help="the next page: older than this one (of changes: this change)",
    )
    history.add_argument("--limit", metavar="N", type=base.a_number, default=50, help="at most so many entries (50)")
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
    return [found.heading, *(found.told(line) for line in found.lines)]


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

"""To the laboratory: what is to be sent, packed, sent and answered; and the record of a case on one page."""

import argparse
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from inventory.errors import BadInput
from tui.commands import base, laboratory_shapes, words

if TYPE_CHECKING:
    from datetime import datetime

    from inventory.service.laboratory import Parcel

STATES = ("to-pack", "packed", "sent", "received", "rejected")
NO_NAMES = "no patient names"


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``laboratory`` with its verbs, and ``case-record``."""
    laboratory = commands.add_parser(
        "laboratory", parents=[common], help="what goes to the laboratory: list, pack, send, write the answer down",
        description="A parcel belongs to a visit that is booked out; by when it has to be poured follows from what was "
        "used.",
    )  # fmt: skip
    _verbs(laboratory.add_subparsers(metavar="VERB", parser_class=base.Parser, required=True, dest="verb"), common)
    record = commands.add_parser(
        "case-record", parents=[common], help="the record of a case for the patient's file and the laboratory",
        description="Materials with their lots, tray sizes, retakes, disinfection and what goes to the laboratory.",
    )  # fmt: skip
    record.add_argument(
        "named", metavar="CASE-or-VISIT", help="a case reference, or one visit by its number (visit:12)"
    )
    record.add_argument("--pdf", metavar="FILE", default="", help="write it as PDF, one page, into a new file")
    base.reading(record)
    record.set_defaults(run=_record)


def _verbs(verbs: "base.Commands", common: base.Parser) -> None:
    listing = verbs.add_parser("list", parents=[common], help="what is to be sent first, then what was sent")
    listing.add_argument("--state", choices=STATES, help="only what is so far")
    listing.add_argument("--case", metavar="CASE-REF", default="", help="of this case, however old")
    base.reading(listing)
    listing.set_defaults(run=_list)
    pack = _verb(verbs, common, "pack", "say what is in the parcel of a visit, and how it was disinfected", _pack)
    pack.add_argument("contents", metavar="THING", nargs="*", help=f"what is in it ({NO_NAMES}); none: what is usual")
    pack.add_argument("--disinfectant", metavar="ITEM", default="", help="its code")
    pack.add_argument("--minutes", metavar="N", type=base.a_number, help="contact time; else as its leaflet states")
    pack.add_argument("--taken", metavar="TIME", help="when the impression was taken: 14:30, or a day and 14:30")
    sent = _verb(verbs, common, "sent", "say that the parcel of a visit is on its way", _sent)
    sent.add_argument("carrier", metavar="BY", help=f"by what: courier, post ... ({NO_NAMES})")
    sent.add_argument("--at", metavar="TIME", help="when, if not now: 14:30, or a day and 14:30")
    answer = _verb(verbs, common, "answer", "write down what the laboratory answered", _answer)
    answer.add_argument("answer", choices=("received", "rejected"), help="what it said")
    answer.add_argument("--note", metavar="TEXT", default="", help=f"why, if rejected ({NO_NAMES})")
    answer.add_argument(
        "--remake", metavar="DAY", help="plan the visit again for this day, asked for by the laboratory"
    )
    _verb(verbs, common, "take-back", "take the last step back, said by mistake, with a reason", _take_back)
    ships = verbs.add_parser("ships", parents=[common], help="what each kind of visit usually sends; or change it")
    ships.add_argument("kind", metavar="CASE-KIND", nargs="?", default="", help="its code")
    ships.add_argument("--set", metavar="THING", nargs="*", help="all that it sends from now on; nothing: no parcels")
    base.writing(ships)
    base.reading(ships)
    ships.set_defaults(run=_ships)


def _verb(verbs: "base.Commands", common: base.Parser, name: str, text: str, run: base.Run) -> argparse.ArgumentParser:
    parser = verbs.add_parser(name, parents=[common], help=text)
    parser.add_argument("visit", metavar="VISIT", type=base.a_number, help="its number, as 'laboratory list' shows it")
    base.writing(parser)
    base.reading(parser)
    parser.set_defaults(run=run)
    return parser


def _list(context: base.Context) -> int:
    from inventory.domain.parcels import ParcelState  # noqa: PLC0415
    from inventory.service import laboratory  # noqa: PLC0415

    args = context.args
    state = ParcelState(args.state.replace("-", " ")) if args.state else None
    found = laboratory.parcels(context.practice, state=state, case_ref=args.case)
    title = base.number_of(len(found.parcels), "parcel")
    lines = words.titled(title, map(_line, found.parcels), "Nothing goes to the laboratory.")
    context.show(laboratory_shapes.SHAPES["laboratory"], found, lines)  # type: ignore[arg-type]
    return base.ACT if any(one.late for one in found.parcels) else base.OK


def _line(parcel: "Parcel") -> str:
    """A parcel in one line, what has to be done about it first."""
    return words.facts(
        f"visit {parcel.visit_id}", f"case {parcel.case_ref}", parcel.state.value,
        f"{'was to be' if parcel.late else 'to be'} poured by {_moment(parcel.pour_by)}"
        if parcel.pour_by and parcel.state.unsent else None,
        f"sent {_moment(parcel.sent_at)} by {parcel.carrier}" if parcel.sent_at else None,
        f"answered {_moment(parcel.answered_at)}" if parcel.answered_at else None, parcel.note,
        f"visit {parcel.remake} does it again" if parcel.remake else None, parcel.case_kind_name,
        "; ".join(parcel.contents),
        f"{parcel.disinfectant_name} {parcel.contact_minutes} minutes" if parcel.disinfectant_name else None,
    )  # fmt: skip


def _moment(at: "datetime | None") -> str:
    return f"{at:%Y-%m-%d %H:%M}" if at else ""


def _typed_moment(context: base.Context, text: str | None, what: str) -> "datetime | None":
    """A moment as typed: a time of today, or a day and a time."""
    from datetime import datetime  # noqa: PLC0415

    from inventory.domain.dates import parse_moment  # noqa: PLC0415

    if not text:
        return None
    day, clock = parse_moment(text, context.today, context.order, what)
    if clock is None:
        raise BadInput(f"{what}: {text.strip()!r} names no time of day.", "Type e.g. 14:30, or 2027-03-12 14:30.")
    return datetime.combine(day.day, clock)


def _pack(context: base.Context) -> int:
    from inventory.service import laboratory  # noqa: PLC0415

    args = context.args
    contents = tuple(args.contents) or laboratory.of_visit(context.practice, args.visit).contents
    packing = laboratory.Packing(
        args.visit, contents, args.disinfectant, args.minutes, _typed_moment(context, args.taken, "--taken")
    )
    return _told(context, "Packed", laboratory.pack(context.practice, packing, by=context.by, confirmed=args.yes))


def _sent(context: base.Context) -> int:
    from inventory.service import laboratory  # noqa: PLC0415

    args = context.args
    at = _typed_moment(context, args.at, "--at")
    sent = laboratory.send(context.practice, args.visit, args.carrier, by=context.by, at=at, confirmed=args.yes)
    return _told(context, "Sent", sent)


def _answer(context: base.Context) -> int:
    from inventory.domain.vocabulary import LaboratoryAnswer  # noqa: PLC0415
    from inventory.service import laboratory  # noqa: PLC0415

    args = context.args
    answered = laboratory.answer(
        context.practice, args.visit, LaboratoryAnswer(args.answer), by=context.by, note=args.note or args.reason,
        remake_on=context.day(args.remake, "--remake"),
    )  # fmt: skip
    planned = answered.remake
    more = (
        f"Planned: visit {planned.visit_id} of case {planned.case_ref} on {planned.on.isoformat()}." if planned else ""
    )
    return _told(context, "Answered", answered.parcel, more, planned.visit_id if planned else None)


def _take_back(context: base.Context) -> int:
    from inventory.service import laboratory  # noqa: PLC0415

    args = context.args
    taken = laboratory.take_back(context.practice, args.visit, reason=args.reason, by=context.by)
    return _told(context, "Taken back", taken)


def _told(context: base.Context, done: str, parcel: "Parcel", more: str = "", remake: int | None = None) -> int:
    lines = filter(None, (f"{done}: {_line(parcel)}", more))
    context.show(laboratory_shapes.STEP, {"parcel": parcel, "remake": remake}, lines)
    return base.OK


def _ships(context: base.Context) -> int:
    from inventory.service import laboratory  # noqa: PLC0415

    args = context.args
    if args.set is not None:
        if not args.kind:
            raise BadInput("No case kind is named.", "Name one, as 'settings' lists them.")
        laboratory.set_ships(context.practice, args.kind, args.set, by=context.by, reason=args.reason)
    found = [one for one in laboratory.ships(context.practice) if args.kind in ("", one.code)]
    lines = [f"{one.code}, {one.name}: {'; '.join(one.contents) or 'nothing'}" for one in found]
    shape: Any = laboratory_shapes.SHAPES["laboratory ships"]
    context.show(shape, {"case_kinds": found}, lines or [f"There is no case kind {args.kind!r}."])
    return base.OK


def _record(context: base.Context) -> int:
    from inventory.service import case_record  # noqa: PLC0415

    args = context.args
    meant = case_record.meant(context.practice, args.named)
    if args.pdf:
        content = case_record.written(context.practice, meant.case_ref, "pdf", visit_id=meant.visit_id)
        return base.write_file(args.pdf, content, "--pdf")
    sheet = case_record.sheet(context.practice, meant.case_ref, visit_id=meant.visit_id)
    context.show(laboratory_shapes.RECORD, _data(sheet), _record_lines(sheet))
    return base.OK


def _data(sheet: Any) -> dict[str, Any]:
    visits = [
        {
            "visit_id": visit.visit_id, "on": visit.on, "title": visit.title, "about": visit.about,
            "lines": visit.lines, "facts": [{"name": name, "words": told} for name, told in visit.facts],
        }
        for visit in sheet.visits
    ]  # fmt: skip
    return {"case_ref": sheet.case_ref, "made": sheet.made, "visits": visits, "cautions": sheet.cautions}


def _record_lines(sheet: Any) -> Iterator[str]:
    from inventory.reports import case_record as report  # noqa: PLC0415

    yield from filter(None, report.as_text(sheet).splitlines())

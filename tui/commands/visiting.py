"""Visits by command: look them up, plan, change and cancel them, and what to lay out for a day."""

import argparse
from collections.abc import Iterator
from typing import TYPE_CHECKING

from inventory.domain.quantity import show
from inventory.errors import BadInput
from tui.commands import base, shapes, words

if TYPE_CHECKING:
    from inventory.domain.vocabulary import Arch
    from inventory.service.booking import UsedLot
    from inventory.service.laying_out import Form, FormLine
    from inventory.service.visit_desk import VisitRecord
    from inventory.service.visits import VisitCard, VisitPlan

STATES = ("planned", "done", "cancelled")


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``visits`` with its verbs, and ``lay-out``."""
    visits = commands.add_parser(
        "visits", parents=[common], help="booked visits: list, show, plan, change, cancel",
        description="Without a verb: the visits of the next days and past ones not booked out yet.",
    )  # fmt: skip
    visits.set_defaults(run=_list)
    _listing(visits)
    base.reading(visits)
    verbs = visits.add_subparsers(metavar="VERB", parser_class=base.Parser)
    listing = verbs.add_parser(
        "list", parents=[common], help="visits of some days, a case or a state", argument_default=argparse.SUPPRESS
    )
    _listing(listing)
    base.reading(listing)
    listing.set_defaults(run=_list)
    show = verbs.add_parser("show", parents=[common], help="one visit: what it will take, or what it took")
    show.add_argument("visit", metavar="VISIT", type=base.a_number, help="its number in the list")
    base.reading(show)
    show.set_defaults(run=_show)
    plan = verbs.add_parser("plan", parents=[common], help="plan a visit under its case reference")
    plan.add_argument("case", metavar="CASE-REF", help="letters, digits and / . _ - with a digit; never a name")
    plan.add_argument("on", metavar="DAY", help="e.g. 2027-03-12, tomorrow, fri, in 2 weeks")
    plan.add_argument("kind", metavar="KIND", help="case kind, e.g. final_stock_tray; 'settings' lists them")
    _facts(plan)
    base.writing(plan)
    plan.set_defaults(run=_plan)
    change = verbs.add_parser("change", parents=[common], help="change a planned visit; what is left out stays")
    change.add_argument("visit", metavar="VISIT", type=base.a_number, help="its number in the list")
    change.add_argument("--case", metavar="CASE-REF", help="another case reference")
    change.add_argument("--on", metavar="DAY", help="another day")
    change.add_argument("--kind", metavar="KIND", help="another case kind")
    _facts(change)
    base.writing(change)
    change.set_defaults(run=_change)
    cancel = verbs.add_parser("cancel", parents=[common], help="cancel a planned visit, with a reason")
    cancel.add_argument("visit", metavar="VISIT", type=base.a_number, help="its number in the list")
    base.writing(cancel)
    cancel.set_defaults(run=_cancel)
    lay_out = commands.add_parser(
        "lay-out", parents=[common], help="what to lay out for a day's visits, lot by lot",
        description="Which lots to lay out, in issue order; the visits of the day share the stock in their order.",
    )  # fmt: skip
    lay_out.add_argument("day", metavar="DAY", nargs="?", help="another day than tomorrow")
    lay_out.add_argument("--on", metavar="DAY", help="the same")
    base.reading(lay_out)
    lay_out.set_defaults(run=_lay_out)


def _listing(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--since", metavar="DAY", help="first day; alone: up to today")
    parser.add_argument("--until", metavar="DAY", help="last day; alone: from today")
    parser.add_argument("--state", choices=STATES, help="only visits of this state")
    parser.add_argument("--case", metavar="CASE-REF", help="all visits of a case, newest first")


def _facts(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--only", choices=("upper", "lower"), help="one arch only")
    parser.add_argument("--both", action="store_true", help="both arches (as planned without --only)")
    parser.add_argument("--upper-size", metavar="SIZE", help="tray size, where it is known")
    parser.add_argument("--lower-size", metavar="SIZE", help="the same of the lower")
    parser.add_argument("--place", metavar="NAME", help="e.g. 'operatory 1'")
    parser.add_argument("--note", metavar="TEXT", help="no patient names")
    parser.add_argument("--remake-of", metavar="VISIT", type=base.a_number, help="an earlier visit of the case")
    parser.add_argument("--asked-by", choices=("chair", "laboratory"), help="who asked for the remake")


def _list(context: base.Context) -> int:
    from inventory.domain.vocabulary import VisitState  # noqa: PLC0415
    from inventory.service import visit_desk, visits  # noqa: PLC0415

    args = context.args
    state = VisitState(args.state) if args.state else None
    since, until = context.day(args.since, "--since"), context.day(args.until, "--until")
    if args.case:
        found = visits.of_case(context.practice, args.case)
        found = tuple(visit for visit in found if state in (None, visit.state))
    elif since or until:
        today = context.today
        first, last = (since or min(today, until or today)), (until or max(today, since or today))
        found = visits.between(context.practice, first, last, state=state)
    elif state:
        found = visit_desk.visit_list(context.practice, state=state).visits
    else:
        found = visits.upcoming(context.practice)
    title = base.number_of(len(found), "visit")
    context.show(shapes.VISITS, {"visits": found}, words.titled(title, map(_line, found), "No visits."))
    return base.OK


def _line(visit: "VisitCard") -> str:
    return words.facts(
        f"visit {visit.visit_id}", visit.on.isoformat(), f"case {visit.case_ref}", visit.case_kind_name, _arches(visit),
        visit.place, visit.state.value, f"remake of visit {visit.remake_of}" if visit.remake_of else None, visit.note,
    )  # fmt: skip


def _arches(visit: "VisitCard") -> str:
    parts = []
    for there, name, size in ((visit.upper, "upper", visit.upper_size), (visit.lower, "lower", visit.lower_size)):
        if there:
            parts.append(f"{name} size {size}" if size else name)
    return " and ".join(parts)


def _show(context: base.Context) -> int:
    from inventory.service import laying_out, visit_desk  # noqa: PLC0415

    record = visit_desk.record(context.practice, context.args.visit)
    planned = record.card.state.value == "planned"
    form = laying_out.form(context.practice, record.card.visit_id) if planned else None
    result = {"visit": record.card, "expected": form, "used": record.lots, "trays": record.trays,
              "entries": record.entries}  # fmt: skip
    context.show(shapes.VISIT, result, _told(record, form))
    return base.OK


def _told(record: "VisitRecord", form: "Form | None") -> Iterator[str]:
    card = record.card
    yield _line(card)
    if card.booked_by:
        yield f"Booked out by {card.booked_by}."
    if form is not None:
        yield from _form_lines(form)
    if record.lots:
        yield "Used:"
        yield from (f"  {used_lot(lot)}" for lot in record.lots)
    for tray in record.trays:
        yield f"Tray {words.arch(tray.arch)}: {tray.item}, {tray.outcome.value.replace('_', ' ')}"
    for entry in record.entries:
        yield words.facts(f"Entry {entry.document_id}", entry.at.strftime("%Y-%m-%d %H:%M"), entry.what,
                          f"by {entry.by}", entry.reason)  # fmt: skip
    for other in record.others:
        yield f"Of the same case: {_line(other)}"


def used_lot(lot: "UsedLot") -> str:
    """A lot of a booking, as the record names it."""
    return words.facts(
        step_words(lot.step, lot.arch, lot.attempt), f"{lot.item} {show(lot.qty, lot.base)}",
        words.lot(lot.lot_number, lot.use_by, lot.use_by_read),
        words.certain(lot.lot_number, confirmed=lot.lot_confirmed),
        f"although {words.late(lot.late_reason)}" if lot.late_reason else None,
    )  # fmt: skip


def step_words(step: str | None, arch: "Arch | None", attempt: int) -> str:
    """``wash upper attempt 2``: as ``book-out --use`` takes it, with slashes."""
    return " ".join(filter(None, (step, words.arch(arch), f"attempt {attempt}" if attempt > 1 else "")))


def _form_lines(form: "Form") -> Iterator[str]:
    yield f"Expected at {form.place}:"
    yield from (f"  {_form_line(line)}" for line in form.lines)
    yield from (f"Mind: {warning}" for warning in form.warnings)


def _form_line(line: "FormLine") -> str:
    what = step_words(line.step, line.arch, line.attempt)
    if line.missing:
        return words.facts(what, line.item, f"{show(line.missing, line.base)} missing")
    return words.facts(
        what, f"{line.item} {show(line.qty, line.base)}",
        words.lot(line.lot_number, line.use_by, line.use_by_read), line.place,
        f"open a {line.unit_name}" if line.opens else None,
        "stands in for the first choice" if line.substitute else None,
    )  # fmt: skip


def _plan(context: base.Context) -> int:
    from inventory.domain.vocabulary import RemakeAskedBy  # noqa: PLC0415
    from inventory.service import visits  # noqa: PLC0415

    args = context.args
    plan = visits.VisitPlan(
        case_ref=args.case, on=context.typed_date(args.on, "DAY").day, case_kind=args.kind,
        upper=args.only != "lower", lower=args.only != "upper", upper_size=args.upper_size,
        lower_size=args.lower_size, place=args.place, remake_of=args.remake_of,
        remake_asked_by=RemakeAskedBy(args.asked_by) if args.asked_by else None, note=args.note or "",
    )  # fmt: skip
    base.say(f"Planned: {_line(visits.plan(context.practice, plan, by=context.by, confirmed=context.args.yes))}")
    return base.OK


def _change(context: base.Context) -> int:
    from inventory.service import visits  # noqa: PLC0415

    card = visits.one(context.practice, context.args.visit)
    changed = visits.change(
        context.practice, card.visit_id, _changed(context, card), version=card.version, by=context.by
    )
    base.say(f"Changed: {_line(changed)}")
    return base.OK


def _changed(context: base.Context, card: "VisitCard") -> "VisitPlan":
    """The visit as it shall be: what an option says, else as it is."""
    from inventory.domain.vocabulary import RemakeAskedBy  # noqa: PLC0415
    from inventory.service.visits import VisitPlan  # noqa: PLC0415

    args = context.args
    if args.both and args.only:
        raise BadInput("--only and --both exclude each other.", "Give one of them.")
    asked = RemakeAskedBy(args.asked_by) if args.asked_by else card.remake_asked_by
    return VisitPlan(
        case_ref=args.case or card.case_ref, on=context.day(args.on, "--on") or card.on,
        case_kind=args.kind or card.case_kind,
        upper=args.both or (args.only == "upper" if args.only else card.upper),
        lower=args.both or (args.only == "lower" if args.only else card.lower),
        upper_size=card.upper_size if args.upper_size is None else args.upper_size,
        lower_size=card.lower_size if args.lower_size is None else args.lower_size,
        place=card.place if args.place is None else args.place,
        remake_of=args.remake_of or card.remake_of, remake_asked_by=asked,
        note=card.note if args.note is None else args.note,
    )  # fmt: skip


def _cancel(context: base.Context) -> int:
    from inventory.service import visits  # noqa: PLC0415

    card = visits.one(context.practice, context.args.visit)
    visits.cancel(context.practice, card.visit_id, version=card.version, reason=context.args.reason, by=context.by)
    base.say(f"Cancelled: visit {card.visit_id} of case {card.case_ref} on {card.on.isoformat()}.")
    return base.OK


def _lay_out(context: base.Context) -> int:
    from inventory.service import laying_out  # noqa: PLC0415

    args = context.args
    if args.day and args.on:
        raise BadInput("DAY and --on name the day twice.", "Give one of them.")
    day = context.day(args.day, "DAY") if args.day else context.day(args.on, "--on")
    forms = laying_out.lay_out(context.practice, day)
    lines = [line for form in forms for line in (_line(form.visit), *_form_lines(form))]
    context.show(shapes.LAY_OUT, {"visits": forms}, lines or ["No visits are planned for that day."])
    return base.OK

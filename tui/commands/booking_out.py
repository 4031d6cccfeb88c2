"""Book out a visit by command: the form as expected, corrected by options, posted once; and undo what was posted."""

import argparse
import re
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from inventory.domain.dates import parse_time
from inventory.domain.quantity import show
from inventory.errors import BadInput, NotFound
from tui.commands import base, shapes, words
from tui.commands.visiting import used_lot

if TYPE_CHECKING:
    from inventory.domain.vocabulary import Arch
    from inventory.service.booking import Booked
    from inventory.service.filling_in import Filling, Line

DESCRIPTION = """Starts from what the visit is expected to use, tip and purge included; options say what was different.

A line is named STEP/ARCH, e.g. wash/upper or jaw_relation, a retake STEP/ARCH/2; behind it may stand tip, or an item's
code where a step takes several (wash/upper/tip). 'visits show VISIT' and '--show' print the lines.
An amount is mL or g drawn (12.5), tenths of a cartridge (3t), what is left in it (left 4t), or pieces."""


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``book-out`` and ``undo``."""
    book = commands.add_parser(
        "book-out", parents=[common], help="book out a visit: as expected, or what was different",
        description=DESCRIPTION, formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    book.add_argument("visit", metavar="VISIT|CASE-REF", help="the visit's number, or its case with one planned visit")
    book.add_argument("--as-expected", action="store_true", help="nothing was different (no other option is needed)")
    book.add_argument("--place", metavar="NAME", help="where it took place, if not as planned")
    book.add_argument("--on", metavar="DAY", help="another day than today")
    book.add_argument("--time", metavar="HH:MM", help="of that day, where its stock was counted on it")
    book.add_argument("--show", action="store_true", help="print the form with these options; post nothing")
    group = book.add_argument_group("what was different (each may be given several times)")
    for option, metavar, text in _DIFFERENCES:
        group.add_argument(option, metavar=metavar, action="append", default=[], help=text)
    group.add_argument("--only", choices=("upper", "lower"), help="the other arch was not done")
    group.add_argument("--confirm-lots", action="store_true", help="every lot was read from its package")
    base.reading(book)
    base.writing(book, reason="why a lot was used that should not have been")
    book.set_defaults(run=_book)
    undo = commands.add_parser(
        "undo", parents=[common], help="undo a posting, with a reason",
        description="Undo an entry of the history, or the booking of a visit, by its reversal. A cartridge that was "
        "opened stays open.",
    )  # fmt: skip
    undo.add_argument("document", metavar="ENTRY", type=base.a_number, nargs="?", help="its number in the history")
    undo.add_argument("--visit", metavar="VISIT", type=base.a_number, help="the booking of this visit")
    base.writing(undo)
    undo.set_defaults(run=_undo)


_DIFFERENCES = (
    ("--use", "LINE=AMOUNT[@LOT]", "what a line took; @LOT: from this lot, which was read"),
    ("--also", "LINE=AMOUNT@LOT", "the cartridge ran out: the rest came from this lot, with one more tip"),
    ("--further", "LOT=AMOUNT", "something the form does not expect"),
    ("--found", "LINE=LOT[,USE-BY]", "came from a lot that is not in the book yet"),
    ("--lot", "LOT", "this lot was read or scanned: every line of its article came from it"),
    ("--drop", "LINE", "was not done"),
    ("--retake", "STEP/ARCH", "taken again: material, tip and purge once more"),
    ("--tray", "ARCH=SIZE", "the size that fitted"),
    ("--tried", "ARCH=SIZE", "tried in the mouth and not used: thrown away, or to reprocessing"),
)


def _book(context: base.Context) -> int:
    from inventory.service import booking, filling_in  # noqa: PLC0415

    args = context.args
    visit_id = _visit(context)
    if args.request_key.strip() and (before := _before(context, visit_id)) is not None:
        context.show(shapes.BOOKED, before, _summary(before))
        return base.OK
    filling = filling_in.begin(context.practice, visit_id, place=args.place)
    filling = _filled_in(context, filling)
    if args.show:
        context.show(shapes.FORM, {"filling": filling, "doubts": filling_in.doubts(filling),
                                   "questions": filling_in.open_questions(filling)}, _form_lines(filling))  # fmt: skip
        return base.OK
    if not (filling.dirty or args.as_expected):
        raise BadInput("Nothing is said to be different.", "Confirm with --as-expected, or look first with --show.")
    booked = booking.book_out(
        context.practice, filling_in.book_out(filling), by=context.by, request_key=base.request_key(args),
        confirmed=args.yes, reason=args.reason,
    )  # fmt: skip
    context.show(shapes.BOOKED, booked, _summary(booked))
    return base.OK


def _before(context: base.Context, visit_id: int) -> "Booked | None":
    """The booking of this visit that stands under the request key given: a script that asks again gets it again."""
    from inventory.service import tracing, visit_desk  # noqa: PLC0415
    from inventory.service.booking import Booked  # noqa: PLC0415

    key = context.args.request_key.strip()
    posted = tracing.history(context.practice, tracing.Filter(visit_id=visit_id))
    documents = sorted(one.document.document_id for one in posted if one.document.request_key == key)
    if not documents:
        return None
    record = visit_desk.record(context.practice, visit_id)
    return Booked(record.card, tuple(documents), record.lots, (), again=True)


def _visit(context: base.Context) -> int:
    """The visit that a number or case reference names; a case with one planned visit, or one planned for today."""
    from inventory.domain.vocabulary import VisitState  # noqa: PLC0415
    from inventory.service import visits  # noqa: PLC0415

    named: str = context.args.visit.strip()
    of_case = visits.of_case(context.practice, named)
    planned = [visit for visit in reversed(of_case) if visit.state is VisitState.PLANNED]
    if len(planned) > 1:
        planned = [visit for visit in planned if visit.on == context.today] or planned
    if not of_case and named.isascii() and named.isdigit():
        return base.whole_number(named, "VISIT")
    if len(planned) == 1:
        return planned[0].visit_id
    if planned:
        numbers = ", ".join(f"{visit.visit_id} ({visit.on.isoformat()})" for visit in planned)
        raise BadInput(f"Case {named} has several planned visits: {numbers}.", "Give the visit's number.")
    if of_case:
        return of_case[0].visit_id  # the service says who booked it, or that it was cancelled
    raise NotFound(f"There is no visit {named!r} and no case of this reference.", "Look it up with 'visits'.")


def _filled_in(context: base.Context, filling: "Filling") -> "Filling":
    """The form with everything that the options say, in an order in which each finds what it names."""
    from inventory.service import filling_in  # noqa: PLC0415

    args = context.args
    if args.only:
        filling = filling_in.only(filling, words.ARCHES[args.only])
    for named in args.retake:
        step, arch, *_ = _parts(named)
        filling = filling_in.retake(context.practice, filling, step, arch)
    for option, change in (
        (args.drop, _drop), (args.tray, _tray), (args.tried, _tried), (args.lot, _lot), (args.found, _found(context)),
        (args.use, _use), (args.also, _also), (args.further, _further),
    ):  # fmt: skip
        for said in option:
            filling = change(filling, said)
    if args.confirm_lots:
        filling = filling_in.confirm_all(filling)
    return filling_in.on_day(
        filling, context.day(args.on, "--on"), parse_time(args.time, "--time") if args.time else None
    )


Change = Callable[["Filling", str], "Filling"]


def _drop(filling: "Filling", said: str) -> "Filling":
    from inventory.service import filling_in  # noqa: PLC0415

    return filling_in.drop(filling, _line(filling, said).key)


def _tray(filling: "Filling", said: str) -> "Filling":
    from inventory.service import filling_in  # noqa: PLC0415

    return filling_in.choose_tray(filling, *_arch_and_size(said, "--tray"))


def _tried(filling: "Filling", said: str) -> "Filling":
    from inventory.service import filling_in  # noqa: PLC0415

    return filling_in.tried(filling, *_arch_and_size(said, "--tried"))


def _lot(filling: "Filling", said: str) -> "Filling":
    from inventory.service import filling_in  # noqa: PLC0415

    return filling_in.lot_read(filling, said)


def _found(context: base.Context) -> Change:
    def change(filling: "Filling", said: str) -> "Filling":
        from inventory.domain.vocabulary import UseByReading  # noqa: PLC0415
        from inventory.service import filling_in  # noqa: PLC0415

        name, lot = _halves(said, "--found", "LINE=LOT[,USE-BY]")
        number, _, use_by = lot.partition(",")
        found = filling_in.FoundLot(number.strip())
        if use_by.strip():
            typed = context.typed_date(use_by, "--found")
            reading = UseByReading.MONTH if typed.month_only else UseByReading.DAY
            found = filling_in.FoundLot(number.strip(), typed.day, reading)
        return filling_in.not_in_book(filling, _line(filling, name).key, found)

    return change


def _use(filling: "Filling", said: str) -> "Filling":
    from inventory.service import filling_in  # noqa: PLC0415

    name, rest = _halves(said, "--use", "LINE=AMOUNT[@LOT]")
    amount, _, lot = rest.partition("@")
    key = _line(filling, name).key
    if lot.strip():
        filling = filling_in.choose_lot(filling, key, _holding(filling, key, lot))
    return filling_in.set_amount(filling, key, amount) if amount.strip() else filling


def _also(filling: "Filling", said: str) -> "Filling":
    from inventory.domain.quantity import parse_amount  # noqa: PLC0415
    from inventory.service import filling_in  # noqa: PLC0415

    name, rest = _halves(said, "--also", "LINE=AMOUNT@LOT")
    amount, at, lot = rest.partition("@")
    if not at:
        raise BadInput(f"--also: {said!r} names no lot.", "Write LINE=AMOUNT@LOT.")
    line = _line(filling, name)
    holding = filling.lot(_holding(filling, line.key, lot))
    qty = parse_amount(amount, holding.base, holding.unit_qty, holding.on_hand if holding.opened_on else None)
    return filling_in.also_from(filling, line.key, holding.holding_id, qty)


def _further(filling: "Filling", said: str) -> "Filling":
    from inventory.service import filling_in  # noqa: PLC0415

    lot, amount = _halves(said, "--further", "LOT=AMOUNT")
    found = [one for one in filling.lots if one.lot_number.casefold() == lot.casefold()]
    if not found:
        raise NotFound(f"Lot {lot!r} is not in an operatory or the store room.", "Check it with 'lots'.")
    return filling_in.add(filling, found[0].holding_id, amount)


def _halves(said: str, option: str, form: str) -> tuple[str, str]:
    left, sign, right = said.partition("=")
    if not sign or not left.strip():
        raise BadInput(f"{option}: {said!r} can't be read.", f"Write {form}.")
    return left.strip(), right.strip()


def _arch_and_size(said: str, option: str) -> tuple["Arch", str]:
    name, size = _halves(said, option, "ARCH=SIZE")
    if name.casefold() not in words.ARCHES:
        raise BadInput(f"{option}: {name!r} is no arch.", "Write upper=SIZE or lower=SIZE.")
    return words.ARCHES[name.casefold()], size


def _parts(named: str) -> tuple[str, "Arch | None", int, str]:
    """Step, arch, attempt and what else is said of a line: ``wash/upper/2/tip``."""
    step, *rest = [part.strip() for part in named.split("/")]
    arch, attempt, further = None, 1, ""
    for part in rest:
        if part.casefold() in words.ARCHES:
            arch = words.ARCHES[part.casefold()]
        elif re.fullmatch(r"[1-9]\d?", part, re.ASCII):
            attempt = int(part)
        else:
            further = part
    return step.casefold(), arch, attempt, further


def _line(filling: "Filling", named: str) -> "Line":
    """The line that a name means.

    Raises:
        NotFound: there is none; the message lists the form's own names.
        BadInput: several lines bear this name.
    """
    step, arch, attempt, further = _parts(named)
    found = [
        line
        for line in filling.lines
        if (line.form.step.casefold(), line.form.arch, line.form.attempt) == (step, arch, attempt)
        and "/also" not in line.key
        and _means(line, further)
    ]
    if not found:
        names = ", ".join(dict.fromkeys(name(line) for line in filling.lines))
        raise NotFound(f"The form has no line {named!r}.", f"Its lines are: {names}.")
    if len(found) > 1 and not further:
        found = [line for line in found if line.form.kind.value not in ("tip", "accessory")] or found
    return found[0]


def _means(line: "Line", further: str) -> bool:
    code = line.article.code if line.article else line.form.item_code
    if not further:
        return "/tip/" not in line.key
    return further.casefold() in (code.casefold(), line.form.kind.value)


def name(line: "Line") -> str:
    """A line's name as ``--use`` takes it."""
    parts = [line.form.step, words.arch(line.form.arch)]
    if line.form.attempt > 1:
        parts.append(str(line.form.attempt))
    if "/tip/" in line.key:
        parts.append("tip")
    return "/".join(part for part in parts if part)


def _holding(filling: "Filling", key: str, lot: str) -> int:
    """The stock of a lot that a line takes from: the first of its number in issue order."""
    from inventory.service import filling_in  # noqa: PLC0415

    wanted = lot.strip().casefold()
    for one in (*filling_in.lots_for(filling, key), *filling.lots):
        if one.lot_number.casefold() == wanted:
            return one.holding_id
    known = ", ".join(dict.fromkeys(one.lot_number for one in filling_in.meant_for(filling, key))) or "none"
    raise NotFound(
        f"Lot {lot.strip()!r} is not in an operatory or the store room.", f"For this line there are: {known}."
    )


def _form_lines(filling: "Filling") -> Iterator[str]:
    from inventory.service import filling_in  # noqa: PLC0415

    visit = filling.form.visit
    yield words.facts(f"Visit {visit.visit_id}", f"case {visit.case_ref}", visit.on.isoformat(), filling.form.place)
    yield from (f"  {_form_line(line)}" for line in filling.lines if not line.dropped)
    yield from (f"  tried and not used: {one.article.name}" for one in filling.tried)
    yield from (f"Open: {question}" for question in filling_in.open_questions(filling))
    yield from (f"Mind: {doubt}" for doubt in dict.fromkeys((*filling.form.warnings, *filling_in.doubts(filling))))


def _form_line(line: "Line") -> str:
    article = line.article.name if line.article else line.form.item
    if line.lot is None and line.found is None:
        return words.facts(name(line), f"{article} {show(line.qty, line.base)}", "no lot chosen")
    lot = f"lot {line.lot_number}, not in the book"
    if line.lot is not None:
        lot = words.lot(line.lot.lot_number, line.lot.use_by, line.lot.use_by_read)
    return words.facts(
        name(line), f"{article} {show(line.qty, line.base)}", lot,
        words.late(line.lot.late) if line.lot else None, line.lot.place if line.lot else None,
        f"open a {line.unit_name}" if line.fresh else None, _left(line),
        words.certain(line.lot_number, confirmed=line.confirmed),
    )  # fmt: skip


def _left(line: "Line") -> str | None:
    """What the line's unit holds at the end; in words where the book has less than was used."""
    if line.left is None:
        return None
    if line.left < 0:
        return f"{show(-line.left, line.base)} more than the book has"
    return None if line.base.value == "piece" else f"{show(line.left, line.base)} left"


def _summary(booked: "Booked") -> Iterator[str]:
    visit = booked.visit
    again = " (posted before; nothing more was posted)" if booked.again else ""
    yield f"Booked out: visit {visit.visit_id}, case {visit.case_ref}, {visit.on.isoformat()}{again}"
    yield from (f"  {used_lot(lot)}" for lot in booked.lots)
    yield from (f"Mind: {warning}" for warning in booked.warnings)
    yield f"To undo it: {base.PROGRAM} undo --visit {visit.visit_id} --reason TEXT"


def _undo(context: base.Context) -> int:
    from inventory.service import correcting, tracing  # noqa: PLC0415

    args = context.args
    if (args.document is None) == (args.visit is None):
        raise BadInput("Name what to undo: ENTRY or --visit VISIT.", "The history shows the numbers.")
    key = base.request_key(args)
    if args.visit is not None:
        undone = correcting.undo_visit(context.practice, args.visit, reason=args.reason, by=context.by, request_key=key)
    else:
        undone = correcting.undo(context.practice, args.document, reason=args.reason, by=context.by, request_key=key)
    numbers = ", ".join(str(number) for number in undone.undone)
    base.say(
        f"Undone: {'entry' if len(undone.undone) == 1 else 'entries'} {numbers}",
        *(f"  {tracing.told_line(line)}" for line in undone.lines),
    )
    base.say(*(f"Kept: {kept}" for kept in undone.kept))
    if undone.visit_id is not None:
        base.say(f"Visit {undone.visit_id} is planned again.")
    return base.OK

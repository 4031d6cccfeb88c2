"""Where a lot went, and where a case's materials came from: by command, or by the number alone."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from inventory.domain.quantity import show
from tui.commands import base, finding, trace_shapes, words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from inventory.service.tracing import CaseUse, LotTrace


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``trace``."""
    trace = commands.add_parser(
        "trace", parents=[common], help="from a lot to its cases, or from a case to its lots",
        description="A recall names a lot and asks for the cases; a complaint names a case and asks for the lots. Lots "
        "that nobody read or scanned come first: they are assumed. A number alone is looked up as both.",
    )  # fmt: skip
    verbs = trace.add_subparsers(metavar="lot|case|any", parser_class=base.Parser, required=True, dest="verb")
    lot = verbs.add_parser("lot", parents=[common], help="the cases that a lot was used for, and what is left")
    finding.lot_options(lot)
    base.reading(lot)
    lot.set_defaults(run=_lot)
    case = verbs.add_parser("case", parents=[common], help="the lots that were used for a case")
    case.add_argument("case", metavar="CASE-REF", help="the case's reference")
    base.reading(case)
    case.set_defaults(run=_case)
    either = verbs.add_parser("any", parents=[common], help="whichever bears this name; meant where neither is said")
    either.add_argument("named", metavar="NAME", help="a lot number or a case reference")
    base.reading(either)
    either.set_defaults(run=_any)


def _lot(context: base.Context) -> int:
    from inventory.service import tracing  # noqa: PLC0415

    traced = tracing.lot_uses(context.practice, finding.lot(context, context.args.lot, context.args.item))
    context.show(trace_shapes.TRACE_LOT, traced, _lot_told(traced))
    return base.OK


def _case(context: base.Context) -> int:
    from inventory.service import tracing  # noqa: PLC0415

    case = context.args.case.strip()
    uses = tracing.case_lots(context.practice, case)
    context.show(trace_shapes.TRACE_CASE, {"case_ref": case, "uses": uses}, _case_told(case, uses))
    return base.OK


def _any(context: base.Context) -> int:
    from inventory.service import tracing  # noqa: PLC0415

    found = tracing.trace(context.practice, context.args.named)
    told: list[str] = []
    if found.lots and found.case_ref is not None:
        told.append(f"{found.named} is the number of a lot and the reference of a case; both follow.")
    for traced in found.lots:
        told += _lot_told(traced)
    if found.case_ref is not None:
        told += _case_told(found.case_ref, found.uses)
    context.show(trace_shapes.TRACE_ANY, found, told)
    return base.OK


def _lot_told(traced: "LotTrace") -> "Iterator[str]":
    state = "recalled" if traced.recalled else "on hold" if traced.held else None
    yield words.facts(traced.item_name, words.lot(traced.lot_number, traced.use_by, traced.use_by_read), state)
    cases = len({use.case_ref for use in traced.uses if use.case_ref})
    yield from words.titled(
        f"Used for {base.number_of(cases, 'case')}, assumed ones first:", map(_use, traced.uses),
        "Used for no case.",
    )  # fmt: skip
    for left in traced.left:
        opened = f"opened {left.opened_on.isoformat()}" if left.opened_on else None
        yield words.facts(
            f"Left: {show(left.on_hand, traced.base)} at {left.place}", opened, f"stock {left.holding_id}"
        )
    sums = ("received", "counted", "used", "purged", "wasted", "discarded", "returned", "on_hand")
    yield from words.aligned([(name.replace("_", " "), show(getattr(traced, name), traced.base)) for name in sums])


def _case_told(case: str, uses: "tuple[CaseUse, ...]") -> "Iterable[str]":
    title = f"Case {case}: {base.number_of(len(uses), 'lot')}, assumed ones first:"
    return words.titled(title, map(_use, uses), f"Nothing was used for case {case}.")


def _use(use: "CaseUse") -> str:
    """One use: which case, when, what of which lot, where, and whether the lot is certain."""
    state = "recalled" if use.recalled else "on hold" if use.held else None
    return words.facts(
        f"case {use.case_ref}" if use.case_ref else "without a visit", use.on.isoformat(), f"by {use.by}",
        f"{use.item_name} {show(use.qty, use.base)}", words.lot(use.lot_number, use.use_by, use.use_by_read),
        f"at {', '.join(use.places)}", " ".join(use.steps), "retaken" if use.retaken else None,
        words.certain(use.lot_number, confirmed=use.lot_confirmed),
        f"although {words.late(use.late_reason)}" if use.late_reason else None, state, f"entry {use.document_id}",
    )  # fmt: skip

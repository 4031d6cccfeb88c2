"""The weekly check and the check of the book itself: what wants a decision, why, and whether the ledger holds."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from inventory.errors import NotFound
from tui.commands import base, ordering, shapes, words

if TYPE_CHECKING:
    from inventory.domain.alerts import Alert
    from inventory.service.verifying import Verified
    from inventory.service.weekly_check import WeeklyCheck


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``week`` and ``verify``."""
    week = commands.add_parser(
        "week", parents=[common], help="the weekly check: what to act on, most urgent first",
        description="One list, most urgent first; exit status 1 where there is something to act on.",
    )  # fmt: skip
    week.add_argument("--why", metavar="N", type=base.a_number, help="the arithmetic behind line N")
    week.add_argument("--kind", metavar="WORD", help="only lines of one kind, e.g. expired or runs_short")
    base.reading(week)
    week.set_defaults(run=_week)
    verify = commands.add_parser(
        "verify", parents=[common], help="check the whole book against its laws",
        description="Folds every balance anew and holds every document against the ledger's laws; exit status 1 where "
        "something is wrong.",
    )  # fmt: skip
    base.reading(verify)
    verify.set_defaults(run=_verify)


def _week(context: base.Context) -> int:
    from inventory.service import weekly_check  # noqa: PLC0415

    check = weekly_check.weekly_check(context.practice)
    numbered = list(enumerate(check.lines, start=1))
    if context.args.why is not None:
        return _why(context, numbered)
    if context.args.kind:
        numbered = [(n, line) for n, line in numbered if _kind(line) == _known_kind(context.args.kind)]
    orders = () if context.args.kind else check.baskets
    found = {
        "today": check.today,
        "lines": [_as_data(number, line) for number, line in numbered],
        "orders": [ordering.proposed_data(order) for order in orders],
    }
    told = [*_told(check, numbered), *(line for order in orders for line in ordering.proposed_told(order))]
    context.show(shapes.WEEK, found, told)
    return base.ACT if numbered or orders else base.OK


def _kind(line: "Alert") -> str:
    return line.kind.name.lower()


def _known_kind(word: str) -> str:
    from inventory.domain.alerts import AlertKind  # noqa: PLC0415

    kinds = [kind.name.lower() for kind in AlertKind]
    wanted = word.strip().lower().replace("-", "_").replace(" ", "_")
    if wanted not in kinds:
        raise NotFound(f"--kind: there is no {word!r}.", f"Known are: {', '.join(kinds)}.")
    return wanted


def _as_data(number: int, line: "Alert") -> dict[str, object]:
    return {"number": number, "kind": _kind(line), "line": line, "why": [each.as_data() for each in line.why]}


def _told(check: "WeeklyCheck", numbered: list[tuple[int, "Alert"]]) -> Iterator[str]:
    if not numbered:
        yield f"{check.today.isoformat()}: nothing to act on."
        return
    yield f"{check.today.isoformat()}: {base.number_of(len(numbered), 'line')} to act on, most urgent first."
    for number, line in numbered:
        kind = _kind(line).replace("_", " ")
        yield words.facts(f"{number}. {kind}: {line.subject}", line.where, line.what) + f". {line.todo}"
    yield f"The arithmetic behind a line: {base.PROGRAM} week --why N"


def _why(context: base.Context, numbered: list[tuple[int, "Alert"]]) -> int:
    from inventory.domain import why  # noqa: PLC0415

    line = dict(numbered).get(context.args.why)
    if line is None:
        raise NotFound(f"The list has no line {context.args.why}.", f"It has {base.number_of(len(numbered), 'line')}.")
    told = [f"{_kind(line).replace('_', ' ')}: {line.subject}, {line.what}", *why.text(line.why)]
    context.show(shapes.WEEK_LINE, _as_data(context.args.why, line), told)
    return base.ACT


def _verify(context: base.Context) -> int:
    from inventory.service import verifying  # noqa: PLC0415

    verified = verifying.verify(context.practice)
    context.show(shapes.VERIFIED, verified, _verified(verified))
    return base.OK if verified.clean else base.ACT


def _verified(verified: "Verified") -> Iterator[str]:
    checked = ", ".join(
        base.number_of(count, noun)
        for count, noun in (
            (verified.documents, "document"), (verified.movements, "movement"), (verified.holdings, "holding")
        )
    )  # fmt: skip
    yield f"Checked {checked}: {', '.join(verified.checks)}."
    yield from (f"Wrong: {one.check}: {one.subject} {one.subject_id}: {one.message}" for one in verified.findings)
    if verified.clean:
        yield "Nothing is wrong."
    else:
        faults = base.number_of(len(verified.findings), "fault")
        yield f"{faults}. Nothing was repaired: restore a backup, or correct it."

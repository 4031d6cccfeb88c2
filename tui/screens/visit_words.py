"""How a visit and its state are said, wherever visits are shown."""

from datetime import date

from textual.content import Content

from inventory.domain.alerts import AlertKind
from inventory.domain.vocabulary import Arch, VisitState
from inventory.service.visits import VisitCard
from inventory.service.weekly_check import WeeklyCheck
from tui import text as shown
from tui.theme import Status

KINDS = {
    AlertKind.NOTICE_OPEN: "recall notice",
    AlertKind.RECALLED: "recalled",
    AlertKind.EXPIRED: "expired",
    AlertKind.OPENED_TOO_LONG: "opened too long",
    AlertKind.VISIT_NOT_READY: "visit short",
    AlertKind.NOT_SENT: "not sent",
    AlertKind.VISIT_NOT_BOOKED: "not booked out",
    AlertKind.ORDER_OVERDUE: "order late",
    AlertKind.RUNS_SHORT: "runs short",
    AlertKind.WILL_EXPIRE: "will expire",
    AlertKind.DATE_NOT_READ: "date not read",
    AlertKind.REST_OF_NO_USE: "rest too small",
    AlertKind.ON_HOLD: "on hold",
    AlertKind.COUNT_DUE: "count due",
}
"""The kinds of lines of the weekly check in the fewest words."""

MOST_KINDS = 7  # so many kinds with their counts fit into two lines of 80 cells

DAYS = {
    AlertKind.NOTICE_OPEN: "answer by, or dated",
    AlertKind.VISIT_NOT_READY: "visit on",
    AlertKind.NOT_SENT: "to be poured by",
    AlertKind.VISIT_NOT_BOOKED: "visit on",
    AlertKind.ORDER_OVERDUE: "expected on",
    AlertKind.RUNS_SHORT: "runs out",
    AlertKind.COUNT_DUE: "due since",
}
"""What the day of a line is; of all other kinds it is the day by which the material is to be used."""

ARCH = {Arch.MAXILLARY: "upper", Arch.MANDIBULAR: "lower"}


def arches(card: VisitCard) -> str:
    """Arches with their tray sizes where these are known: ``upper M, lower L``."""
    sizes = {Arch.MAXILLARY: card.upper_size, Arch.MANDIBULAR: card.lower_size}
    return ", ".join(f"{ARCH[arch]} {sizes[arch] or ''}".strip() for arch in card.arches)


def plain_state(card: VisitCard, today: date) -> Content:
    """Planned, waiting to be booked out, done or cancelled."""
    if card.state is VisitState.PLANNED and card.on >= today:
        return shown.status(Status.WAITING, "planned")
    return state(card, today)


def state(card: VisitCard, today: date, missing: tuple[str, ...] = (), waits: tuple[str, ...] = ()) -> Content:
    """The same, and for a visit still to come whether it is ready, waits for a delivery, or is short of something."""
    if card.state is VisitState.DONE:
        return shown.status(Status.OK, f"done by {card.booked_by}" if card.booked_by else "done")
    if card.state is VisitState.CANCELLED:
        return shown.status(Status.BLOCKED, "cancelled")
    if card.on < today:
        return shown.status(Status.WATCH, "not booked out")
    if missing:
        more = f" and {shown.count(len(missing) - 1, 'thing')} more" if missing[1:] else ""
        return shown.status(Status.ACT, missing[0] + more)
    if waits:
        return shown.status(Status.WATCH, f"ready if {waits[0]}")
    return shown.status(Status.OK, "ready")


def way(card: VisitCard, today: date) -> str:
    """What opening the visit leads to."""
    if card.state is not VisitState.PLANNED:
        return "its record"
    return "book it out" if card.on <= today else "lay it out"


def counts(check: WeeklyCheck) -> Content:
    """How many lines the weekly check has of its most urgent kinds, and of all others: ``expired 2 · +4 more``."""
    found = [(name, number) for kind, name in KINDS.items() if (number := check.count(kind))]
    told = [f"{name} {number}" for name, number in found[:MOST_KINDS]]
    more = [f"+{sum(number for _, number in found[MOST_KINDS:])} more"] if found[MOST_KINDS:] else []
    return Content(" · ".join([*told, *more]) or "All clear.")


def urgency(kind: AlertKind) -> Status:
    """The symbol of a line of the weekly check."""
    if kind <= AlertKind.OPENED_TOO_LONG:
        return Status.BLOCKED
    if kind <= AlertKind.RUNS_SHORT:
        return Status.ACT
    return Status.UNKNOWN if kind is AlertKind.DATE_NOT_READ else Status.WATCH

"""Check the whole book: fold every balance anew from its movements and hold every document against the ledger's laws.

The guards and the ledger's one writer keep these laws at all times; this proves it, after a power cut, a restored
backup or a stranger's hand in the file. Every fault is collected, not only the first, and nothing is repaired here:
what is wrong is put right by a person, with a document.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from inventory.domain.ordering import state_of
from inventory.domain.quantity import show
from inventory.service.on_order import ordered
from inventory.service.practice import Practice
from inventory.store.engine import Session
from inventory.store.queries import checks, counting, purchases


@dataclass(frozen=True, slots=True)
class Finding:
    """One fault: which check found it, in which row of what, and what is wrong."""

    check: str
    subject: str
    subject_id: int | str
    message: str


@dataclass(frozen=True, slots=True)
class Verified:
    """What was checked and what was found."""

    checks: tuple[str, ...]
    documents: int
    movements: int
    holdings: int
    findings: tuple[Finding, ...]

    @property
    def clean(self) -> bool:
        return not self.findings


def verify(practice: Practice) -> Verified:
    """Check the whole book, on one snapshot of it.

    Raises:
        WrongStore: the file is so damaged that it can't be read.
    """
    with practice.reading() as desk:
        return verified(desk.session)


def verified(session: Session) -> Verified:
    """`verify` within a unit of work: what is not committed yet can still be refused."""
    documents, movements, holdings = checks.size(session)
    findings = tuple(
        Finding(name, subject, number, message)
        for name, check in CHECKS.items()
        for subject, number, message in check(session)
    )
    return Verified(tuple(CHECKS), documents, movements, holdings, findings)


Faults = Iterator[tuple[str, int | str, str]]


def _file(session: Session) -> Faults:
    for message in checks.file_faults(session):
        yield "file", "", message


def _guards(session: Session) -> Faults:
    for name in checks.lost_guards(session):
        yield "guard", name, "this guard against changing history is not in place"


def _balances(session: Session) -> Faults:
    for number, item, base, lot, place, on_hand, total in checks.balances(session):
        said, sums = show(on_hand, base), show(int(total), base)
        yield "holding", number, f"{item}, lot {lot}, {place}: the book says {said}, its movements come to {sums}"


def _contents(session: Session) -> Faults:
    for number, lot, place, opened_on in checks.wrong_contents(session):
        what = (
            "a sealed stack holds a broken unit" if opened_on is None else "an opened unit holds more than a full one"
        )
        yield "holding", number, f"lot {lot}, {place}: {what}"


def _conservation(session: Session) -> Faults:
    for number, lot, base, came, went, on_hand in checks.lost_or_made(session):
        came_in, went_out, there = (show(int(qty), base) for qty in (came, went, on_hand))
        yield "lot", number, f"lot {lot}: {came_in} came and {went_out} went, but {there} is there"


def _laws(session: Session) -> Faults:
    for number, fault in checks.unlawful(session):
        yield "document", number, fault


def _items(session: Session) -> Faults:
    for number, document in checks.wrong_items(session):
        yield "movement", number, f"in document {document}: names another item than its lot's"


def _reversals(session: Session) -> Faults:
    for number in checks.wrong_reversals(session):
        yield "document", number, "an undoing that does not mirror a posting"


def _requests(session: Session) -> Faults:
    for key in checks.mixed_requests(session):
        yield "request", key, "different contents were posted under one request key"


def _holds(session: Session) -> Faults:
    for number, lot in checks.held_twice(session):
        yield "lot", number, f"lot {lot} is held twice for the same cause"


def _visits(session: Session) -> Faults:
    for number, case_ref, state in checks.wrong_visits(session):
        what = "no booking of it stands" if state == "done" else "a booking of it stands"
        yield "visit", number, f"the visit of case {case_ref} is {state}, but {what}"


def _orders(session: Session) -> Faults:
    sent = [row for row in purchases.orders(session) if row.sent_on is not None]
    lines = purchases.order_lines(session, [row.order_id for row in sent])
    for row in sent:
        state = state_of([ordered(line) for line in lines.get(row.order_id, ())])
        if state is not row.state:
            yield "order", row.number, f"order {row.number} is {row.state.value}, but its deliveries say {state.value}"


def _counts(session: Session) -> Faults:
    for number, holding in counting.read_twice(session):
        yield "round", number, f"stock {holding} has two readings that count"
    for line, number in counting.strayed(session):
        yield "round", number, f"reading {line} names stock that is not what was read"
    for document, number in counting.unapproved(session):
        yield "document", document, f"it corrects the book for round {number}, which is not approved or has another one"


CHECKS: dict[str, Callable[[Session], Faults]] = {
    "file": _file,
    "guards": _guards,
    "balances": _balances,
    "contents": _contents,
    "conservation": _conservation,
    "laws": _laws,
    "items": _items,
    "reversals": _reversals,
    "requests": _requests,
    "holds": _holds,
    "visits": _visits,
    "orders": _orders,
    "counts": _counts,
}

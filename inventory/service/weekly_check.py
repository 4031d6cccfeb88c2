"""The weekly check: everything to act on in one list, most urgent first, each line with what to do and why."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.domain import alerts
from inventory.domain.alerts import Action, Alert, AlertKind, Awaited, Due, OpenNotice, Shelf
from inventory.domain.recall_work import CLASS_WORDS
from inventory.domain.reordering import Proposal
from inventory.domain.vocabulary import VisitState
from inventory.service import (
    forecasting,
    item_classes,
    laboratory,
    laying_out,
    notice_work,
    on_order,
    proposing,
    readiness,
)
from inventory.service.forecasting import Picture
from inventory.service.practice import Desk, Practice
from inventory.service.proposing import ProposedOrder
from inventory.store.queries import planning
from inventory.store.queries import visits as query

OVERDUE_DAYS = 14


@dataclass(frozen=True, slots=True)
class WeeklyCheck:
    """The check of a day.

    Attributes:
        today: the practice-local date.
        lines: what wants a decision, most urgent first.
        proposals: what to order of each item, and why.
        baskets: the same by supplier, where something is to be ordered: goods, fee, what was added and why.
    """

    today: date
    lines: tuple[Alert, ...]
    proposals: tuple[Proposal, ...]
    baskets: tuple[ProposedOrder, ...] = ()

    def count(self, kind: AlertKind) -> int:
        """How many lines are of a kind."""
        return sum(line.kind is kind for line in self.lines)

    def basket_of(self, item_id: int | None) -> ProposedOrder | None:
        """The basket in which an item is to be ordered; None where it is in none."""
        return next((one for one in self.baskets if any(line.item_id == item_id for line in one.ordered)), None)


def weekly_check(practice: Practice) -> WeeklyCheck:
    """Everything that wants a decision today. Reads only; nothing is reserved or ordered."""
    with practice.reading() as desk:
        picture = forecasting.picture(desk)
        proposed = proposing.proposed(desk, picture)
        proposals = proposed.proposals
        shelves = _shelves(desk, picture)
        names = {number: (item.name, item.base) for number, item in picture.items.items()}
        until = picture.today + timedelta(days=desk.settings["horizon_days"])
        lines = alerts.most_urgent_first(
            [
                *alerts.recalls(_notices(desk)),
                *alerts.on_the_shelf(shelves, picture.today),
                *alerts.not_read(shelves),
                *alerts.rests(shelves, laying_out.smallest_draws(picture), picture.today),
                *alerts.will_expire(shelves, proposals, picture.today, desk.settings["warn_days"]),
                *alerts.overdue(_awaited(desk), picture.today),
                *alerts.runs_short(proposals, names),
                *_visits_not_ready(desk, picture, until),
                *_visits_not_booked(desk, picture.today),
                *laboratory.not_sent(desk),
                *_counts_due(desk),
            ]
        )
        baskets = tuple(order for order in proposed.orders if order.ordered)
        return WeeklyCheck(picture.today, lines, tuple(proposals.values()), baskets)


def _notices(desk: Desk) -> Iterator[OpenNotice]:
    for card in notice_work.with_work(desk):
        known = CLASS_WORDS[card.head.notice_class].partition(":")[0]
        yield OpenNotice(card.head.reference, card.head.on, known, card.head.closed, card.outstanding)


def _awaited(desk: Desk) -> Iterator[Awaited]:
    for order in on_order.waiting(desk):
        row, still = order.order, [(line, on_order.ordered(line)) for line in order.lines]
        if row.sent_on is not None and row.expected_on is not None:
            yield Awaited(
                row.number, row.supplier, row.sent_on, row.expected_on, order.lead,
                tuple(f"{left.open_packs} x {line.name}" for line, left in still if left.open_units),
                sum(left.open_packs * line.pack_cents for line, left in still),
            )  # fmt: skip


def _counts_due(desk: Desk) -> Iterator[Alert]:
    due = [
        Due(line.name, line.classed.weeks, (desk.today - line.since).days, line.last_counted is not None)
        for line in item_classes.classes_of(desk).due
        if line.since is not None
    ]
    return alerts.counts_due(due, desk.today)


def _shelves(desk: Desk, picture: Picture) -> list[Shelf]:
    costs = planning.unit_costs(desk.session)
    taken_back = planning.taken_back(desk.session)
    shelves = []
    for stand in picture.stands:
        item = picture.items[stand.item_id]
        pack = costs.get(stand.lot_id)
        units = stand.on_hand / stand.unit_qty
        shelves.append(
            Shelf(
                holding_id=stand.holding_id, lot_id=stand.lot_id, item_id=stand.item_id, item=item.name,
                base=item.base, unit_qty=stand.unit_qty, unit_name=item.unit_name, lot_number=stand.lot_number,
                place=stand.place_name, usable_place=stand.place_role.usable, on_hand=stand.on_hand,
                opened_on=stand.opened_on, opened_days=stand.opened_days, use_by=stand.use_by,
                use_by_read=stand.use_by_read, last_day=stand.last_day, blocked=stand.blocked,
                cents=round(pack[0] / pack[1] * units) if pack else 0,
                taken_back_by=taken_back.get(stand.lot_id, ""),
            )
        )  # fmt: skip
    return shelves


def _visits_not_ready(desk: Desk, picture: Picture, until: date) -> Iterator[Alert]:
    for ready in readiness.readiness_of(desk, picture, until):
        if not ready.ready:
            things = "; ".join(thing.removeprefix("short of ") for thing in ready.missing)
            yield Alert(
                kind=AlertKind.VISIT_NOT_READY, subject=ready.case_ref, where=ready.on.isoformat(),
                what=f"short of {things}", todo="Order, bring or plan otherwise.", action=Action.OPEN_VISIT,
                why=ready.why, due=ready.on, visit_id=ready.visit_id,
            )  # fmt: skip


def _visits_not_booked(desk: Desk, today: date) -> Iterator[Alert]:
    since = today - timedelta(days=OVERDUE_DAYS)
    for visit in query.visits(desk.session, since=since, until=today - timedelta(days=1), state=VisitState.PLANNED):
        yield Alert(
            kind=AlertKind.VISIT_NOT_BOOKED, subject=visit.case_ref, where=f"{visit.on.isoformat()}",
            what="planned for a day that is over", todo="Book it out, or cancel it.", action=Action.OPEN_VISIT,
            due=visit.on, visit_id=visit.id,
        )  # fmt: skip

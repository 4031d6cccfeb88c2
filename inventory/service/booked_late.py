"""What happened before a count but is booked after it: the count has it already, so it must not be taken twice.

Every posting of something that happened before now goes through here. Where it changes a shelf that was counted after
it had happened, it also posts the opposite count movement, and the balance stays what was counted. It is known of a day
only that something happened on it; where a shelf was counted on that very day, nobody but the person can say whether it
was before or after.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from inventory.domain.counting import put_back
from inventory.domain.ledger import Draft, Entry, Opened, Posting, Sealed
from inventory.domain.vocabulary import DocumentKind, MovementKind
from inventory.errors import BadInput, Conflict
from inventory.service.practice import Desk
from inventory.store import ledger
from inventory.store.queries import counting
from inventory.store.queries.stock import stands_of

COUNT_AGAIN = "counted since: the count stays in force"
Target = int | Sealed | Opened


def post(desk: Desk, posting: Posting) -> ledger.Posted:
    """Post, and keep in force what was counted since.

    Of what happens now nothing can have been counted since, and most of what is posted happens now, so nothing is asked
    then; only a round that was read and approved while this unit of work waited for its stock is looked for afterwards.

    Raises:
        Conflict: such a round was approved meanwhile.
        and as ``inventory.store.ledger.post``.
    """
    if posting.happened_at < desk.clock.now_utc():  # so is all that happens on an earlier day that is worked on
        kept = keep_counts(desk, posting.documents, posting.happened_at)
        return ledger.post(desk.session, replace(posting, documents=(*posting.documents, *kept)))
    posted = ledger.post(desk.session, posting)
    if counting.read_meanwhile(desk.session, posted.documents.values(), posting.happened_at):
        raise Conflict("Somebody counted this stock at the same moment.", "Nothing was changed; try again.")
    return posted


def keep_counts(desk: Desk, drafts: Collection[Draft], happened_at: datetime) -> tuple[Draft, ...]:
    """The further document that keeps later counts in force; nothing where none was counted."""
    targets = {entry.target for draft in drafts for entry in draft.entries}
    lots = {target.lot_id for target in targets if not isinstance(target, int)}
    holdings = [target for target in targets if isinstance(target, int)]
    ledger.lock_lots(desk.session, lots | {stand.lot_id for stand in stands_of(desk.session, holdings).values()})
    stacks = counting.sealed_stacks(desk.session, lots) if lots else {}
    changes: dict[Target, int] = defaultdict(int)
    for draft in drafts:
        for entry in draft.entries:
            changes[_known(entry.target, stacks)] += entry.qty
    counted = _counted(desk, changes, happened_at)
    entries = tuple(
        Entry(target, MovementKind.COUNT, qty) for target, qty in put_back(changes, counted).items()
    )  # fmt: skip
    if not entries:
        return ()
    visits = {draft.visit_id for draft in drafts}
    part = max(draft.part for draft in drafts) + 1
    visit_id = visits.pop() if len(visits) == 1 else None
    return (Draft(DocumentKind.COUNT, entries, part, reason=COUNT_AGAIN, visit_id=visit_id),)


def _known(target: Target, stacks: dict[tuple[int, int], int]) -> Target:
    """A sealed stack by its number, where it has one, so that each shelf has one name."""
    return stacks.get((target.lot_id, target.place_id), target) if isinstance(target, Sealed) else target


def _counted(desk: Desk, targets: Iterable[Target], happened_at: datetime) -> set[Target]:
    """Which shelves were counted since; a unit that was opened then is among what was counted of its lot there."""
    holdings = [target for target in targets if isinstance(target, int)]
    counted: set[Target] = set(counting.counted_after(desk.session, holdings, happened_at))
    new = [target for target in targets if not isinstance(target, int)]
    if not new:
        return counted
    readings = counting.read_after(desk.session, {target.lot_id for target in new}, happened_at)
    seen = {(one.lot_id, one.place_id) for one in readings}
    stacks = {(one.lot_id, one.place_id) for one in readings if one.opened_on is None}
    counted.update(
        target for target in new if (target.lot_id, target.place_id) in (seen if isinstance(target, Opened) else stacks)
    )
    return counted


def moment(desk: Desk, on: date, at: time | None) -> datetime:
    """The instant of something that happened on a day: at a time, else now for today and noon for another day.

    Raises:
        BadInput: it is still to come.
    """
    if at is None:
        return desk.moment(on)
    there = datetime.combine(on, at, tzinfo=desk.zone)
    if there > desk.now:
        raise BadInput(f"time: {at:%H:%M} on {on} is still to come.", "Give the time when it happened.")
    return there


def same_day(desk: Desk, holding_ids: Collection[int], on: date) -> Iterator[tuple[int, str, str]]:
    """Which of some holdings were counted on a day, when in words, and how the day alone is taken: before, or after."""
    start = datetime.combine(on, time(), tzinfo=desk.zone)
    end = datetime.combine(on + timedelta(days=1), time(), tzinfo=desk.zone) - timedelta(microseconds=1)
    taken = desk.moment(on)
    for holding, at in sorted(counting.read_between(desk.session, holding_ids, start, end).items()):
        yield holding, f"{at.astimezone(desk.zone):%Y-%m-%d at %H:%M}", "before" if taken < at else "after"

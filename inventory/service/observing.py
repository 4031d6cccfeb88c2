"""What there is to learn from: rounds of counting with what happened between them, and amounts that people entered.

*Counts.* A round that read everything of an article says what is there; two of them say what disappeared between. What
was booked for a visit is mostly the form's own expectation, so it is not asked for the amount: it says which attempts
there were, and what stayed in tips and was purged. Where a person had entered another amount, that is an observation of
its own, and the interval is asked only for the rest. Deliveries, returns and sealed units thrown away are known.

*Rests.* Of an opened unit whose rest is written off, or that is thrown away, the book knows only what its own
expectation left; taken for known, it would confirm the expectation for ever. So what such a rest holds is one more
unknown, learned with the others: between nothing and the least that any step draws of the article, all alike likely; or
between nothing and a full unit, where it was discarded or the book believes in more than a third of a unit. A unit
booked as used up was empty: nothing goes then.

*Forgetting.* A reset of a need forgets what was before it: an attempt before the reset is asked as one of another,
unknown need, so that the counts around it still teach about the others. A practice that changed its ways on a day
forgets everything before that day.
"""

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import sqrt

from inventory.domain import count_intervals
from inventory.domain import learning as law
from inventory.domain.count_intervals import Attempt, Counted, Flow
from inventory.domain.learning import Count, Entered, Interval, Prior
from inventory.service.practice import Desk
from inventory.store.queries import counting, planning
from inventory.store.queries import learning as query
from inventory.store.queries.counting import CountedItem
from inventory.store.queries.learning import AttemptRow, EnteredRow

MOST = 100  # newest amounts entered that are asked of each step: they tell its mean to a tenth of its spread
MOST_COUNTS = 80  # newest counts of each article: older weekly ones tell hardly anything that they don't
MUCH = 3  # a booked rest of more than one such part of a unit may be anything (tests/benchmarks/learning.py)
LOOK_BACK_WEEKS = int(4 * law.HALF_LIFE_WEEKS)  # older ones would count for less than a sixteenth

Key = tuple[int, int]
"""A need and how often it was reset by then: what was before a reset is asked as another need.

Rests are needs too: the article's number, negative, with 0 for a little written off and 1 for what may be more.
"""


@dataclass(frozen=True, slots=True)
class CountKey:
    """Names a count of an article: the round, and the moment of its last reading."""

    item_id: int
    round_id: int
    at: datetime


@dataclass(frozen=True, slots=True)
class Wanted:
    """A need to be learned: what is believed of it, the articles that serve it, when it was reset."""

    prior: Prior
    articles: tuple[int, ...]
    resets: tuple[datetime, ...] = ()

    @property
    def epoch(self) -> int:
        """The present one."""
        return len(self.resets)


@dataclass(frozen=True, slots=True)
class Observed:
    """All there is to learn from, and what is believed of everything in it."""

    priors: Mapping[Key, Prior]
    intervals: tuple[Interval[Key], ...]
    entered: tuple[Entered[Key], ...]
    rows: Mapping[int, Sequence[EnteredRow]]  # by need: the amounts entered


def since(desk: Desk) -> date:
    """The first day that is asked: the practice's last big change, else as far back as anything counts."""
    first = desk.today - timedelta(weeks=LOOK_BACK_WEEKS)
    changed = str(desk.settings["practice_changed_on"])
    return max(first, date.fromisoformat(changed)) if changed else first


def observed(desk: Desk, needs: Mapping[int, Wanted]) -> Observed:
    """Everything observed of some needs, by their numbers."""
    rows: dict[int, list[EnteredRow]] = defaultdict(list)
    for row in query.entered(desk.session, since(desk)):
        need = needs.get(row.need_id)
        if need and len(rows[row.need_id]) < MOST and all(row.happened_at > moment for moment in need.resets):
            rows[row.need_id].append(row)
    intervals = tuple(_intervals(desk, needs))
    priors = {(number, need.epoch): need.prior for number, need in needs.items()}
    for key in {key for interval in intervals for key in interval.attempts}:
        priors.setdefault(key, needs[key[0]].prior if key[0] > 0 else _rest(desk, key, needs))
    return Observed(priors, intervals, tuple(_entered(desk, rows, needs)), rows)


def _rest(desk: Desk, key: Key, needs: Mapping[int, Wanted]) -> Prior:
    """What is believed of a rest: anything up to the least that a step draws, or up to a full unit, alike likely."""
    item_id, much = -key[0], key[1] == 1
    unit = float(planning.items(desk.session, [item_id])[item_id].unit_qty)
    drawn = [need.prior.mean for need in needs.values() if item_id in need.articles]
    most = unit if much else min([*drawn, unit])
    return Prior(most / 2, most / sqrt(12))


def _intervals(desk: Desk, needs: Mapping[int, Wanted]) -> list[Interval[Key]]:
    """What disappeared of each article between its counts."""
    begin = datetime.combine(since(desk), time(), tzinfo=desk.zone)
    counted: dict[int, list[CountedItem]] = defaultdict(list)
    for one in counting.counted_items(desk.session, begin):
        if one.complete and one.at >= begin:
            counted[one.item_id].append(one)
    newest = {item: found[-MOST_COUNTS:] for item, found in counted.items() if len(found) > 1}
    if not newest:
        return []
    first = min(found[0].at for found in newest.values())
    flows: dict[int, list[Flow]] = defaultdict(list)
    for row in query.flows(desk.session, newest, first):
        flows[row.item_id].append(Flow(row.qty, row.happened_at))
    attempts = _attempts(desk, query.attempts(desk.session, newest, first), needs)
    for rest in query.rests(desk.session, newest, first):
        more = rest.discarded or MUCH * rest.booked_qty > rest.unit_qty
        attempts[rest.item_id].append(Attempt((-rest.item_id, int(more)), 0, rest.happened_at))
    return [
        interval
        for item, found in newest.items()
        for interval in count_intervals.intervals(
            [_as_count(one) for one in found], flows[item], attempts[item], desk.now
        )
        if any(need > 0 for need, _ in interval.attempts)
    ]


def _as_count(one: CountedItem) -> Counted:
    count = Count(CountKey(one.item_id, one.round_id, one.at), one.reading_unit_qty, one.readings)
    return Counted(count, one.counted_qty, one.at)


def _attempts(desk: Desk, rows: Collection[AttemptRow], needs: Mapping[int, Wanted]) -> dict[int, list[Attempt[Key]]]:
    """By article: what its attempts were for, and what is known of each.

    All of it is known where a person entered it, where the form did not expect it, and where one attempt took from two
    articles: then no count can say what of it came from which.
    """
    purged = query.purged(desk.session, {row.document_id for row in rows})
    units = {number: item.unit_qty for number, item in planning.items(desk.session, {r.item_id for r in rows}).items()}
    of_attempt = Counter((row.document_id, row.need_id, row.attempt) for row in rows)
    found: dict[int, list[Attempt[Key]]] = defaultdict(list)
    for row in rows:
        need = needs.get(row.need_id or 0)
        alone = of_attempt[row.document_id, row.need_id, row.attempt] == 1
        if need and row.need_id and alone and row.actual_qty == row.expected_qty:
            kept = purged.get((row.document_id, row.item_id, row.step, row.arch, row.attempt), 0)
            key = row.need_id, sum(moment < row.happened_at for moment in need.resets)
            found[row.item_id].append(Attempt(key, kept, row.happened_at))
        else:
            unit = reading_unit(row.actual_qty, units[row.item_id])
            found[row.item_id].append(Attempt(None, row.actual_qty, row.happened_at, unit**2 / 12))
    return found


def _entered(desk: Desk, rows: Mapping[int, Sequence[EnteredRow]], needs: Mapping[int, Wanted]) -> list[Entered[Key]]:
    """What was entered as observations, net of tip volume and purge."""
    every = [row for group in rows.values() for row in group]
    purged = query.purged(desk.session, {row.document_id for row in every})
    items = planning.items(desk.session, {row.item_id for row in every})
    found = []
    for row in every:
        kept = purged.get((row.document_id, row.item_id, row.step, row.arch, row.attempt), 0)
        unit = reading_unit(row.actual_qty, items[row.item_id].unit_qty)
        age = (desk.today - row.happened_on) / timedelta(weeks=1)
        key = row.need_id, needs[row.need_id].epoch
        found.append(Entered(key, row.actual_qty - kept, unit, name_of(row), age))
    return found


def name_of(row: EnteredRow) -> tuple[int, int, int]:
    """What names an amount entered among the observations."""
    return row.document_id, row.need_id, row.attempt


def reading_unit(qty: int, unit_qty: int) -> int:
    """The coarsest unit in which an amount may have been read: a tenth of a cartridge, 1, 0.1 or 0.01 mL or g.

    The book does not keep how an amount was typed, so the least exact reading that fits it is believed.
    """
    return next(unit for unit in (unit_qty // 10, 100, 10, 1) if unit and qty % unit == 0)

"""Take planned visits from a practice's calendar: files in, visits planned, changed and cancelled; all or nothing.

Which events are visits is a setting (``calendar_kinds``): a category, or a text of the summary, stands for a case kind.
A visit remembers its event by a keyed hash, so that a later export of the calendar changes or cancels it; an older
version of the event (a lower SEQUENCE) changes nothing, nor does the same file again. A visit that was done stays as it
is, and one that a person cancelled stays cancelled until the calendar has a newer version of its event. An event that
a file lacks says nothing: a file may hold a week only.
"""

import secrets
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from enum import StrEnum
from typing import NoReturn

from inventory.domain.vocabulary import VisitState
from inventory.errors import AlreadyDone, BadInput
from inventory.service import visits
from inventory.service.calendar_days import HASH_SIGNS, Match, Occurrence, Reading, Series
from inventory.service.calendar_events import Calendar, read_files
from inventory.service.practice import Desk, Practice
from inventory.service.visits import VisitPlan
from inventory.store.queries import people
from inventory.store.queries import visits as query
from inventory.store.queries.receiving import one_at_a_time
from inventory.store.tables import CaseKind, Place, Visit

KEY = "calendar"  # under which name the secret of the hashes is kept
REASON = "by the calendar"
MOST_FILES = 1_000


class Outcome(StrEnum):
    """What became of a day of the calendar."""

    PLANNED = "planned"
    CHANGED = "changed"
    CANCELLED = "cancelled"
    LEFT = "left"


@dataclass(frozen=True, slots=True)
class CalendarVisit:
    """A visit that the calendar touched; ``why`` says in words what changed, or why it was left alone."""

    visit_id: int
    case_ref: str
    on: date
    case_kind: str
    outcome: Outcome
    why: str


@dataclass(frozen=True, slots=True)
class CalendarRead:
    """What reading a calendar did.

    Attributes:
        files, events: how many were read.
        passed_over: events of no kind of visit.
        damaged: events with lines that can't be read.
        past: days of visits before today that were not known; they are not planned.
        unchanged: visits that stand as the calendar has them.
        visits: those planned, changed, cancelled, or left alone for a reason, by day.
        dry_run: nothing was kept.
    """

    files: int
    events: int
    passed_over: int
    damaged: int
    past: int
    unchanged: int
    visits: tuple[CalendarVisit, ...]
    dry_run: bool

    def count(self, outcome: Outcome) -> int:
        """Visits of which this became."""
        return sum(visit.outcome is outcome for visit in self.visits)


class _OnlyTried(Exception):
    """No error: it ends a trial run so that the unit of work is rolled back."""

    def __init__(self, result: CalendarRead) -> None:
        super().__init__()
        self.result = result


def read_calendar(practice: Practice, files: Sequence[bytes], *, by: str, dry_run: bool = False) -> CalendarRead:
    """Read calendar files and plan, change and cancel visits by them.

    Args:
        practice: the practice at work.
        files: the contents of the files, in the order of their names.
        by: initials.
        dry_run: say what would be done, keep nothing.

    Raises:
        BadInput: a file is not a calendar, an event that is a visit can't be read, or the practice has not said which
            events are visits; nothing was taken in. No message holds an event's text.
        NotFound: unknown initials, or the setting names a case kind that there isn't.
        AlreadyDone: a colleague read the practice's first calendar at the same moment.
    """
    if not 1 <= len(files) <= MOST_FILES:
        raise BadInput(f"There are {len(files)} calendar files.", f"Name a file, or a folder of 1 to {MOST_FILES}.")
    with practice.reading() as desk:
        desk.person(by)
        secret = people.secret(desk.session, KEY) or secrets.token_hex(32)
        reading = _reading(desk, secret)
    calendar = read_files(files, reading)  # outside the unit of work: it takes its time
    try:
        with practice.writing() as desk:
            result = _take_in(desk, calendar, reading, by=by, files=len(files), dry_run=dry_run)
            return _end_trial(result) if dry_run else result
    except _OnlyTried as tried:
        return tried.result


def _end_trial(result: CalendarRead) -> NoReturn:
    raise _OnlyTried(result)


def _reading(desk: Desk, secret: str) -> Reading:
    kinds: dict[str, str] = desk.settings["calendar_kinds"]
    if not kinds:
        raise BadInput(
            "The practice has not said which events of its calendar are visits.",
            "Say it by a category or a text of the summary, e.g. "
            """settings set calendar_kinds '{"Final impression": "final_stock_tray"}'.""",
        )
    return Reading(
        matches=tuple(_match(text, kind) for text, kind in kinds.items()),
        word=desk.settings["calendar_reference"],
        zone=desk.zone,
        since=desk.today,
        until=desk.today + timedelta(days=desk.settings["horizon_days"]),
        secret=bytes.fromhex(secret),
    )


def _match(text: str, kind: str) -> Match:
    code, _, arch = kind.partition(" ")
    return Match(text, code, arch)


def _take_in(desk: Desk, calendar: Calendar, reading: Reading, *, by: str, files: int, dry_run: bool) -> CalendarRead:
    one_at_a_time(desk.session, "calendar")
    _keep_secret(desk, reading.secret.hex())
    names = {one.series for one in calendar.occurrences}
    by_series: dict[str, list[Visit]] = defaultdict(list)
    for row in query.from_calendar(desk.session, names):
        by_series[(row.source_key or "")[:HASH_SIGNS]].append(row)
    taken = _Intake(desk, desk.person(by), reading)
    days: dict[str, list[Occurrence]] = defaultdict(list)
    for one in calendar.occurrences:
        days[one.series].append(one)
    whole = {one.series: one for one in calendar.series}
    for name in sorted(days, key=lambda name: min((one.on or date.max) for one in days[name])):
        taken.series(days[name], by_series[name], whole.get(name))
    return CalendarRead(
        files, calendar.events, calendar.passed_over, calendar.damaged, taken.past, taken.unchanged,
        tuple(sorted(taken.told, key=lambda visit: (visit.on, visit.visit_id))), dry_run,
    )  # fmt: skip


def _keep_secret(desk: Desk, secret: str) -> None:
    kept = people.secret(desk.session, KEY)
    if kept is None:
        people.keep_secret(desk.session, KEY, secret)
    elif kept != secret:
        raise AlreadyDone("A colleague read the practice's first calendar at this moment.", "Read it again.")


@dataclass
class _Intake:
    """Brings the visits of one entry of the calendar after the other to where the calendar has them."""

    desk: Desk
    person_id: int
    reading: Reading
    past: int = 0
    unchanged: int = 0
    told: list[CalendarVisit] = field(default_factory=list)

    def series(self, days: Sequence[Occurrence], known: Sequence[Visit], whole: Series | None) -> None:
        """Take in all days of one entry, given the visits that came from it."""
        off = next((one for one in days if one.cancelled and not one.instance), None)
        if off is not None:
            for row in known:
                self._call_off(row, off.sequence)
            return
        rows = {row.source_key: row for row in known}
        spare = self._spare(days, known, whole)
        for one in days:
            known_row = rows.get(one.key)
            if known_row is None and one.on is not None and one.match is not None:
                known_row = spare.pop(one.on, None)
            self._day(one, known_row)
        for row in spare.values():
            self._call_off(row, whole.sequence if whole else 0)

    def _spare(self, days: Iterable[Occurrence], known: Iterable[Visit], whole: Series | None) -> dict[date, Visit]:
        """Visits of the entry that are still to come, on days that it has no more; by day."""
        keys = {one.key for one in days}
        return {
            row.on: row
            for row in known
            if whole is not None
            and row.state is VisitState.PLANNED
            and row.source_key not in keys
            and self.reading.since <= row.on <= (whole.until or date.max)
        }

    def _day(self, one: Occurrence, row: Visit | None) -> None:
        if row is None:
            if one.match is not None and not one.cancelled and one.on is not None:
                self._plan(one, one.on, one.match)
        elif one.cancelled:
            self._call_off(row, one.sequence)
        elif one.match is None:
            if row.state is VisitState.PLANNED:
                self._tell(row, Outcome.LEFT, "its event says no kind of visit any more; cancel it if it is off")
        elif one.on is not None:
            self._change(row, one, one.on, one.match)

    def _plan(self, one: Occurrence, on: date, match: Match) -> None:
        if on < self.reading.since:
            self.past += 1
            return
        request = VisitPlan(
            one.case_ref or self._drawn(one.series), on, match.case_kind, upper=match.upper, lower=match.lower
        )
        number = visits.plan_within(
            self.desk, self.person_id, request, reason=REASON, source_key=one.key, source_sequence=one.sequence
        )
        self._tell(self.desk.session.get_one(Visit, number), Outcome.PLANNED, "")

    def _drawn(self, series: str) -> str:
        """A reference that tells nothing; the same for all days of one entry, and of no other case."""
        for turn in range(1_000):
            number = int(self.reading.hashed("case", series, str(turn)), 16) % 10**8
            reference = f"CAL-{number // 10**4:04}-{number % 10**4:04}"
            others = query.visits(self.desk.session, case_ref=reference)
            if not others or series in {self._series_of(row.id) for row in others}:
                return reference
        raise BadInput("No case reference is free.", "Ask for help.")  # pragma: no cover - a thousand times in a row

    def _series_of(self, visit_id: int) -> str:
        key = self.desk.session.get_one(Visit, visit_id).source_key or ""
        return key[:HASH_SIGNS]

    def _change(self, row: Visit, one: Occurrence, on: date, match: Match) -> None:
        seen = row.source_sequence or 0
        if row.state is VisitState.DONE or one.sequence < seen:
            self.unchanged += 1
            return
        again = row.state is VisitState.CANCELLED
        if again and (one.sequence == seen or on < self.reading.since):
            self.unchanged += 1
            return
        now = self._as_planned(row)
        wanted = replace(now, on=on)
        if match.arch:
            wanted = replace(wanted, upper=match.upper, lower=match.lower)
        if one.case_ref and row.remake_of_id is None:
            wanted = replace(wanted, case_ref=one.case_ref)
        if match.case_kind != now.case_kind:
            wanted = replace(wanted, case_kind=match.case_kind, upper_size=None, lower_size=None)
        row.source_key, row.source_sequence = one.key, one.sequence
        if again:
            row.state = VisitState.PLANNED
            self.desk.log_change(self.person_id, "visit", row.id, {"state": ("cancelled", "planned")}, REASON)
        if wanted == now and not again:
            self.unchanged += 1
            return
        visits.change_within(self.desk, self.person_id, row, wanted, reason=REASON)
        self._tell(row, Outcome.CHANGED, _difference(now, wanted, again=again))

    def _as_planned(self, row: Visit) -> VisitPlan:
        place = self.desk.session.get_one(Place, row.place_id).name if row.place_id else None
        return VisitPlan(
            row.case_ref, row.on, self._kind(row), row.upper, row.lower, row.upper_size, row.lower_size, place,
            row.remake_of_id, row.remake_asked_by, row.note,
        )  # fmt: skip

    def _call_off(self, row: Visit, sequence: int) -> None:
        """Cancel a planned visit, unless a newer version of its event was read before."""
        if row.state is not VisitState.PLANNED or sequence < (row.source_sequence or 0):
            self.unchanged += 1
            return
        row.source_sequence = sequence
        visits.cancel_within(self.desk, self.person_id, row, REASON)
        self._tell(row, Outcome.CANCELLED, "")

    def _tell(self, row: Visit, outcome: Outcome, why: str) -> None:
        self.told.append(CalendarVisit(row.id or 0, row.case_ref, row.on, self._kind(row), outcome, why))

    def _kind(self, row: Visit) -> str:
        return self.desk.session.get_one(CaseKind, row.case_kind_id).code


def _difference(before: VisitPlan, after: VisitPlan, *, again: bool) -> str:
    """What changed, in words."""
    parts = ["planned again"] if again else []
    if before.on != after.on:
        parts.append(f"was on {before.on.isoformat()}")
    if before.case_kind != after.case_kind:
        parts.append(f"was {before.case_kind}")
    if before.case_ref != after.case_ref:
        parts.append(f"was case {before.case_ref}")
    if (before.upper, before.lower) != (after.upper, after.lower):
        parts.append("other arches")
    return ", ".join(parts)

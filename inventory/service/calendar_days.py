"""The days that events of a calendar have, repetitions expanded over a window of days (iCalendar, RFC 5545).

The Gregorian calendar repeats every 400 years, so a rule is asked in the last such cycles before the year 9999: there
the library's search for a day that never comes ends soon.
"""

import hashlib
import hmac
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta, tzinfo
from itertools import takewhile
from typing import Any
from zoneinfo import ZoneInfo

CYCLE = 400
HASH_SIGNS = 32  # half a source key each: which entry of the calendar, and which day of a recurring one


@dataclass(frozen=True, slots=True)
class Match:
    """A kind of visit that events may be, and by which category or text (``*`` stands for anything) they are known.

    ``arch`` is upper or lower, or empty where the text says nothing of it.
    """

    text: str
    case_kind: str
    arch: str = ""

    @property
    def upper(self) -> bool:
        return self.arch != "lower"

    @property
    def lower(self) -> bool:
        return self.arch != "upper"


@dataclass(frozen=True, slots=True)
class Reading:
    """How the practice reads a calendar.

    Attributes:
        matches: which events are visits; the longest text that fits decides, a category before a summary.
        word: what stands before a case reference in an event, e.g. ``case``.
        zone: the practice's time zone.
        since, until: the days over which recurring events are expanded, inclusive.
        secret: key of the hashes.
    """

    matches: tuple[Match, ...]
    word: str
    zone: ZoneInfo
    since: date
    until: date
    secret: bytes = field(repr=False)

    def hashed(self, *parts: str) -> str:
        """A keyed hash of some text, in hexadecimal."""
        text = "\0".join(parts).encode()
        return hmac.new(self.secret, text, hashlib.sha256).hexdigest()[:HASH_SIGNS]


@dataclass(frozen=True, slots=True)
class Occurrence:
    """A day on which the calendar has a visit, or has called one off.

    Attributes:
        series: keyed hash of the event's identifier.
        instance: keyed hash of which day of a recurring event it is; empty for a single event, and for all days of one.
        sequence: how often the event was changed.
        on: the practice-local day; None where only a cancellation is known.
        match: what kind of visit, None where the event says none (any more).
        case_ref: the reference found in it, empty for none.
        cancelled: called off.
    """

    series: str
    instance: str
    sequence: int
    on: date | None
    match: Match | None
    case_ref: str
    cancelled: bool

    @property
    def key(self) -> str:
        return self.series + self.instance


@dataclass(frozen=True, slots=True)
class Series:
    """An entry of the calendar as a whole: a day of it after today that is not among the occurrences is off.

    Attributes:
        series: keyed hash of its identifier.
        sequence: how often it was changed.
        until: the last day that was looked at; None for all to come.
    """

    series: str
    sequence: int
    until: date | None


@dataclass(frozen=True, slots=True)
class Event:
    """One event without its text: what `Occurrence` has, and how it repeats.

    Attributes:
        stamp: when this version was written, to be compared as text.
        rule, until: its repetition by rule (empty for none), without and with its end.
        extra, left_out: further practice-local days, and days that the rule has and the event not.
    """

    series: str
    instance: date | None
    sequence: int
    stamp: str
    start: date | datetime | None
    rule: str
    until: date | datetime | None
    extra: tuple[date, ...]
    left_out: tuple[date, ...]
    match: Match | None
    case_ref: str
    cancelled: bool


def all_days(events: Sequence[Event], reading: Reading) -> tuple[tuple[Occurrence, ...], tuple[Series, ...]]:
    """Every day that the newest versions of the events have, and the recurring events themselves."""
    newest: dict[tuple[str, date | None], Event] = {}
    for event in sorted(events, key=lambda event: (event.sequence, event.stamp)):
        newest[event.series, event.instance] = event
    days: list[Occurrence] = []
    series: list[Series] = []
    for (name, instance), event in newest.items():
        recurs = instance is None and bool(event.rule or event.extra) and not event.cancelled
        if instance is None and event.match is not None and not event.cancelled:
            series.append(Series(name, event.sequence, reading.until if recurs else None))
        if not recurs:
            hashed = "" if instance is None else reading.hashed("day", name, instance.isoformat())
            on = None if event.start is None else local_day(event.start, reading.zone)
            days.append(_occurrence(event, hashed, on))
            continue
        days.extend(
            _occurrence(event, reading.hashed("day", name, day.isoformat()), day)
            for day in sorted(_expanded(event, reading))
            if (name, day) not in newest
        )
    return tuple(days), tuple(series)


def _occurrence(event: Event, instance: str, on: date | None) -> Occurrence:
    return Occurrence(event.series, instance, event.sequence, on, event.match, event.case_ref, event.cancelled)


def _expanded(event: Event, reading: Reading) -> set[date]:
    """The practice-local days of a recurring event within the window."""
    assert event.start is not None  # noqa: S101 - only a cancelled event may lack it
    days = {*event.extra, *(_by_rule(event, reading) if event.rule else {local_day(event.start, reading.zone)})}
    return {day for day in days if reading.since <= day <= reading.until} - set(event.left_out)


def _by_rule(event: Event, reading: Reading) -> Iterator[date]:
    from dateutil.rrule import rrulestr  # noqa: PLC0415 - only with a recurring event

    start, zone = event.start, event.start.tzinfo if isinstance(event.start, datetime) else None
    assert start is not None  # noqa: S101 - see above
    first = _naive(start, zone, time.min)
    last = datetime.combine(reading.until + timedelta(days=1), time.max)
    if event.until is not None:
        last = min(last, _naive(event.until, zone, time.max))
    if last < first:
        return
    years = (9999 - last.year) // CYCLE * CYCLE
    rule: Any = rrulestr(f"RRULE:{event.rule}", dtstart=_later(first, years))
    end = _later(last, years)
    for moment in takewhile(lambda moment: moment <= end, rule):
        local = _later(moment, -years)
        yield local.date() if zone is None else local_day(local.replace(tzinfo=zone), reading.zone)


def _naive(moment: date | datetime, zone: tzinfo | None, at: time) -> datetime:
    """A moment by the clock of the event's own zone; of a day, this time."""
    if not isinstance(moment, datetime):
        return datetime.combine(moment, at)
    return (moment.astimezone(zone) if moment.tzinfo and zone else moment).replace(tzinfo=None)


def _later(moment: datetime, years: int) -> datetime:
    """The same day and weekday so many years on, in whole cycles of the calendar."""
    return moment.replace(year=moment.year + years)


def local_day(moment: date | datetime, zone: ZoneInfo) -> date:
    """The day it is at the practice; a moment without a zone is meant as the practice's clocks show it."""
    if not isinstance(moment, datetime):
        return moment
    return moment.astimezone(zone).date() if moment.tzinfo else moment.date()

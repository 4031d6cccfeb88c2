"""Read calendar files (iCalendar, RFC 5545) and keep only what a visit needs: when, which kind, which case reference.

A practice calendar's summary is usually a name. So its text is looked at here, in memory, and goes no further: neither
into what this module returns nor into its errors, which name an event by its place in the file. An event's identifier
becomes a keyed hash at once (HMAC with SHA-256, RFC 2104), which says nothing without the practice's secret.
"""

import re
import warnings
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from inventory.errors import BadInput
from inventory.service.calendar_days import Event, Match, Occurrence, Reading, Series, all_days, local_day
from inventory.service.visits import checked_case_ref

MOST_BYTES = 20_000_000
MOST_TEXT = 5_000  # signs of a text that are looked at
YEARS = range(1900, 2200)
WITHIN_A_DAY = ("HOURLY", "MINUTELY", "SECONDLY")
_LIKE_A_DATE = re.compile(r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}")


@dataclass(frozen=True, slots=True)
class Calendar:
    """What some files say: events read, those of no kind of visit, those with damaged lines; days and whole series."""

    events: int
    passed_over: int
    damaged: int
    occurrences: tuple[Occurrence, ...]
    series: tuple[Series, ...]


def read_files(files: Sequence[bytes], reading: Reading) -> Calendar:
    """Read calendar files together; of an event that they have several times the newest counts.

    Raises:
        BadInput: a file is not a calendar, or an event that is a visit can't be read; the message has no text of it.
    """
    events: list[Event] = []
    faults: list[str] = []
    damaged = 0
    for number, data in enumerate(files, 1):
        where = f"File {number} of the folder, by name: " if len(files) > 1 else ""
        for place, (raw, called_off) in enumerate(_raw_events(data, where), 1):
            damaged += bool(raw.errors)
            try:
                events.append(_event(raw, reading, called_off=called_off))
            except _Unreadable as fault:
                faults.append(f"{where}Event {place}: {fault}")
            except Exception:  # noqa: BLE001 - a broken value of the library; the log must not get its message
                faults.append(f"{where}Event {place}: it can't be read")
    if faults:
        more = f" And {len(faults) - 5} more." if len(faults) > 5 else ""
        raise BadInput(
            f"{'; '.join(faults[:5])}.{more}", "Nothing was taken in. Correct these in the calendar and export it anew."
        )
    occurrences, series = all_days(events, reading)
    passed_over = sum(event.match is None and not event.cancelled for event in events)
    return Calendar(len(events), passed_over, damaged, occurrences, series)


class _Unreadable(Exception):
    """A part of an event that is a visit can't be read; says which part, never what it holds."""


def _raw_events(data: bytes, where: str) -> list[tuple[Any, bool]]:
    """The file's events as the library has them, and whether the whole file calls them off (RFC 5546)."""
    import icalendar  # noqa: PLC0415 - a third of a second

    text = _decoded(data, where)
    _check_whole(text, where)
    try:
        with warnings.catch_warnings():  # of guessed time zones: they quote the file
            warnings.simplefilter("ignore")
            calendars = icalendar.Calendar.from_ical(text, multiple=True)
        found = [
            (event, str(calendar.get("METHOD", "")).upper() == "CANCEL")
            for calendar in calendars
            if calendar.name == "VCALENDAR"
            for event in calendar.walk("VEVENT")
        ]
    except Exception:  # noqa: BLE001 - whatever a damaged file does to the library; its message may hold a name
        raise BadInput(f"{where}A line can't be read as a calendar's.", _EXPORT) from None
    if not any(calendar.name == "VCALENDAR" for calendar in calendars):
        raise BadInput(f"{where}There is no calendar in the file.", _EXPORT)
    return found


_EXPORT = "Nothing was taken in. Export the calendar anew, as iCalendar (.ics)."


def _decoded(data: bytes, where: str) -> str:
    if len(data) > MOST_BYTES:
        raise BadInput(f"{where}The file is larger than {MOST_BYTES // 1_000_000} MB.", "Export fewer months.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _check_whole(text: str, where: str) -> None:
    """Refuse a file that was cut off: the library would silently leave out what has no end."""
    open_parts: list[str] = []
    for number, line in enumerate(text.splitlines(), 1):
        word, colon, name = line.strip().upper().partition(":")
        if colon and word == "BEGIN":
            open_parts.append(name)
        elif colon and word == "END" and (not open_parts or open_parts.pop() != name):
            raise BadInput(f"{where}Line {number} ends what did not begin.", _EXPORT)
    if open_parts:
        raise BadInput(f"{where}The file was cut off: its end is missing.", _EXPORT)


# one event


def _event(raw: Any, reading: Reading, *, called_off: bool) -> Event:
    """What is kept of an event.

    Raises:
        _Unreadable: it is a visit, or calls one off, and a part of it can't be read.
    """
    texts = _Texts.of(raw)
    match = texts.match(reading.matches)
    cancelled = called_off or _text(raw, "STATUS").upper() == "CANCELLED"
    uid = _text(raw, "UID")
    if match is None and not cancelled:  # only its identifier matters: a visit may have come from it
        return Event(reading.hashed("event", uid), _quiet_day(raw, reading), 0, "", None, "", None, (), (), None, "",
                      cancelled=False)  # fmt: skip
    if not uid:
        raise _Unreadable("it has no identifier (UID)")
    _check_parts(raw)
    start = _moment(raw, "DTSTART")
    if start is None and not cancelled:
        raise _Unreadable("it has no start (DTSTART)")
    instance = _moment(raw, "RECURRENCE-ID")
    return Event(
        series=reading.hashed("event", uid),
        instance=None if instance is None else local_day(instance, reading.zone),
        sequence=max(0, min(_number(raw, "SEQUENCE"), 2**31 - 1)),
        stamp=_stamp(raw),
        start=start,
        rule=_rule(raw),
        until=_until(raw),
        extra=_days(raw, "RDATE", reading.zone),
        left_out=_days(raw, "EXDATE", reading.zone),
        match=match,
        case_ref=texts.case_ref(reading.word),
        cancelled=cancelled,
    )


_PARTS = {
    "UID": "its identifier (UID)", "DTSTART": "its start (DTSTART)", "SEQUENCE": "its number of changes (SEQUENCE)",
    "RRULE": "its repetition (RRULE)", "RDATE": "its further days (RDATE)", "EXDATE": "its days left out (EXDATE)",
    "RECURRENCE-ID": "which day of a repetition it is (RECURRENCE-ID)", "STATUS": "its state (STATUS)",
}  # fmt: skip


def _check_parts(raw: Any) -> None:
    for name, _ in raw.errors:
        part = _PARTS.get(str(name).upper())
        if part:
            raise _Unreadable(f"{part} can't be read")
    for name in ("UID", "DTSTART", "SEQUENCE", "RRULE", "RECURRENCE-ID"):
        if isinstance(raw.get(name), list):
            raise _Unreadable(f"{_PARTS[name]} is there twice")
    if "RANGE" in getattr(raw.get("RECURRENCE-ID"), "params", {}):
        raise _Unreadable("it changes all later days of a repetition at once, which can't be read")


@dataclass(frozen=True, slots=True)
class _Texts:
    """The texts of an event while it is read; never part of an answer."""

    categories: tuple[str, ...]
    summary: str
    description: str

    @classmethod
    def of(cls, raw: Any) -> "_Texts":
        return cls(_categories(raw), _text(raw, "SUMMARY"), _text(raw, "DESCRIPTION"))

    def match(self, matches: Iterable[Match]) -> Match | None:
        """The match with the longest text that fits, a category before the summary."""
        longest_first = sorted(matches, key=lambda match: -len(match.text))
        for match in longest_first:
            if any(_pattern(match.text).fullmatch(category) for category in self.categories):
                return match
        return next((match for match in longest_first if _pattern(match.text).search(self.summary)), None)

    def case_ref(self, word: str) -> str:
        """What stands behind the word for a case reference, if it is one by the practice's rule and not a date."""
        if not word:
            return ""
        behind = re.compile(rf"(?<!\w){re.escape(word)}[\s:#]+([A-Za-z0-9][A-Za-z0-9/._-]*)(?!\w)", re.IGNORECASE)
        for text in (self.summary, self.description):
            for found in behind.findall(text):
                reference = found.rstrip("._-/")
                if not _LIKE_A_DATE.fullmatch(reference):
                    try:
                        return checked_case_ref(reference)
                    except BadInput:
                        continue
        return ""


def _pattern(text: str) -> re.Pattern[str]:
    """A text as it is looked for: whole words, ``*`` for anything, blanks and capitals of no account."""
    parts = (r"\s+".join(map(re.escape, part.split(" "))) for part in " ".join(text.split()).split("*"))
    return re.compile(rf"(?<!\w){'.*?'.join(parts)}(?!\w)", re.IGNORECASE | re.DOTALL)


def _text(raw: Any, name: str) -> str:
    """A part of an event as text, its first where it is there several times; empty where it can't be read."""
    value = raw.get(name, "")
    value = value[0] if isinstance(value, list) and value else value
    try:
        return str(value)[:MOST_TEXT].strip()
    except Exception:  # noqa: BLE001 - a broken value of the library
        return ""


def _categories(raw: Any) -> tuple[str, ...]:
    values = raw.get("CATEGORIES", [])
    try:
        lists = [value.cats for value in (values if isinstance(values, list) else [values])]
        return tuple(str(each)[:MOST_TEXT].strip() for some in lists for each in some)
    except Exception:  # noqa: BLE001 - a broken value of the library
        return ()


def _number(raw: Any, name: str) -> int:
    value = raw.get(name, 0)
    return value if isinstance(value, int) else 0


def _moment(raw: Any, name: str) -> date | datetime | None:
    """A day, or a moment with or without its zone."""
    value = raw.get(name)
    if value is None:
        return None
    try:
        found = value.dt
    except Exception:  # noqa: BLE001 - a broken value of the library
        found = None
    if not isinstance(found, date) or found.year not in YEARS:
        raise _Unreadable(f"{_PARTS[name]} can't be read")
    return found


def _stamp(raw: Any) -> str:
    """When this version of the event was written, to be compared as text; empty where it doesn't say."""
    try:
        return str(raw.get("DTSTAMP").to_ical().decode())
    except Exception:  # noqa: BLE001 - absent, or a broken value of the library
        return ""


def _quiet_day(raw: Any, reading: Reading) -> date | None:
    try:
        instance = _moment(raw, "RECURRENCE-ID")
    except _Unreadable:
        return None
    return None if instance is None else local_day(instance, reading.zone)


def _days(raw: Any, name: str, zone: ZoneInfo) -> tuple[date, ...]:
    values = raw.get(name, [])
    found = []
    for value in values if isinstance(values, list) else [values]:
        try:
            moments = [each.dt for each in value.dts]
        except Exception:  # noqa: BLE001 - a broken value of the library
            raise _Unreadable(f"{_PARTS[name]} can't be read") from None
        for moment in moments:
            first = moment[0] if isinstance(moment, tuple) else moment  # a period begins with its start
            if not isinstance(first, date) or first.year not in YEARS:
                raise _Unreadable(f"{_PARTS[name]} can't be read")
            found.append(local_day(first, zone))
    return tuple(found)


def _rule(raw: Any) -> str:
    """The rule of a repetition without its end; empty for none."""
    from dateutil.rrule import rrulestr  # noqa: PLC0415 - only with a recurring event

    rule = raw.get("RRULE")
    if rule is None:
        return ""
    parts: Mapping[str, Any] = rule
    frequency = [str(word).upper() for word in parts.get("FREQ", [])]
    times = [name for name in ("BYHOUR", "BYMINUTE", "BYSECOND") if len(parts.get(name, [])) > 1]
    if len(frequency) != 1 or frequency[0] in WITHIN_A_DAY or times:
        raise _Unreadable("it repeats within a day, or not by a rule that can be read (RRULE)")
    if any(number < 1 for number in parts.get("INTERVAL", [])):
        raise _Unreadable(f"{_PARTS['RRULE']} can't be read")
    text = ";".join(part for part in str(rule.to_ical().decode()).split(";") if not part.upper().startswith("UNTIL="))
    try:
        rrulestr(f"RRULE:{text}", dtstart=datetime(YEARS.start, 1, 1))  # noqa: DTZ001 - only to see whether it is one
    except Exception:  # noqa: BLE001 - whatever a damaged rule does to the library
        raise _Unreadable(f"{_PARTS['RRULE']} can't be read") from None
    return text


def _until(raw: Any) -> date | datetime | None:
    ends = (raw.get("RRULE") or {}).get("UNTIL", [])
    if not ends:
        return None
    if not isinstance(ends[0], date):
        raise _Unreadable(f"{_PARTS['RRULE']} can't be read")
    return ends[0]

"""Visits from the practice's calendar: planned, moved and called off by it, and never a name from it."""

import re
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from inventory.domain.vocabulary import VisitState
from inventory.errors import BadInput
from inventory.service import booking, calendar_in, filling_in, setting_up, visits
from inventory.service.calendar_days import Match, Reading
from inventory.service.calendar_events import read_files
from inventory.service.calendar_in import CalendarRead, Outcome
from inventory.service.practice import Practice
from inventory.service.visits import VisitCard
from tests.clinic import Clinic
from tests.little_practice import IN_DATE
from tests.service.catalogue_samples import BY, TODAY
from tests.tui.commands import Ran, run, stocked, unlike
from tui.commands.calendar_shapes import CALENDAR_IN, CALENDAR_OUT

NAME = "Quirrenbach"  # stands for a patient's name in the calendar
KINDS = {"Final impression": "final_stock_tray", "reline*": "reline lower"}
NEXT = TODAY + timedelta(days=1)


def day(on: date, hour: int = 9) -> str:
    return datetime(on.year, on.month, on.day, hour).strftime("%Y%m%dT%H%M%S")  # noqa: DTZ001 - by the clock on the wall


def event(uid: str = "a1", on: date = NEXT, summary: str = f"{NAME} final impression", **parts: object) -> str:
    """Return one event; parts by name, ``_`` for ``-``, None leaves a part out."""
    known = {"UID": uid, "DTSTART": day(on), "SUMMARY": summary, "DESCRIPTION": f"call {NAME} before", **parts}
    lines = [f"{name.replace('_', '-')}:{value}" for name, value in known.items() if value is not None]
    return "\r\n".join(["BEGIN:VEVENT", *lines, "END:VEVENT"])


def event_with(part: str, value: str | None) -> str:
    """Return an event with one part of it as it is told; None leaves it out."""
    parts: dict[str, Any] = {part: value}
    return event(**parts)


def calendar(*events: str, method: str = "") -> bytes:
    head = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//test//test//EN", *([f"METHOD:{method}"] if method else [])]
    return "\r\n".join([*head, *events, "END:VCALENDAR", ""]).encode()


@pytest.fixture
def practice(clinic: Clinic) -> Practice:
    setting_up.change_settings(clinic.practice, {"calendar_kinds": KINDS, "time_zone": "Europe/Vienna"}, by=BY)
    return clinic.practice


def read(practice: Practice, *events: str, dry_run: bool = False, method: str = "") -> CalendarRead:
    return calendar_in.read_calendar(practice, [calendar(*events, method=method)], by=BY, dry_run=dry_run)


def booked(practice: Practice) -> list[VisitCard]:
    """Return the visits that are planned, from long ago to far ahead."""
    return list(visits.between(practice, date(2000, 1, 1), date(2199, 1, 1), state=VisitState.PLANNED))


def days(practice: Practice) -> list[int]:
    """Return on which days from today visits are planned."""
    return [(card.on - TODAY).days for card in booked(practice)]


on_sqlite = pytest.mark.parametrize("new_stores", ["sqlite"], indirect=True)  # two of the tests try both stores


# which events are visits, and what is known of them


@on_sqlite
def test_an_event_of_a_kind_becomes_a_visit_and_the_others_are_passed_over(practice: Practice) -> None:
    done = read(practice, event(), event("b", summary=f"{NAME} check-up"), event("c", CATEGORIES="x,RELINES"))
    first, second = booked(practice)
    assert (first.case_kind, first.arches, first.on) == ("final_stock_tray", first.arches, NEXT)
    assert (second.case_kind, second.upper, second.lower) == ("reline", False, True)
    assert re.fullmatch(r"CAL-\d{4}-\d{4}", first.case_ref)
    assert first.case_ref != second.case_ref
    assert (done.events, done.passed_over, done.count(Outcome.PLANNED)) == (3, 1, 2)


@on_sqlite
def test_the_same_file_read_twice_changes_nothing(practice: Practice) -> None:
    events = (event(), event("r", RRULE="FREQ=DAILY;COUNT=3"), event("x", STATUS="CANCELLED"))
    assert read(practice, *events, dry_run=True).count(Outcome.PLANNED) == 4
    assert booked(practice) == []
    read(practice, *events)
    before = booked(practice)
    again = read(practice, *events)
    assert (again.visits, again.unchanged, booked(practice)) == ((), 4, before)


@pytest.mark.parametrize(
    ("words", "reference"),
    [
        ("case C-104/2", "C-104/2"), ("CASE: c.7,", "c.7"), ("case #12", "12"),
        (f"case {NAME}", ""), ("case 3.12.1951", ""), ("suitcase 12", ""), ("case 12ä", ""), ("12 uses", ""),
    ],
)  # fmt: skip
def test_a_case_reference_is_taken_where_it_is_one(words: str, reference: str) -> None:
    found = read_files([calendar(event(summary=f"{NAME}, final impression, {words}"))], READING)
    assert [one.case_ref for one in found.occurrences] == [reference]


@on_sqlite
def test_the_word_before_a_reference_and_the_kinds_are_the_practices(practice: Practice) -> None:
    setting_up.change_settings(practice, {"calendar_reference": "Fall"}, by=BY)
    read(practice, event(DESCRIPTION=f"{NAME}\\nFall 77-b"))
    assert booked(practice)[0].case_ref == "77-b"
    for wrong in ({"a": ""}, {"a": "reline left"}, ["a"], {"a*b*c*d*": "reline"}, {" ": "reline"}):
        with pytest.raises(BadInput):
            setting_up.change_settings(practice, {"calendar_kinds": wrong}, by=BY)
    setting_up.change_settings(practice, {"calendar_kinds": {}}, by=BY)
    with pytest.raises(BadInput, match="which events"):
        read(practice, event())


# changes


@on_sqlite
def test_a_later_version_moves_the_visit_and_an_earlier_one_does_nothing(practice: Practice) -> None:
    read(practice, event(SEQUENCE=1))
    (first,) = booked(practice)
    moved = read(practice, event(on=NEXT + timedelta(days=2), SEQUENCE=2))
    assert [(one.outcome, one.why) for one in moved.visits] == [(Outcome.CHANGED, f"was on {NEXT}")]
    assert read(practice, event(SEQUENCE=1)).visits == ()
    (now,) = booked(practice)
    assert (now.visit_id, now.case_ref, now.on) == (first.visit_id, first.case_ref, NEXT + timedelta(days=2))
    other = read(practice, event(on=now.on, summary="Reline, case R-5", SEQUENCE=3)).visits[0]
    assert other.why == f"was final_stock_tray, was case {first.case_ref}, other arches"


@on_sqlite
def test_a_cancelled_event_cancels_its_visit_until_a_newer_version(practice: Practice) -> None:
    read(practice, event(), event("b"))
    assert read(practice, event(STATUS="CANCELLED", SUMMARY=None)).count(Outcome.CANCELLED) == 1
    assert read(practice, event("b", SEQUENCE=1), method="CANCEL").count(Outcome.CANCELLED) == 1
    assert booked(practice) == []
    assert read(practice, event(), event("b")).visits == ()
    assert read(practice, event(SEQUENCE=1)).visits[0].why == "planned again"


@on_sqlite
def test_a_visit_that_is_done_or_cancelled_by_hand_is_left_alone(practice: Practice) -> None:
    read(practice, event("a", on=TODAY, summary="Reline"), event("b"))
    done, off = booked(practice)
    booking.book_out(practice, filling_in.book_out(filling_in.begin(practice, done.visit_id)), by=BY, request_key="k")
    visits.cancel(practice, off.visit_id, version=off.version, reason="moved away", by=BY)
    later = (event("a", on=NEXT, summary="Reline", SEQUENCE=5), event("b"))
    assert read(practice, *later).visits == ()
    assert read(practice, event("a", STATUS="CANCELLED", SEQUENCE=9)).visits == ()
    assert (booked(practice), visits.one(practice, done.visit_id).state) == ([], VisitState.DONE)


@on_sqlite
def test_an_event_that_is_no_visit_any_more_leaves_its_visit_and_says_so(practice: Practice) -> None:
    read(practice, event())
    told = read(practice, event(summary="check-up"))
    assert [one.outcome for one in told.visits] == [Outcome.LEFT]
    assert len(booked(practice)) == 1


@on_sqlite
def test_days_gone_by_are_not_planned(practice: Practice) -> None:
    assert read(practice, event(on=TODAY - timedelta(days=1)), event("b", on=TODAY)).past == 1
    assert days(practice) == [0]


# repetitions and time zones


def test_a_repetition_is_expanded_over_the_horizon_with_its_days_left_out_moved_and_added(practice: Practice) -> None:
    second, third, moved = (NEXT + timedelta(days=number) for number in (2, 4, 5))
    weekly = event("r", RRULE="FREQ=DAILY;INTERVAL=2", EXDATE=day(second), RDATE=day(NEXT + timedelta(days=1)))
    change = event("r", on=moved, RECURRENCE_ID=day(third), SEQUENCE=1)
    read(practice, weekly, change)
    assert days(practice) == [1, 2, 6, 7, 9, 11, 13]
    assert len({card.case_ref for card in booked(practice)}) == 1
    shorter = read(practice, event("r", RRULE=f"FREQ=DAILY;INTERVAL=2;UNTIL={day(moved, 23)}", SEQUENCE=2))
    assert (shorter.count(Outcome.CANCELLED), days(practice)) == (5, [1, 3, 5])
    single = read(practice, event("r", SEQUENCE=3))
    assert (single.count(Outcome.CANCELLED), days(practice)) == (2, [1])
    assert read(practice, event("r", STATUS="CANCELLED", SEQUENCE=4)).count(Outcome.CANCELLED) == 1


ZONED = [
    ("DTSTART:20270310T233000Z", date(2027, 3, 11)),  # half past midnight in Vienna
    ("DTSTART;TZID=America/New_York:20270310T173000", date(2027, 3, 10)),  # half past eleven at night
    ("DTSTART;TZID=America/New_York:20270310T193000", date(2027, 3, 11)),
    ("DTSTART:20270310T233000", date(2027, 3, 10)),  # by the practice's own clock
    ("DTSTART;VALUE=DATE:20270312", date(2027, 3, 12)),
]
READING = Reading(
    (Match("final impression", "final_stock_tray"),), "case", ZoneInfo("Europe/Vienna"), TODAY,
    TODAY + timedelta(days=40), b"secret",
)  # fmt: skip


@pytest.mark.parametrize(("start", "on"), ZONED)
def test_the_day_of_a_visit_is_the_practices(start: str, on: date) -> None:
    found = read_files([calendar(event(DTSTART=None, UID=f"z\r\n{start}"))], READING)
    assert [one.on for one in found.occurrences] == [on]


@pytest.mark.parametrize(
    ("rule", "dates"),
    [
        # the examples of RFC 5545 3.8.5.3 by their rules, on days of our own, counted on a calendar by hand
        ("FREQ=WEEKLY;BYDAY=MO,FR;COUNT=5", [12, 15, 19, 22, 26]),
        ("FREQ=MONTHLY;BYDAY=-1TH", [25]),
        ("FREQ=MONTHLY;BYMONTHDAY=-1;UNTIL=20270331T070000Z", [31]),
        ("FREQ=MONTHLY;BYMONTHDAY=-1;UNTIL=20270331T065959Z", []),
        ("FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30", []),  # a day that never comes; the search ends all the same
    ],
)
def test_rules_of_repetition(rule: str, dates: list[int]) -> None:
    start = "X:1\r\nDTSTART;TZID=Europe/Vienna:20270310T090000"
    found = read_files([calendar(event(DTSTART=None, UID=f"z\r\n{start}", RRULE=rule))], READING)
    assert sorted(one.on.day for one in found.occurrences if one.on and one.on.month == 3) == dates


# damaged files, and names


@pytest.mark.parametrize(
    ("part", "value", "message"),
    [
        ("UID", None, "no identifier"), ("DTSTART", None, "no start"), ("DTSTART", NAME, "start"),
        ("DTSTART", "09990101", "start"), ("SEQUENCE", NAME, "number of changes"), ("EXDATE", NAME, "left out"),
        ("RECURRENCE_ID", NAME, "which day"), ("RRULE", f"FREQ={NAME}", "repetition"),
        ("RRULE", "FREQ=DAILY;INTERVAL=0", "repetition"), ("RRULE", "FREQ=DAILY;BYDAY=ZZ", "repetition"),
        ("RRULE", "FREQ=MINUTELY", "within a day"),
    ],
)  # fmt: skip
def test_a_visit_that_cant_be_read_is_named_by_its_place(part: str, value: str | None, message: str) -> None:
    with pytest.raises(BadInput, match=f"^Event 2: .*{message}") as told:
        read_files([calendar(event("good"), event_with(part, value))], READING)
    assert NAME not in str(told.value)


@on_sqlite
def test_nothing_is_taken_in_where_one_visit_cant_be_read(practice: Practice) -> None:
    with pytest.raises(BadInput, match="Nothing was taken in"):
        read(practice, event("good"), event(DTSTART=None))
    setting_up.change_settings(practice, {"calendar_kinds": {"final impression": "reline", "Late*": "crown"}}, by=BY)
    with pytest.raises(BadInput, match="'crown'"):
        read(practice, event("good"), event("b", summary="late visit"))
    assert booked(practice) == []


@pytest.mark.parametrize(
    "data",
    [
        b"", b"\xff\xfe\x00", NAME.encode(), calendar(event())[:-20], b"BEGIN:VEVENT\r\nEND:VEVENT",
        calendar(event()).replace(b"END:VEVENT", b"END:VTODO"),
    ],
)  # fmt: skip
def test_what_is_no_whole_calendar_is_refused(data: bytes) -> None:
    with pytest.raises(BadInput) as told:
        read_files([calendar(event()), data], READING)
    assert str(told.value).startswith("File 2 of the folder")
    assert NAME not in str(told.value)


SAMPLE = calendar(
    event(), event("r", RRULE="FREQ=WEEKLY;BYDAY=MO,TU;UNTIL=20270601", EXDATE=day(NEXT), CATEGORIES=f"{NAME},b"),
    event("z", DTSTART=None, RECURRENCE_ID=day(NEXT), UID="r\r\nDTSTART;TZID=Europe/Vienna:20270318T090000"),
)  # fmt: skip


@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(st.lists(st.tuples(st.integers(0, len(SAMPLE) - 1), st.binary(max_size=4), st.integers(0, 12)), max_size=5))
def test_a_damaged_file_is_read_or_refused_clearly(damages: list[tuple[int, bytes, int]]) -> None:
    data = SAMPLE
    for place, put, cut in damages:
        data = data[:place] + put + data[place + cut :]
    said = ""
    try:
        said = repr(read_files([data], READING))
    except BadInput as refused:
        said = str(refused)
    assert said
    assert NAME not in said


def test_no_text_of_an_event_is_kept_or_said(practice: Practice, capfd: pytest.CaptureFixture[str]) -> None:
    said = [repr(read(practice, event(), event("b", on=NEXT, summary=f"{NAME} reline case {NAME}")))]
    said.append(repr(read(practice, event(SEQUENCE=1, on=TODAY), event("b", STATUS="CANCELLED"))))
    said.append(repr(setting_up.practice_state(practice).settings))
    with practice.reading() as desk:
        tables = (
            desk.session.execute(text("SELECT name FROM sqlite_master WHERE type = 'table'")).scalars()
            if (desk.session.get_bind().dialect.name == "sqlite")
            else desk.session.execute(text("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")).scalars()
        )
        rows = {name: desk.session.execute(text(f'SELECT * FROM "{name}"')).all() for name in tables}  # noqa: S608
        secret = next(row[1] for row in rows["setting"] if row[0] == "_calendar")
    keys = [row for row in rows["visit"] if "a1" in map(str, row)]
    assert (NAME in repr(rows), keys, "reline" in repr(rows)) == (False, [], True)
    assert secret not in " ".join(said)
    out = capfd.readouterr()
    assert NAME not in "".join((*said, out.out, out.err))


def test_the_whole_file_of_the_practice_and_all_that_is_printed_hold_no_name(tmp_path: Path) -> None:
    store, folder = stocked(tmp_path), tmp_path / "calendar"
    folder.mkdir()
    (folder / f"{NAME}.ics").write_bytes(calendar(event(on=date(2026, 3, 4)), event("b", on=date(2026, 3, 5))))

    def ask(*words: object) -> Ran:
        return run("--database", store, "--today", "2026-03-02", "--by", "MN", *words)

    ask("settings", "set", "calendar_kinds", "{}")
    ran = [ask("calendar", "in", folder)]
    ask("settings", "set", "calendar_kinds", '{"final impression": "final_stock_tray"}')
    ran += [ask("calendar", "in", folder, "--dry-run", "--json"), ask("calendar", "in", folder)]
    (folder / "b.ics").write_bytes(calendar(event(DTSTART=NAME)))
    ran += [ask("calendar", "in", folder), ask("calendar", "in", folder / "none.ics"), ask("settings", "--json")]
    assert [one.status for one in ran] == [2, 0, 0, 2, 2, 0]
    assert unlike(CALENDAR_IN, ran[1].data) == []
    assert ran[2].lines[0] == "Done: 2 events in 1 file; visits: 2 planned, 0 changed, 0 cancelled, 0 unchanged"
    assert "File 2 of the folder, by name: Event 1: its start (DTSTART) can't be read" in ran[3].err
    assert NAME not in repr(ran)
    assert all(NAME.encode() not in file.read_bytes() for file in tmp_path.glob("stocked*"))


# the other way: days to mind, for the office calendar


def test_the_office_calendar_shows_last_days_of_use_and_days_of_orders(tmp_path: Path) -> None:
    store, file = stocked(tmp_path), tmp_path / "days.ics"

    def ask(*words: object, today: str = "2026-03-02") -> Ran:
        return run("--database", store, "--today", today, "--by", "MN", *words)

    ask("order", "send", "O-0001", "--expected", "2026-03-09")
    wrote = ask("calendar", "out", file, "--json")
    assert unlike(CALENDAR_OUT, wrote.data) == []
    first = events_of(file)
    assert {uid: (on.isoformat(), title) for uid, (on, title, _, _) in first.items() if "lot" not in uid} == {
        "order-o-0001@practice.impression-stock": (
            "2026-03-09", "Delivery expected: order O-0001, Supplier North"
        ),
    }  # fmt: skip
    lots = [(on, title, text) for uid, (on, title, text, _) in first.items() if uid.startswith("lot-")]
    assert (IN_DATE, "Last day of use: Powder, lot POWDER-1", "store room: 4 x bag\nItem POWDER") in lots
    assert all("LIGHT-OLD" not in title for _, title, _ in lots)  # past its last day already

    ask("order", "expect", "O-0001", "2026-03-11")
    assert ask("calendar", "out", file, today="2026-03-03").status == 0
    again = events_of(file)
    moved = again["order-o-0001@practice.impression-stock"]
    assert (set(again), moved[0]) == (set(first), date(2026, 3, 11))
    assert all(again[uid][3] > first[uid][3] for uid in first)
    (tmp_path / "theirs.ics").write_bytes(calendar(event()))
    for name in ("theirs.ics", "days.txt", "no/days.ics"):
        assert ask("calendar", "out", tmp_path / name).status == 2
    assert sorted(path.name for path in tmp_path.glob("*.ics")) == ["days.ics", "theirs.ics"]


def events_of(file: Path) -> dict[str, tuple[date, str, str, int]]:
    """Return what a calendar file says, as the library reads it: day, title, text and number of changes by UID."""
    found = {}
    read_back: Any
    for read_back in icalendar.Calendar.from_ical(file.read_bytes()).walk("VEVENT"):
        assert read_back["DTEND"].dt - read_back["DTSTART"].dt == timedelta(days=1)
        found[str(read_back["UID"])] = (
            read_back["DTSTART"].dt, str(read_back["SUMMARY"]), str(read_back["DESCRIPTION"]),
            int(read_back["SEQUENCE"]),
        )  # fmt: skip
    return found

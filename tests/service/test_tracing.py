"""Where a lot went and what a case got, without reading the whole ledger; the audit trail in words."""

from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import date, timedelta
from functools import partial
from pathlib import Path

import pytest
from sqlalchemy import text

from inventory.domain.ledger import Draft, Entry, Sealed
from inventory.domain.vocabulary import Arch, DocumentKind, LateReason, MovementKind, Role
from inventory.errors import NotFound
from inventory.service import correcting, holding, moving, tracing
from inventory.service.moving import Part
from inventory.service.practice import Practice
from inventory.service.tracing import CaseUse, Filter
from inventory.store.engine import open_store
from inventory.store.tables import Person
from tests.clinic import Clinic
from tests.plans import scans
from tests.shelves import TODAY, Shelves

LIGHT, HEAVY = "Light body", "Heavy body"


def opened(shelves: Shelves, lot_id: int) -> int:
    unit = moving.open_unit(shelves.practice, shelves.sealed(lot_id), shelves.slip(), to_place="Chair 1").opened_id
    assert unit is not None
    return unit


def book(
    shelves: Shelves, case: str, unit: int, qty: int, *, confirmed: bool = False, late: LateReason | None = None
) -> int:
    """Book a visit of a case that drew from one unit, the rest of the tip purged."""
    entries = (
        Entry(unit, MovementKind.USE, -qty, Arch.MAXILLARY, "wash", 1, confirmed, late),
        Entry(unit, MovementKind.PURGE, -100, Arch.MAXILLARY, "wash", 1, confirmed, late),
    )
    return shelves.post(Draft(DocumentKind.USE, entries, visit_id=shelves.visit(case)))


def brief(uses: tuple[CaseUse, ...]) -> list[tuple[str | None, int, bool]]:
    return [(use.case_ref, use.qty, use.lot_confirmed) for use in uses]


# From a lot to its cases


def test_a_lot_is_followed_to_every_case_that_used_it_assumed_ones_first(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    unit = opened(shelves, lot)
    book(shelves, "C-1", unit, 700, confirmed=True)
    book(shelves, "C-2", unit, 800)
    trace = tracing.lot_uses(shelves.practice, lot)
    assert brief(trace.uses) == [("C-2", 900, False), ("C-1", 800, True)]
    use = trace.uses[0]
    assert (use.on, use.by, use.places, use.steps) == (TODAY, "AB", ("Chair 1",), ("wash",))


def test_what_is_left_of_a_lot_is_named_with_its_place(shelves: Shelves) -> None:
    lot = shelves.lot(3)
    book(shelves, "C-1", opened(shelves, lot), 700)
    left = {(one.place, one.opened_on): one.on_hand for one in tracing.lot_uses(shelves.practice, lot).left}
    assert left == {("Store room", None): 10_000, ("Chair 1", TODAY): 4_200}


def test_what_came_of_a_lot_is_what_went_and_what_is_left(shelves: Shelves) -> None:
    lot = shelves.lot(6)
    unit = opened(shelves, lot)
    book(shelves, "C-1", unit, 700)
    moving.write_off_rest(shelves.practice, unit, shelves.slip())
    moving.discard(shelves.practice, [Part(shelves.sealed(lot), 5_000)], shelves.slip(reason="dropped"))
    moving.return_to_supplier(
        shelves.practice, [Part(shelves.sealed(lot), 5_000)], shelves.slip(reason="wrong", proof="CN 1")
    )
    moving.correct_count(shelves.practice, shelves.sealed(lot), 20_000, shelves.slip(reason="found"))
    trace = tracing.lot_uses(shelves.practice, lot)
    gone = (trace.used, trace.purged, trace.wasted, trace.discarded, trace.returned)
    assert gone == (700, 100, 4_200, 5_000, 5_000)
    assert (trace.received, trace.counted, trace.on_hand) == (30_000, 5_000, 20_000)
    assert trace.received + trace.counted == trace.on_hand + sum(gone)


def test_a_case_whose_booking_was_undone_did_not_use_the_lot(shelves: Shelves) -> None:
    lot = shelves.lot(2)
    unit = opened(shelves, lot)
    wrong = book(shelves, "C-1", unit, 700)
    book(shelves, "C-2", unit, 700)
    correcting.undo(shelves.practice, wrong, reason="wrong case", by="AB", request_key=shelves.key())
    trace = tracing.lot_uses(shelves.practice, lot)
    assert brief(trace.uses) == [("C-2", 800, False)]
    assert trace.used == 700


def test_a_reusable_tray_is_traced_to_the_cases_it_went_to_the_laboratory_with(shelves: Shelves) -> None:
    lot = shelves.lot(2, item=shelves.tray(reusable=True))
    stack, away = shelves.sealed(lot), shelves.places["Laboratory"]
    carried = (
        Entry(stack, MovementKind.TRANSFER, -1, Arch.MAXILLARY, "tray", lot_confirmed=True),
        Entry(Sealed(lot, away), MovementKind.TRANSFER, 1),
    )
    shelves.post(Draft(DocumentKind.TRANSFER, carried, visit_id=shelves.visit("C-7")))
    moving.transfer(shelves.practice, [Part(stack, 1)], "Chair 1", shelves.slip())
    assert brief(tracing.lot_uses(shelves.practice, lot).uses) == [("C-7", 1, True)]


def test_a_lot_that_does_not_exist_is_not_found(shelves: Shelves) -> None:
    for look in (tracing.lot_uses, tracing.lot_story):
        with pytest.raises(NotFound):
            look(shelves.practice, 4711)


# From a case to its lots


def test_a_case_names_its_lots_with_dates_and_flags_assumed_ones_first(shelves: Shelves) -> None:
    expired = date(2026, 2, 1)
    light = shelves.lot(1, item=shelves.item(name=LIGHT), number="L1", use_by=expired)
    heavy = shelves.lot(1, item=shelves.item(name=HEAVY), number="H1")
    slip = shelves.slip(confirmed=True, reason="nothing else there")
    unit = moving.open_unit(shelves.practice, shelves.sealed(light), slip).opened_id
    assert unit is not None
    book(shelves, "C-1", unit, 700, confirmed=True, late=LateReason.EXPIRED)
    book(shelves, "C-1", opened(shelves, heavy), 900)
    holding.hold(shelves.practice, lot_id=heavy, reason="sets slowly", by="AB")
    first, second = tracing.case_lots(shelves.practice, " C-1 ")
    assert (first.item_name, first.lot_number, first.lot_confirmed, first.held) == (HEAVY, "H1", False, True)
    assert (second.item_name, second.use_by, second.late_reason) == (LIGHT, expired, LateReason.EXPIRED)
    assert not first.recalled


def test_a_case_without_any_booking_has_no_lots(shelves: Shelves) -> None:
    shelves.visit("C-1")
    assert tracing.case_lots(shelves.practice, "C-1") == ()
    assert tracing.case_lots(shelves.practice, "never seen") == ()


def test_a_booked_visit_is_traced_both_ways(clinic: Clinic) -> None:
    clinic.book(clinic.plan("C-1"))
    lots = tracing.case_lots(clinic.practice, "C-1")
    assert len({lot.item_id for lot in lots}) >= 5  # two trays, load, wash, record
    for lot in lots:
        assert "C-1" in {use.case_ref for use in tracing.lot_uses(clinic.practice, lot.lot_id).uses}


def test_a_number_alone_is_looked_up_as_a_lot_and_as_a_case(shelves: Shelves) -> None:
    lot = shelves.lot(2, number="He205")
    same = shelves.lot(1, number="C-1")
    book(shelves, "C-1", opened(shelves, lot), 700)
    found = tracing.trace(shelves.practice, " hE205 ")
    assert ([one.lot_id for one in found.lots], found.case_ref) == ([lot], None)
    assert brief(found.lots[0].uses) == [("C-1", 800, False)]
    both = tracing.trace(shelves.practice, "c-1")
    assert ([one.lot_id for one in both.lots], both.case_ref) == ([same], "C-1")
    assert [use.lot_id for use in both.uses] == [lot]
    with pytest.raises(NotFound, match="No lot and no case"):
        tracing.trace(shelves.practice, "X")


# The history


def test_the_history_of_a_lot_reads_as_a_story(shelves: Shelves) -> None:
    lot = shelves.lot(2, item=shelves.item(name=LIGHT), number="L1")
    unit = opened(shelves, lot)
    book(shelves, "C-1", unit, 700)
    wrong = book(shelves, "C-2", unit, 800, confirmed=True)
    correcting.undo(shelves.practice, wrong, reason="wrong case", by="AB", request_key=shelves.key())
    story = tracing.lot_story(shelves.practice, lot)
    assert [entry.words for entry in story] == [
        "received on 2026-03-02 by AB",
        "opened on 2026-03-02 by AB",
        "used for case C-1 on 2026-03-02 by AB",
        "used for case C-2 on 2026-03-02 by AB, undone since",
        "undone for case C-2 on 2026-03-02 by AB (wrong case)",
    ]
    words = [line.words for entry in story for line in entry.lines]
    assert words == [
        "received 100 mL, Light body, lot L1, Store room",
        "unsealed 50 mL, Light body, lot L1, Store room",
        "opened 50 mL, Light body, lot L1, Chair 1 (opened 2026-03-02)",
        "used 7 mL, Light body, lot L1, Chair 1 (opened 2026-03-02), for maxillary wash; lot assumed",
        "purged in the tip 1 mL, Light body, lot L1, Chair 1 (opened 2026-03-02), for maxillary wash; lot assumed",
        "used 8 mL, Light body, lot L1, Chair 1 (opened 2026-03-02), for maxillary wash",
        "purged in the tip 1 mL, Light body, lot L1, Chair 1 (opened 2026-03-02), for maxillary wash",
        "use given back 8 mL, Light body, lot L1, Chair 1 (opened 2026-03-02), for maxillary wash",
        "purge given back 1 mL, Light body, lot L1, Chair 1 (opened 2026-03-02), for maxillary wash",
    ]


def test_a_lots_story_leaves_out_the_other_lots_of_its_documents(shelves: Shelves) -> None:
    one, other = shelves.lot(1), shelves.lot(1)
    parts = [Part(shelves.sealed(one)), Part(shelves.sealed(other))]
    moving.transfer(shelves.practice, parts, "Chair 1", shelves.slip())
    story = tracing.lot_story(shelves.practice, one)
    assert {line.line.lot_id for entry in story for line in entry.lines} == {one}
    assert len(story) == 2


def test_the_history_is_filtered_by_what_who_when_and_which(shelves: Shelves) -> None:
    yesterday = TODAY - timedelta(days=1)
    item = shelves.item()
    lot = shelves.lot(3, item=item)
    other = shelves.lot(3)
    with shelves.practice.writing() as desk:
        desk.add(Person(initials="CD", role=Role.DENTIST, active=False))
    use = book(shelves, "C-1", opened(shelves, lot), 700)
    discard = moving.discard(
        shelves.practice, [Part(shelves.sealed(other), 5_000)], shelves.slip(reason="x", on=yesterday)
    )

    def found(which: Filter, person: str = "") -> list[int]:
        return [entry.document.document_id for entry in tracing.history(shelves.practice, which, person=person)]

    everything = found(Filter())
    assert everything == sorted(everything, reverse=True)
    assert len(everything) == 5
    assert found(Filter(case_ref="C-1")) == [use]
    assert found(Filter(kind=DocumentKind.DISCARD)) == [discard.document_id]
    assert found(Filter(until=yesterday)) == [discard.document_id]
    assert found(Filter(since=TODAY, item_id=item)) == found(Filter(lot_id=lot))
    assert found(Filter(lot_id=other))[0] == discard.document_id
    assert found(Filter(), "ab") == everything
    assert found(Filter(), "CD") == []
    assert found(Filter(before_id=everything[1])) == everything[2:]
    with pytest.raises(NotFound):
        found(Filter(), "ZZ")


def test_the_history_comes_in_pages(shelves: Shelves) -> None:
    for _ in range(5):
        shelves.lot(1)
    first = tracing.history(shelves.practice, Filter(), limit=3)
    second = tracing.history(shelves.practice, Filter(before_id=first[-1].document.document_id), limit=3)
    assert (len(first), len(second)) == (3, 2)


# Its cost follows the lot, not the age of the ledger


LOOKS: dict[str, Callable[[Practice], object]] = {
    "uses of a lot": lambda practice: tracing.lot_uses(practice, 1),
    "story of a lot": lambda practice: tracing.lot_story(practice, 1),
    "lots of a case": lambda practice: tracing.case_lots(practice, "C-1"),
    "a number alone": lambda practice: tracing.trace(practice, "c-1"),
    **{
        f"history by {which}": partial(tracing.history, which=which)
        for which in (
            Filter(), Filter(item_id=1), Filter(lot_id=1), Filter(case_ref="C-1"), Filter(person_id=1),
            Filter(visit_id=1), Filter(kind=DocumentKind.USE), Filter(since=TODAY, until=TODAY),
            Filter(lot_id=1, kind=DocumentKind.USE, since=TODAY), Filter(case_ref="C-1", before_id=99),
        )
    },
}  # fmt: skip


@pytest.fixture
def on_file(tmp_path: Path) -> Iterator[Shelves]:
    with closing(open_store(str(tmp_path / "practice.db"))) as store:
        yield Shelves(store)


@pytest.mark.parametrize("look", LOOKS)
def test_no_trace_reads_the_whole_ledger(look: str, on_file: Shelves) -> None:
    book(on_file, "C-1", opened(on_file, on_file.lot(2)), 700)
    statements, read_from_end_to_end = scans(on_file.store, lambda: LOOKS[look](on_file.practice))
    assert statements >= 3  # settings, documents, movements at least
    assert read_from_end_to_end == []


def test_a_trace_takes_as_many_statements_after_years_as_in_the_first_week(on_file: Shelves) -> None:
    unit = opened(on_file, on_file.lot(2, number="L-1"))
    book(on_file, "C-1", unit, 700)

    def looks() -> list[int]:
        wanted = ("uses of a lot", "lots of a case", "a number alone", "story of a lot")
        return [scans(on_file.store, partial(LOOKS[look], on_file.practice))[0] for look in wanted]

    first = looks()
    for number in range(2, 12):
        book(on_file, f"C-{number}", opened(on_file, on_file.lot(2, number=f"L-{number}")), 700)
        book(on_file, f"D-{number}", unit, 200)
    assert looks() == first


def test_what_is_in_the_way_of_an_undoing_is_found_without_reading_the_whole_ledger(on_file: Shelves) -> None:
    document = book(on_file, "C-1", opened(on_file, on_file.lot(2)), 700)
    said = {"reason": "wrong case", "by": "AB", "request_key": "k"}
    _, read_from_end_to_end = scans(on_file.store, lambda: correcting.undo(on_file.practice, document, **said))
    assert read_from_end_to_end == []


def test_a_query_that_does_read_it_all_would_be_noticed(on_file: Shelves) -> None:
    with on_file.store.reading() as session:
        _, found = scans(on_file.store, lambda: session.execute(text("SELECT sum(qty) FROM movement")))
    assert len(found) == 1

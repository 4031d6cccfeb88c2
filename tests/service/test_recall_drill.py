"""Recall drills on the demo practice: a notice comes, and within one command everything it names is out of reach."""

from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from sqlalchemy import select
from sqlmodel import col

from inventory.domain.vocabulary import ContactStatus, DocumentKind
from inventory.errors import NotAllowed
from inventory.service import notice_deeds, notice_files, notice_work, notices, stock_views, tracing
from inventory.service.clock import Clock
from inventory.service.moving import Part, Slip
from inventory.service.notices import NoticeDraft, ScopeDraft
from inventory.service.practice import Practice
from inventory.service.verifying import verify
from inventory.store.engine import open_store
from inventory.store.tables import Document, Item, Lot
from tests.demos import DemoOn, copy_of

DAY = date(2026, 11, 25)


@pytest.fixture
def demo(demo_on: DemoOn, tmp_path: Path) -> Iterator[Practice]:
    with closing(open_store(str(copy_of(demo_on(DAY), tmp_path)))) as store:
        yield Practice(store, Clock(lambda: datetime(2026, 11, 25, 9, tzinfo=UTC)))


def test_a_class_two_recall_of_a_range_is_worked_off_with_every_case_found_and_nothing_left(demo: Practice) -> None:
    there = [line for line in stock_views.lots(demo).lines if line.item_code == "HEAVY-R"]
    numbers = sorted({line.lot_number for line in there}, key=lambda number: (len(number), number))
    line = ScopeDraft(item="HEAVY-R", lot_from=numbers[0], lot_to=numbers[-1])
    work = notices.enter(demo, NoticeDraft("DRILL", DAY, (line,), answer_by=DAY), by="MB")
    assert {lot.number for lot in work.concerned} >= set(numbers)
    assert not [line for line in stock_views.lots(demo).lines if line.item_code == "HEAVY-R" and not line.why_held]

    with demo.reading() as desk:  # found another way: lot by lot, by the trace
        rows = desk.session.execute(
            select(col(Lot.id)).join(Item, col(Item.id) == col(Lot.item_id)).where(
                col(Item.code) == "HEAVY-R", col(Lot.id).in_([lot.lot_id for lot in work.concerned])
            )
        )  # fmt: skip
        lots = list(rows.scalars())
    cases = {use.case_ref for lot in lots for use in tracing.lot_uses(demo, lot).uses if use.case_ref}
    assert {case.case_ref for case in work.cases} == cases
    assert len(cases) > 5
    assumed = [case.lot_confirmed for case in work.cases]
    assert assumed == sorted(assumed)  # those to be checked come first
    assert False in assumed

    keys = iter(f"drill-{number}" for number in range(1000))
    heaps = [Part(heap.holding_id) for lot in work.concerned for heap in lot.heaps if not heap.aside]
    notice_deeds.found(demo, "DRILL", heaps, Slip(next(keys), "MB"))
    for case in work.cases:
        notices.tell(demo, "DRILL", case.case_ref, ContactStatus.NOT_NEEDED, by="DR")
    with pytest.raises(NotAllowed, match="Answer the notice"):
        notices.close(demo, "DRILL", by="MB")
    notices.answer(demo, "DRILL", proof="reply form 1", by="MB")
    aside = [Part(heap.holding_id) for lot in notice_work.worklist(demo, "DRILL").concerned for heap in lot.heaps]
    notice_deeds.returned(demo, "DRILL", aside, Slip(next(keys), "MB", proof="credit note 1"))
    closed = notices.close(demo, "DRILL", by="MB")
    assert closed.left == ()
    for lot in closed.concerned:
        assert sum(place.was for place in lot.places) == sum(place.returned for place in lot.places)
        assert lot.on_hand == 0
    assert verify(demo).clean
    with demo.reading() as desk:
        kinds = select(col(Document.kind)).where(col(Document.notice_id) == closed.head.notice_id)
        assert set(desk.session.execute(kinds).scalars()) == {DocumentKind.TRANSFER, DocumentKind.RETURN}
    assert notice_files.written(demo, "DRILL", "csv").decode().count("\r\ncase,") >= len(cases)

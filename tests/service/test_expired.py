"""Expired stock is taken off the shelves place by place: set aside, thrown away, or found not to be there."""

from datetime import timedelta

import pytest

from inventory.domain.vocabulary import DocumentKind
from inventory.errors import BadInput, KeyReused, NotFound, StockChanged
from inventory.service import expired, holding, moving, notice_work, tracing, verifying
from inventory.service.expired import Findings, Found
from tests.shelves import TODAY, Shelves

YESTERDAY = TODAY - timedelta(days=1)


def late(shelves: Shelves, units: int, place: str = "Store room", **known: object) -> int:
    """Give the sealed stack of a lot whose last day was yesterday."""
    return shelves.sealed(shelves.lot(units, place, use_by=YESTERDAY, **known), place)  # type: ignore[arg-type]


def kinds(shelves: Shelves) -> list[DocumentKind]:
    found = tracing.history(shelves.practice, tracing.Filter())
    return sorted(entry.document.kind for entry in found if entry.document.kind is not DocumentKind.RECEIPT)


def test_the_walk_goes_place_by_place_and_only_where_somebody_takes_from(shelves: Shelves) -> None:
    late(shelves, 1, "Chair 2")
    late(shelves, 2)
    late(shelves, 1, "Set aside")
    shelves.lot(3, use_by=TODAY)
    shelves.lot(3)
    found = expired.walk(shelves.practice)
    assert [(stop.place, len(stop.lines)) for stop in found.stops] == [("Store room", 1), ("Chair 2", 1)]
    assert (found.lines, found.aside) == (2, "Set aside")
    assert (found.stops[0].lines[0].amount, found.stops[0].lines[0].days_ago) == ("2 cartridges", 1)
    assert [stop.place for stop in expired.walk(shelves.practice, place="chair 2").stops] == ["Chair 2"]


def test_a_unit_open_for_too_long_stands_on_the_walk(shelves: Shelves) -> None:
    lot = shelves.lot(1, "Chair 1", item=shelves.item(opened_days=5, opened_days_source="leaflet"))
    moving.open_unit(shelves.practice, shelves.sealed(lot, "Chair 1"), shelves.slip(on=TODAY - timedelta(days=6)))
    (stop,) = expired.walk(shelves.practice).stops
    assert (stop.lines[0].opened_too_long, stop.lines[0].amount) == (True, "opened, 50 mL")


def test_what_was_found_at_a_place_is_posted_at_once_and_the_book_stays_right(shelves: Shelves) -> None:
    aside, thrown, gone, left = late(shelves, 2), late(shelves, 3), late(shelves, 1), late(shelves, 4)
    findings = Findings("Store room", (Found(aside),), (Found(thrown, 10_000),), (gone,))
    slip = shelves.slip(proof="bag 7")
    done = expired.take_off(shelves.practice, findings, slip)
    assert kinds(shelves) == [DocumentKind.COUNT, DocumentKind.DISCARD, DocumentKind.TRANSFER]
    assert (done.left, done.again) == (1, False)
    assert [shelves.on_hand(one) for one in (aside, thrown, gone, left)] == [0, 0, 0, 20_000]
    documents = tracing.history(shelves.practice, tracing.Filter(kind=DocumentKind.DISCARD))
    assert (documents[0].document.reason, documents[0].document.proof) == ("expired", "bag 7")
    assert expired.take_off(shelves.practice, findings, slip) == expired.take_off(shelves.practice, findings, slip)
    assert len(kinds(shelves)) == 3
    assert verifying.verify(shelves.practice).clean
    with pytest.raises(KeyReused):
        expired.take_off(shelves.practice, Findings("Store room", not_there=(left,)), slip)


def test_what_was_not_looked_at_stands_on_the_next_walk(shelves: Shelves) -> None:
    first, second = late(shelves, 1), late(shelves, 1)
    expired.take_off(shelves.practice, Findings("Store room", set_aside=(Found(first),)), shelves.slip())
    (stop,) = expired.walk(shelves.practice).stops
    assert [line.holding_id for line in stop.lines] == [second]


def test_recalled_stock_is_thrown_away_with_proof_only(shelves: Shelves) -> None:
    lot = shelves.lot(1, use_by=YESTERDAY)
    holding.hold(shelves.practice, lot_id=lot, reason="notice", by="AB", recall="N-1")
    findings = Findings("Store room", discarded=(Found(shelves.sealed(lot)),))
    with pytest.raises(BadInput, match="proof"):
        expired.take_off(shelves.practice, findings, shelves.slip())
    expired.take_off(shelves.practice, findings, shelves.slip(proof="certificate 12"))
    (proof,) = notice_work.worklist(shelves.practice, "N-1").proofs
    assert (proof.kind, proof.proof) == (DocumentKind.DISCARD, "certificate 12")


def test_what_can_not_be_is_refused_and_nothing_is_posted(shelves: Shelves) -> None:
    stack, good = late(shelves, 2), shelves.sealed(shelves.lot(1))
    practice = shelves.practice
    wrong = [
        (Findings("Store room"), "Nothing was said"),
        (Findings("Store room", set_aside=(Found(stack),), not_there=(stack,)), "twice"),
        (Findings("Chair 1", not_there=(stack,)), "stands at Store room"),
        (Findings("Store room", not_there=(good,)), "in date"),
        (Findings("Store room", set_aside=(Found(stack, 7_000),)), "amount"),
        (Findings("Store room", set_aside=(Found(stack, 15_000),)), "amount"),
    ]
    for findings, words in wrong:
        with pytest.raises(BadInput, match=words):
            expired.take_off(practice, findings, shelves.slip())
    with pytest.raises(NotFound):
        expired.take_off(practice, Findings("Store room", not_there=(999,)), shelves.slip())
    expired.take_off(practice, Findings("Store room", not_there=(stack,)), shelves.slip())
    with pytest.raises(StockChanged):
        expired.take_off(practice, Findings("Store room", not_there=(stack,)), shelves.slip())

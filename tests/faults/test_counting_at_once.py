"""A count that is approved at the very moment at which colleagues book what happened before it: nothing taken twice."""

from contextlib import closing
from datetime import datetime, timedelta

from inventory.domain.ledger import Draft, Entry, Posting
from inventory.domain.vocabulary import DocumentKind, MovementKind
from inventory.service import booked_late, count_review, counting
from inventory.service.clock import Clock
from inventory.service.count_shelves import Scope
from inventory.service.practice import Practice
from inventory.service.verifying import verify
from inventory.store.engine import open_store
from tests.several import at_once
from tests.shelves import MORNING, Shelves

COLLEAGUES, EACH = 2, 3
NOON = MORNING + timedelta(hours=3)


def work(url: str, name: str, holding_id: int, round_id: int | None, moment: datetime) -> None:
    """Book some uses of an earlier moment, or approve a round."""
    practice = Practice(open_store(url), Clock(lambda: NOON))
    with closing(practice.store):
        if round_id is not None:
            count_review.approve(practice, round_id, reason="counted", by="AB", request_key=name)
            return
        for number in range(EACH):
            with practice.writing() as desk:
                use = Draft(DocumentKind.USE, (Entry(holding_id, MovementKind.USE, -5_000),))
                posting = Posting(
                    f"{name}-{number}", "h", desk.person("AB"), desk.now, moment, moment.date(), (use,)
                )  # fmt: skip
                booked_late.post(desk, posting)


def test_a_count_is_right_though_it_is_approved_while_earlier_uses_are_booked(store_url: str) -> None:
    """Of 9 cartridges 6 were used before the count of 3, and are booked as it is approved: 3 are there."""
    with closing(open_store(store_url)) as store:
        shelves = Shelves(store)
        stack = shelves.sealed(shelves.lot(COLLEAGUES * EACH + 3))
        shelves.hands.now += timedelta(hours=1)
        number = counting.start(shelves.practice, Scope(), by="AB").round_id
        counting.record(shelves.practice, number, str(stack), "3", by="AB")
        uses = [(store_url, f"w{one}", stack, None, MORNING) for one in range(COLLEAGUES)]
        at_once(work, [*uses, (store_url, "approval", stack, number, MORNING)])
        assert shelves.on_hand(stack) == 3 * 5_000
        assert verify(shelves.practice).clean

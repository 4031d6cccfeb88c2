"""What the demo practice does at its shelves: counts its materials in one round, throws away what is no good."""

from inventory.domain.vocabulary import ItemKind
from inventory.service import count_review, counting, moving
from inventory.service.count_shelves import Scope
from inventory.service.moving import Part, Slip
from inventory.service.practice import Practice
from inventory.store.queries.stock import Stand

_TENTHS = 10


def count_materials(practice: Practice, *, by: str, request_key: str) -> None:
    """Count the materials as they stand; what is opened is read in tenths of a unit, so it differs a little."""
    scope = Scope(kinds=(ItemKind.IMPRESSION, ItemKind.BITE))
    number = counting.start(practice, scope, blind=False, by=by).round_id
    for line in counting.sheet(practice, number).lines:
        steps = _TENTHS if line.opened_on else 1
        read = round(steps * (line.expected_qty or 0) / line.unit_qty)
        counting.record(practice, number, line.key, str(read), by=by)
    count_review.approve(practice, number, reason="opened units counted by eye", by=by, request_key=request_key)


def throw_away(practice: Practice, stands: list[Stand], left: int, slip: Slip) -> None:
    """Throw away what stands of an item, all but so much of it in base units."""
    spare = sum(stand.on_hand for stand in stands) - left
    parts = []
    for stand in stands:
        qty = min(spare, stand.on_hand)
        if qty > 0:
            parts.append(Part(stand.holding_id, qty))
            spare -= qty
    if parts:
        moving.discard(practice, parts, slip)

"""Which lot a person means by the number on its label: the same number may stand on lots of several items and dates."""

from dataclasses import dataclass
from datetime import date

from inventory.domain.vocabulary import BaseUnit, UseByReading
from inventory.service.practice import Practice
from inventory.store.queries import naming


@dataclass(frozen=True, slots=True)
class LotName:
    """A lot as its label names it; ``unit_qty`` in base units."""

    lot_id: int
    number: str
    item_id: int
    item_code: str
    item_name: str
    base: BaseUnit
    unit_name: str
    unit_qty: int
    use_by: date | None
    use_by_read: UseByReading


def lots_of_number(practice: Practice, number: str, *, item_code: str = "") -> tuple[LotName, ...]:
    """Every lot that bears a number, newest first, whether or not anything is left of it.

    Args:
        practice: the practice at work.
        number: as on the label, upper or lower case alike.
        item_code: only lots of this item, where it is named.
    """
    wanted = item_code.strip().upper()
    with practice.reading() as desk:
        found = [LotName(*row) for row in naming.lots_of_number(desk.session, number.strip())]
        return tuple(lot for lot in found if wanted in ("", lot.item_code))

"""What the 2-D code of a shelf label says, for packages that carry no usable code of their own.

Where the article has a GTIN it is a GS1 Digital Link, which every field here and any telephone reads. Else it is made
of the standard's elements for company internal information: 91 the item's code, 92 the number that a lot has in the
book, for lots whose number GS1 can't write. That form is written with brackets, because many scanners don't send the
separator of the raw one.
"""

from datetime import date
from urllib.parse import quote

from inventory.domain.vocabulary import UseByReading

_SIGNS = frozenset("!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz")
"""The 82 signs of GS1 element strings (GS1 General Specifications 7.11)."""


def shelf_code(
    item_code: str,
    *,
    gtin: str = "",
    lot: str = "",
    lot_id: int | None = None,
    use_by: date | None = None,
    read: UseByReading = UseByReading.DAY,
) -> str:
    """What the label of an item, or of one of its lots, says.

    Args:
        item_code: the practice's own code of the item.
        gtin: of a single unit, 14 digits; empty where it has none.
        lot: the lot's number; empty for an item without lots.
        lot_id: the lot's number in the book.
        use_by: the lot's date.
        read: a date of which only the month is known is written with day 00.
    """
    digits = "" if use_by is None else f"{use_by:%y%m}" + ("00" if read is UseByReading.MONTH else f"{use_by:%d}")
    plain = 0 < len(lot) <= 20 and _SIGNS.issuperset(lot)
    if gtin and (plain or not lot):
        path = f"/10/{quote(lot, safe='')}" if lot else ""
        return f"https://id.gs1.org/01/{gtin}{path}{f'?17={digits}' if digits else ''}"
    dated = f"(17){digits}" if digits else ""
    if plain and "(" not in lot:
        return f"(91){item_code}{dated}(10){lot}"
    return f"(91){item_code}{dated}" + (f"(92){lot_id}" if lot and lot_id is not None else "")

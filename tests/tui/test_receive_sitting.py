"""A whole delivery received in one sitting against its order, with a scanner and few keys beside it.

Here 15 lines with 22 lots are scanned. Measured with it at 40 lines with 60 lots (`LINES`, `LOTS`): 19 keystrokes
too, 0.32 a lot; with one lot of the 60 typed by hand for want of a code 45, which is 0.75 a lot.
"""

from typing import Any

from textual.pilot import Pilot

from inventory.domain.vocabulary import OrderState
from inventory.service import catalogue, labels, orders, stock_views
from inventory.service.importing import import_file
from inventory.service.practice import Practice
from tests.service.catalogue_samples import BY, SUPPLIER
from tests.tui.at_work import at_work, enter, press, rest, screen
from tests.tui.seeing import type_raw
from tui.widgets.safe_input import SCAN_GAP

LINES, LOTS = 15, 22
NEW = 1  # the article whose code was never scanned before


def gtin(number: int) -> str:
    """An invented article number of 14 digits with its check digit (GS1 General Specifications 7.9)."""
    digits = f"0952123{number:06d}"
    weighed = sum(int(digit) * (3 if at % 2 == 0 else 1) for at, digit in enumerate(digits))
    return f"{digits}{-weighed % 10}"


def of_line(lot: int) -> int:
    """The order's line that a lot belongs to: the first lines come in two lots."""
    return lot % LINES


def ordered(practice: Practice) -> str:
    """A sent order of as many articles as there are lines, a pack of each lot; the bar code of each pack is known."""
    numbers = range(LINES)
    files = {
        "items": ["code,name,kind,content,viscosity", *(f"X-{n:02},Material {n:02},impression,50,3" for n in numbers)],
        "supplies": [
            "item,supplier,catalogue_no,units_per_pack,price",
            *(f"X-{n:02},{SUPPLIER.name},N-{n:02},2,30.00" for n in numbers),
        ],
        "orders": [
            "order,supplier,sent_on,item,packs",
            *(
                f"PO-1,{SUPPLIER.name},2027-03-08,X-{n:02},{sum(of_line(lot) == n for lot in range(LOTS))}"
                for n in numbers
            ),
        ],
    }
    catalogue.add_supplier(practice, SUPPLIER, by=BY)
    for kind, rows in files.items():
        import_file(practice, kind, "\n".join(rows).encode(), by=BY)
    for n in set(numbers) - {NEW}:
        labels.remember_article(practice, "gtin", gtin(n), f"X-{n:02}", 2, by=BY)
    return "PO-1"


class Person:
    """Somebody at the keyboard, whose keystrokes are counted; scans are none."""

    def __init__(self, pilot: Pilot[Any]) -> None:
        self.pilot, self.keystrokes = pilot, 0

    async def press(self, *keys: str) -> None:
        self.keystrokes += len(keys)
        await press(self.pilot, *keys)

    async def fill(self, *texts: str) -> None:
        """Type into one field after the other, each ended by Enter."""
        for text in texts:
            self.keystrokes += len(text)
            await enter(self.pilot, text)
            await self.press("enter")

    async def scan(self, *texts: str) -> None:
        type_raw(self.pilot.app, "".join(f"{text}\r" for text in texts))
        await self.pilot.pause(2 * SCAN_GAP)
        await rest(self.pilot)


async def test_a_delivery_is_received_against_its_order_with_few_keys_beside_the_scans(practice: Practice) -> None:
    """From the first screen to the order received; one article is new to the scanner and is asked about once."""
    number = ordered(practice)
    async with at_work(practice) as pilot:
        person = Person(pilot)
        await person.press("4", "o", "r")  # the cursor begins on what is to come
        await person.fill("S-4711")
        scans = [f"]d201{gtin(of_line(lot))}1728053110LOT{lot:03}" for lot in range(LOTS)]
        await person.scan(*scans)
        assert "Which item is this?" in screen(pilot)
        await person.fill("01")
        await person.press("backspace")
        await person.fill("2")
        await person.press("f2", "enter")
        assert "is in stock (entry" in screen(pilot)
        await person.press("enter")
    assert orders.order(practice, number).state is OrderState.RECEIVED
    received = {line.lot_number for line in stock_views.lots(practice).lines if line.item_code.startswith("X-")}
    assert received == {f"LOT{lot:03}" for lot in range(LOTS)}
    assert person.keystrokes == 19
    assert person.keystrokes < 1.5 * LOTS

"""Which stock or lot a person means: a stock number as ``lots`` shows it, a lot number, or LOT@PLACE.

A number that could mean two things is never guessed: the message lists what it could be and how to say which.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from inventory.domain.vocabulary import BaseUnit
from inventory.errors import BadInput, NotFound
from tui.commands import base, words

if TYPE_CHECKING:
    from inventory.domain.ledger import Sealed
    from inventory.service.labels import ScannedLot
    from inventory.service.stock_views import Lots


@dataclass(frozen=True, slots=True)
class Stock:
    """One sealed stack or one opened unit; ``qty`` and ``unit_qty`` in base units."""

    holding_id: int
    item_name: str
    lot_number: str
    place: str
    opened_on: date | None
    qty: int
    base: BaseUnit
    unit_qty: int
    unit_name: str

    @property
    def told(self) -> str:
        there = words.on_hand(self.qty, self.unit_qty, self.unit_name, self.base, self.opened_on)
        return f"stock {self.holding_id} ({self.item_name}, lot {self.lot_number}, {self.place}, {there})"


def lot_options(parser: base.Parser) -> None:
    """How a command names a lot."""
    parser.add_argument("lot", metavar="LOT", help="the number on its label, its scan, or lot:ID as --json shows it")
    parser.add_argument("--item", metavar="CODE", default="", help="of which item, where several have this lot number")


def stacks(lots: "Lots") -> Iterator[Stock]:
    """Every sealed stack and opened unit of a list of lots, in its order."""
    for line in lots.lines:
        for unit in line.opened:
            yield Stock(
                unit.holding_id, line.item_name, line.lot_number, line.place, unit.opened_on, unit.qty, line.base,
                line.unit_qty, line.unit_name,
            )  # fmt: skip
        if line.sealed_id is not None:
            yield Stock(
                line.sealed_id, line.item_name, line.lot_number, line.place, None, line.sealed_units * line.unit_qty,
                line.base, line.unit_qty, line.unit_name,
            )  # fmt: skip


def one(context: base.Context, named: str, *, sealed: bool | None = None) -> Stock:
    """The one stack or opened unit that is meant.

    Args:
        context: of the command.
        named: a stock number, LOT, LOT@PLACE or a scanned label.
        sealed: only sealed stacks, or only opened units, where a lot number has both.

    Raises:
        NotFound: nothing that is there is called so.
        BadInput: several things are; the message lists them.
    """
    from inventory.service import stock_views  # noqa: PLC0415

    shown = stock_views.lots(context.practice)
    there = list(stacks(shown))
    numbered = [stock for stock in there if named.strip() == str(stock.holding_id)]
    lot, _, place = named.rpartition("@")
    of_lot = [stock for stock in there if _same(stock.lot_number, named)]
    of_lot += [stock for stock in there if place and _same(stock.lot_number, lot) and _same(stock.place, place)]
    if not numbered and not of_lot:
        meant = {lot.lot_id for lot in _scanned(context, named)}
        of_lot = [*stacks(replace(shown, lines=tuple(line for line in shown.lines if line.lot_id in meant)))]
    fitting = [stock for stock in of_lot if sealed is None or (stock.opened_on is None) is sealed]
    found = numbered + [stock for stock in fitting or of_lot if stock not in numbered]
    if not found:
        raise NotFound(f"Nothing is left of {named!r}.", "Look up the stock number with 'lots'.")
    return _the_one(found, named)


def _the_one(found: Sequence[Stock], named: str) -> Stock:
    if len(found) > 1:
        told = "; ".join(stock.told for stock in found)
        raise BadInput(f"{named!r} could be {told}.", "Give the stock number.")
    return found[0]


def _same(text: str, typed: str) -> bool:
    return text.casefold() == typed.strip().casefold()


def counted(context: base.Context, named: str) -> tuple["int | Sealed", Stock]:
    """What a count is about: stock that is there, or LOT@PLACE where the book has none of the lot.

    Raises:
        NotFound: neither stock nor lot and place.
        BadInput: several things are called so.
    """
    try:
        stock = one(context, named)
    except NotFound:
        if "@" not in named:
            raise
    else:
        return stock.holding_id, stock
    from inventory.domain.ledger import Sealed  # noqa: PLC0415
    from inventory.service import naming, setting_up  # noqa: PLC0415

    number, _, place = named.rpartition("@")
    lots = naming.lots_of_number(context.practice, number)
    places = [one for one in setting_up.practice_state(context.practice).places if _same(one.name, place)]
    if len(lots) != 1 or not places:
        raise NotFound(f"{named!r} is not one lot at one place.", "Check both with 'lots' and 'settings'.")
    lot = lots[0]
    stock = Stock(0, lot.item_name, lot.number, places[0].name, None, 0, lot.base, lot.unit_qty, lot.unit_name)
    return Sealed(lot.lot_id, places[0].place_id), stock


def _scanned(context: base.Context, named: str, item: str | None = None) -> "Sequence[ScannedLot]":
    """The lots that a scanned label means; none where the text is no label, or names no lot."""
    from inventory.service import labels  # noqa: PLC0415

    try:
        scanned = labels.find(context.practice, named)
    except BadInput:
        return ()
    wanted = (item or "").strip().upper()
    return [lot for lot in scanned.lots if wanted in ("", lot.item_code)]


def lot(context: base.Context, named: str, item: str | None) -> int:
    """The one lot that is meant, by number or by its scanned label, whether or not anything is left of it.

    Raises:
        NotFound: no lot has this number.
        BadInput: several have it; the message lists them.
    """
    from inventory.service import naming  # noqa: PLC0415

    if named.startswith("lot:"):
        return base.whole_number(named.removeprefix("lot:"), "LOT")
    lots = naming.lots_of_number(context.practice, named, item_code=item or "") or _scanned(context, named, item)
    if not lots:
        raise NotFound(f"No lot has the number {named!r}{f' of item {item}' if item else ''}.", "Check the label.")
    if len(lots) > 1:
        told = "; ".join(
            words.facts(
                f"lot:{one.lot_id} is {one.item_code} {one.item_name}", words.use_by(one.use_by, one.use_by_read)
            )
            for one in lots
        )
        raise BadInput(f"Several lots have the number {named!r}: {told}.", "Name the item with --item, or lot:ID.")
    return lots[0].lot_id

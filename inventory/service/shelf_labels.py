"""Shelf labels for what carries no code of its own: house lots, trays from an opened bag, bottles filled up here.

By default a label is made for each lot at each place whose package nobody can scan: the lot's number is ours, or no
code of a package is known for its item.
"""

from collections.abc import Iterable

from inventory.domain.labels.writing import shelf_code
from inventory.domain.vocabulary import UseByReading
from inventory.domain.words import STANDING
from inventory.errors import NotFound
from inventory.reports.shelf_labels import SHEETS, ShelfLabel, sheets
from inventory.service import catalogue, labels, stock_views
from inventory.service.labels import Package
from inventory.service.practice import Practice
from inventory.service.stock_views import LotLine
from inventory.store.queries import catalogue as catalogue_query
from inventory.store.queries import labels as query

PAPERS = tuple(SHEETS)


def shelf_labels(
    practice: Practice, *, item: str = "", place: str = "", everything: bool = False
) -> tuple[ShelfLabel, ...]:
    """The labels, in the order in which the lots are listed.

    Args:
        practice: the practice at work.
        item: only this item's; its packages may have codes.
        place: only what stands there.
        everything: also what can be scanned as it is.

    Raises:
        NotFound: no such item or place, or nothing that needs a label.
    """
    item_id = catalogue.item(practice, item).item_id if item.strip() else None
    lines = stock_views.lots(practice, item_id=item_id, place=place or None).lines
    packages = labels.packages(practice)
    coded = {package.item_code for package in packages}
    wanted = [line for line in lines if everything or item_id or line.number_is_ours or line.item_code not in coded]
    if not wanted:
        raise NotFound("Nothing there needs a shelf label.", "Name an item, or ask for all lots.")
    with practice.reading() as desk:
        least = {row.id: row.min_units for row in catalogue_query.items(desk.session)}
        levels = query.fill_up_levels(desk.session)
    return tuple(
        _label(line, packages, least.get(line.item_id), levels.get((line.item_id, line.place_id))) for line in wanted
    )


def printed(practice: Practice, wanted: tuple[ShelfLabel, ...], *, paper: str = PAPERS[0], skip: int = 0) -> bytes:
    """The labels as PDF; ``skip`` labels of the first sheet are used up.

    Raises:
        NotFound: no such sheet.
    """
    if paper not in SHEETS:
        raise NotFound(f"There is no sheet {paper!r}.", f"Known are: {', '.join(PAPERS)}.")
    with practice.reading() as desk:
        return sheets(wanted, SHEETS[paper], skip=skip, made=desk.now)


def _label(line: LotLine, packages: Iterable[Package], least: int | None, level: int | None) -> ShelfLabel:
    lot = "" if line.lot_number == STANDING else line.lot_number
    code = shelf_code(
        line.item_code, gtin=_gtin(line, packages), lot=lot, lot_id=line.lot_id, use_by=line.use_by,
        read=line.use_by_read,
    )  # fmt: skip
    told = [f"Lot {lot}" if lot else "", _use_by(line) if lot else "", line.place]
    told.append(f"fill up to {level}" if level else f"minimum {least}" if least else "")
    return ShelfLabel(code, line.item_name, tuple(filter(None, told)))


def _gtin(line: LotLine, packages: Iterable[Package]) -> str:
    """The GTIN of the smallest package: what stands on a shelf is single units."""
    known = [one for one in packages if one.item_code == line.item_code and one.scheme == "gtin"]
    return min(known, key=lambda one: (one.units, one.code)).code if known else ""


def _use_by(line: LotLine) -> str:
    if line.use_by is None:
        return "use-by date not read yet" if line.use_by_read is UseByReading.NOT_READ else "no use-by date stated"
    return f"use by end of {line.use_by:%Y-%m}" if line.month_only else f"use by {line.use_by.isoformat()}"

"""A line of the book-out form in words: what the table shows of it, and everything else below the table."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from textual.content import Content

from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, LateReason
from inventory.domain.words import STANDING
from inventory.service.booking import UsedLot
from inventory.service.filling import Filling, Line, Tried
from inventory.service.laying_out import LotChoice
from tui import text as shown
from tui.screens.visit_words import ARCH
from tui.text import Formats
from tui.theme import Status
from tui.widgets.table import Column

COLUMNS = (
    Column("Step", grow=True, least=23),
    Column("Arch"),
    Column("Used", right=True),
    Column("Amount", right=True, spare=1),
    Column("Lot", most=24),
    Column("Use by", spare=2),
    Column("From", most=26, spare=3),
    Column("Lot read", least=9),
)

SUMMARY = 68  # cells of a line in a dialog
BESIDE = (ItemKind.TIP, ItemKind.ACCESSORY)  # what goes with a step's material is named by its article
LATE = {LateReason.EXPIRED: "expired", LateReason.HELD: "on hold", LateReason.RECALLED: "recalled"}


def cells(line: Line, formats: Formats) -> tuple[str | Content, ...]:
    """The line's cells, in the order of `COLUMNS`."""
    texts = (
        _step(line),
        arch(line.form.arch),
        used(line),
        "" if line.base is BaseUnit.PIECE or line.dropped else shown.amount(line.qty, line.base, formats),
        numbered(line.lot_number),
        dated(line.lot, formats),
        _source(line, formats),
    )
    if line.dropped:
        return (*(shown.muted(str(text)) for text in texts), shown.muted("left out"))
    return (*texts, _state(line))


def tried_cells(one: Tried, formats: Formats) -> tuple[str | Content, ...]:
    """A tray tried in vain, in the same columns."""
    lot = one.lot
    return (
        "Tray tried in vain",
        ARCH[one.arch],
        f"size {one.article.tray_size}",
        "",
        numbered(lot.lot_number if lot else ""),
        dated(lot, formats),
        lot.place if lot else "",
        shown.status(Status.WAITING, "reprocess" if one.article.reusable else "thrown away"),
    )


def arch(which: Arch | None) -> str:
    return ARCH[which] if which else shown.NOTHING


def _step(line: Line) -> str:
    again = f"{nth(line.form.attempt)} " if line.form.attempt > 1 else ""
    if "/tip/" in line.key:
        return f"  {again}mixing tip"
    if line.form.kind in BESIDE and line.form.item_id is not None:
        indent = "  " if line.form.kind is ItemKind.TIP else ""
        return f"{indent}{again}{line.article.name if line.article else line.form.item}"
    return f"{again}{line.form.step_name or line.form.step}"


def nth(number: int) -> str:
    """Which attempt: ``2nd``."""
    return {2: "2nd", 3: "3rd"}.get(number, f"{number}th")


def used(line: Line) -> str:
    """The amount as people count it: tenths of a cartridge, pieces, or the size of a tray."""
    if line.dropped:
        return "none"
    if line.is_tray:
        size = line.article.tray_size if line.article else None
        return f"size {size}" if size else "size ?"
    if line.base is BaseUnit.PIECE:
        return str(line.qty)
    return f"{tenths(line.qty, line.unit_qty)} {line.unit_name}"


def tenths(qty: int, unit_qty: int) -> str:
    """A share of a unit to the nearest tenth: ``0.3``; what is less than half a tenth but not nothing as ``<0.1``."""
    number = (qty * 10 + unit_qty // 2) // unit_qty
    return "<0.1" if qty and not number else f"{number // 10}.{number % 10}"


def numbered(lot_number: str) -> str:
    """A lot's number; nothing where none is known, or where the article comes without lots."""
    return shown.NOTHING if lot_number in ("", STANDING) else lot_number


def dated(lot: LotChoice | UsedLot | None, formats: Formats) -> str:
    """A lot's use-by date as its label gives it; nothing where the article comes without lots."""
    if lot is None or lot.lot_number == STANDING:
        return shown.NOTHING
    return shown.use_by(lot.use_by, lot.use_by_read, formats)


def _source(line: Line, formats: Formats) -> str:
    if line.found is not None:
        return "not in the book"
    if line.lot is None:
        return ""
    if line.fresh:
        return f"new {line.unit_name}, {line.lot.place}"
    if line.lot.opened_on is not None:
        return f"opened {shown.day(line.lot.opened_on, formats)}"
    return line.lot.place


def _state(line: Line) -> Content:
    if line.lot is None and line.found is None:
        unknown = line.is_tray and line.article is None
        return shown.status(Status.ACT if line.unresolved else Status.UNKNOWN, "no size" if unknown else "no lot")
    if line.lot is not None and line.lot.late is not None:
        return shown.status(Status.BLOCKED, LATE[line.lot.late])
    return read_or_assumed(line.lot_number, read=line.confirmed)


def read_or_assumed(lot_number: str, *, read: bool) -> Content:
    """Whether somebody has read the lot from its package; nothing where the article comes without lots."""
    if lot_number == STANDING:
        return shown.muted(shown.NOTHING)
    return shown.status(Status.OK, "read") if read else shown.status(Status.WAITING, "assumed")


def detail(line: Line, formats: Formats) -> Content:
    """Two lines about one line of the form: its article and lot, and the arithmetic of its amount."""
    article = line.article.name if line.article else line.form.item
    first = shown.plain(" · ".join([article, *_whereabouts(line, formats)]))
    return Content("\n").join([first, shown.muted(" · ".join(_figures(line, formats)))])


def _whereabouts(line: Line, formats: Formats) -> Iterator[str]:
    if not line.lot_number:
        return
    if line.lot_number != STANDING:
        yield f"lot {line.lot_number}"
    if line.lot is None:
        yield "not in the book, recorded as found"
        return
    yield from use_by(line.lot, formats)
    if line.fresh:
        yield f"new {line.unit_name}, {line.lot.place}"
    elif line.lot.opened_on is not None:
        yield f"opened {shown.day(line.lot.opened_on, formats)}, {line.lot.place}"
    else:
        yield line.lot.place


def use_by(lot: LotChoice, formats: Formats) -> Iterator[str]:
    """``use by 2028-06-30``, or why there is no date; nothing where the article comes without lots."""
    if lot.lot_number != STANDING:
        yield f"{'use by' if lot.use_by else 'date'} {shown.use_by(lot.use_by, lot.use_by_read, formats)}"


def _figures(line: Line, formats: Formats) -> Iterator[str]:
    yield f"expected {shown.amount(line.form.qty, line.form.base, formats)}"
    if line.purge_qty:
        yield f"tip and purge {shown.amount(line.purge_qty, line.base, formats)}"
    if line.left is not None and line.left >= 0:
        where = "there" if line.base is BaseUnit.PIECE else f"in the {line.unit_name}"
        yield f"left {where} {shown.amount(line.left, line.base, formats)}"


def choice(lot: LotChoice, formats: Formats, *, named: bool) -> str:
    """A lot in a list to choose from, short enough for one line; what speaks against it first."""
    return " · ".join(_choice(lot, formats, named=named))


def _choice(lot: LotChoice, formats: Formats, *, named: bool) -> Iterator[str]:
    if lot.late:
        yield f"! {LATE[lot.late]}"
    if lot.lot_number != STANDING:
        yield lot.lot_number
        yield dated(lot, formats)
    yield lot.place
    if lot.opened_on is None and lot.base is not BaseUnit.PIECE:
        yield f"{lot.on_hand // lot.unit_qty} sealed"
    else:
        yield f"{'opened, ' if lot.opened_on else ''}{shown.amount(lot.on_hand, lot.base, formats)}"
    if lot.goes_first:
        yield "goes first"
    if named:
        yield lot.item


@dataclass(frozen=True)
class _Taken:
    """One lot in a summary."""

    lot_number: str
    use_by: str
    read: str
    article: str
    base: BaseUnit


def of_filling(filling: Filling, formats: Formats) -> Content:
    """What a filled-in form will take, a line for each lot, and the trays tried in vain."""
    taken: Counter[_Taken] = Counter()
    for line in filling.lines:
        if line.qty and not line.dropped:
            use_by = dated(line.lot, formats) if line.lot else "not in the book"
            read = read_or_assumed(line.lot_number, read=line.confirmed).plain
            article = line.article.name if line.article else line.form.item
            taken[_Taken(numbered(line.lot_number), use_by, read, article, line.base)] += line.qty
    tried = [
        shown.plain(f"tried in vain: {one.article.name}, {_fate(one)}{f', {n} times' if n > 1 else ''}")
        for one, n in Counter(filling.tried).items()
    ]
    return Content("\n").join([*_lines(taken, formats), *tried])


def of_lots(lots: Iterable[UsedLot], formats: Formats) -> Content:
    """What was posted, a line for each lot."""
    taken: Counter[_Taken] = Counter()
    for lot in lots:
        read = read_or_assumed(lot.lot_number, read=lot.lot_confirmed).plain
        taken[_Taken(numbered(lot.lot_number), dated(lot, formats), read, lot.item, lot.base)] += lot.qty
    return Content("\n").join(_lines(taken, formats))


def _lines(taken: Counter[_Taken], formats: Formats) -> list[Content]:
    """Amount, lot number, use-by, how it is known, article; only the article is cut where room is short."""
    rows = [
        (shown.amount(qty, lot.base, formats), shown.clean(lot.lot_number), lot.use_by, lot.read, lot.article)
        for lot, qty in taken.items()
    ]
    widths = [max((shown.width(row[at]) for row in rows), default=0) for at in range(4)]
    room = max(SUMMARY - sum(widths) - 2 * len(widths), 12)
    return [
        Content(
            f"{shown.pad(amount, widths[0], right=True)}  {shown.pad(number, widths[1])}  "
            f"{shown.pad(use_by, widths[2])}  {shown.pad(read, widths[3])}  {shown.clip(shown.clean(article), room)}"
        )
        for amount, number, use_by, read, article in rows
    ]


def _fate(one: Tried) -> str:
    return "to reprocessing" if one.article.reusable else "thrown away"

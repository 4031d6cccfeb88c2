"""A line of the book-out form in words: what the table shows of it, and everything else below the table."""

from collections import Counter
from collections.abc import Iterable, Iterator

from textual.content import Content

from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, LateReason
from inventory.service.booking import UsedLot
from inventory.service.filling import Line, Tried
from inventory.service.laying_out import LotChoice
from tui import text as shown
from tui.screens.visit_words import ARCH
from tui.text import Formats
from tui.theme import Status
from tui.widgets.table import Column

COLUMNS = (
    Column("Step", grow=True, least=14),
    Column("Arch"),
    Column("Used", right=True),
    Column("Amount", right=True, spare=1),
    Column("Lot", most=24),
    Column("Use by", spare=2),
    Column("From", most=26, spare=3),
    Column("Lot read", least=9),
)

LATE = {LateReason.EXPIRED: "expired", LateReason.HELD: "on hold", LateReason.RECALLED: "recalled"}


def cells(line: Line, formats: Formats) -> tuple[str | Content, ...]:
    """The line's cells, in the order of `COLUMNS`."""
    texts = (
        _step(line),
        arch(line.form.arch),
        used(line),
        "" if line.base is BaseUnit.PIECE or line.dropped else shown.amount(line.qty, line.base, formats),
        _lot(line),
        shown.use_by(line.lot.use_by, line.lot.use_by_read, formats) if line.lot else shown.NOTHING,
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
        lot.lot_number if lot else shown.NOTHING,
        shown.use_by(lot.use_by, lot.use_by_read, formats) if lot else shown.NOTHING,
        lot.place if lot else "",
        shown.status(Status.WAITING, "reprocess" if one.article.reusable else "thrown away"),
    )


def arch(which: Arch | None) -> str:
    return ARCH[which] if which else shown.NOTHING


def _step(line: Line) -> str:
    again = f"{nth(line.form.attempt)} " if line.form.attempt > 1 else ""
    if line.form.kind is ItemKind.TIP:
        return f"  {again}mixing tip"
    if line.form.step == "further":
        return line.form.item
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


def _lot(line: Line) -> str:
    return line.lot_number or shown.NOTHING


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
        return shown.status(Status.ACT if line.unresolved else Status.UNKNOWN, "no size" if line.is_tray else "no lot")
    if line.lot is not None and line.lot.late is not None:
        return shown.status(Status.BLOCKED, LATE[line.lot.late])
    if line.confirmed:
        return shown.status(Status.OK, "read")
    return shown.status(Status.WAITING, "assumed")


def detail(line: Line, formats: Formats) -> Content:
    """Two lines about one line of the form: its article and lot, and the arithmetic of its amount."""
    article = line.article.name if line.article else line.form.item
    first = shown.plain(" · ".join([article, *_whereabouts(line, formats)]))
    return Content("\n").join([first, shown.muted(" · ".join(_figures(line, formats)))])


def _whereabouts(line: Line, formats: Formats) -> Iterator[str]:
    if not line.lot_number:
        return
    yield f"lot {line.lot_number}"
    if line.lot is None:
        yield "not in the book, recorded as found"
        return
    yield use_by(line.lot, formats)
    if line.fresh:
        yield f"new {line.unit_name}, {line.lot.place}"
    elif line.lot.opened_on is not None:
        yield f"opened {shown.day(line.lot.opened_on, formats)}, {line.lot.place}"
    else:
        yield line.lot.place


def use_by(lot: LotChoice, formats: Formats) -> str:
    """``use by 2028-06-30``, or why there is no date."""
    said = shown.use_by(lot.use_by, lot.use_by_read, formats)
    return f"use by {said}" if lot.use_by else f"date {said}"


def _figures(line: Line, formats: Formats) -> Iterator[str]:
    yield f"expected {shown.amount(line.form.qty, line.form.base, formats)}"
    if line.purge_qty:
        yield f"tip and purge {shown.amount(line.purge_qty, line.base, formats)}"
    if line.left is not None and line.left >= 0:
        where = "there" if line.base is BaseUnit.PIECE else f"in the {line.unit_name}"
        yield f"left {where} {shown.amount(line.left, line.base, formats)}"


def choice(lot: LotChoice, formats: Formats, *, named: bool) -> str:
    """A lot in a list to choose from, what speaks against it first."""
    if lot.base is BaseUnit.PIECE:
        there = shown.amount(lot.on_hand, lot.base, formats)
    elif lot.opened_on is None:
        there = f"{lot.on_hand // lot.unit_qty} sealed"
    else:
        there = f"opened {shown.day(lot.opened_on, formats)}, {shown.amount(lot.on_hand, lot.base, formats)} left"
    said = [
        f"! {LATE[lot.late]}" if lot.late else "",
        lot.lot_number,
        use_by(lot, formats),
        lot.place,
        there,
        "goes first" if lot.goes_first else "",
        lot.item if named else "",
    ]
    return " · ".join(filter(None, said))


LotKey = tuple[str, str, str, BaseUnit, bool]  # article, lot number, use-by in words, unit, whether it was read


def of_lines(lines: Iterable[Line], formats: Formats) -> Content:
    """The lots that a filled-in form will take, one line for each."""
    return _summed(((_key(line, formats), line.qty) for line in lines if line.qty and not line.dropped), formats)


def _key(line: Line, formats: Formats) -> LotKey:
    use_by = shown.use_by(line.lot.use_by, line.lot.use_by_read, formats) if line.lot else "not in the book"
    return (line.article.name if line.article else line.form.item, line.lot_number, use_by, line.base, line.confirmed)


def of_lots(lots: Iterable[UsedLot], formats: Formats) -> Content:
    """The lots that were posted, one line for each."""
    keys = (
        ((lot.item, lot.lot_number, shown.use_by(lot.use_by, lot.use_by_read, formats), lot.base, lot.lot_confirmed),
         lot.qty)
        for lot in lots
    )  # fmt: skip
    return _summed(keys, formats)


def _summed(taken: Iterable[tuple[LotKey, int]], formats: Formats) -> Content:
    totals: Counter[LotKey] = Counter()
    for key, qty in taken:
        totals[key] += qty
    rows = [
        (shown.amount(qty, base, formats), shown.clean(f"{item}, lot {number}"), use_by, "read" if read else "assumed")
        for (item, number, use_by, base, read), qty in totals.items()
    ]
    widths = [max((shown.width(row[at]) for row in rows), default=0) for at in range(3)]
    room = min(widths[1], 36)
    lines = (
        f"{shown.pad(amount, widths[0], right=True)}  {shown.pad(lot, room)}  {shown.pad(use_by, widths[2])}  {how}"
        for amount, lot, use_by, how in rows
    )
    return Content("\n".join(lines))

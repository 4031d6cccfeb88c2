"""The sheet of a round to take along to the shelves: as text, as CSV, as PDF. A blind one tells no expected amount."""

from inventory.domain.quantity import show
from inventory.domain.vocabulary import BaseUnit, UseByReading
from inventory.errors import BadInput
from inventory.reports import count_pdf, count_sheet
from inventory.reports.count_sheet import CountLine, CountSheet
from inventory.service import counting
from inventory.service.count_sheet import SheetLine
from inventory.service.count_shelves import Scope
from inventory.service.practice import Practice

FORMATS = ("txt", "csv", "pdf")


def paper(practice: Practice, round_id: int) -> CountSheet:
    """The sheet of a round, as it is printed.

    Raises:
        NotFound: no such round.
    """
    seen = counting.sheet(practice, round_id)
    with practice.reading() as desk:
        started = seen.round.started_at.astimezone(desk.zone)
    return CountSheet(
        number=round_id, scope=scope_words(seen.round.scope), by=seen.round.by, started=started,
        blind=seen.round.blind, lines=tuple(_line(line) for line in seen.lines),
    )  # fmt: skip


def written(practice: Practice, round_id: int, kind: str) -> bytes:
    """The sheet as a file's content.

    Args:
        practice: the practice at work.
        round_id: which round.
        kind: one of `FORMATS`, as the ending of a file's name.

    Raises:
        NotFound: no such round.
        BadInput: there is no such format.
    """
    if kind not in FORMATS:
        raise BadInput(f"A count sheet can't be written as {kind!r}.", f"Name a file ending in {', '.join(FORMATS)}.")
    sheet = paper(practice, round_id)
    if kind == "pdf":
        with practice.reading() as desk:
            return count_pdf.as_pdf(sheet, made=desk.now)
    return {"txt": count_sheet.as_text, "csv": count_sheet.as_csv}[kind](sheet).encode("utf-8")


def scope_words(scope: Scope) -> str:
    """What a round counts, in words: ``everything``, or ``tray, LIGHT-A at Store room``."""
    groups = ", ".join((*(kind.value for kind in scope.kinds), *scope.families, *scope.items)) or "everything"
    return f"{groups} at {', '.join(scope.places)}" if scope.places else groups


def what_words(line: SheetLine) -> str:
    """What stands on a shelf, in words: ``sealed cartridge``, ``opened 2026-03-02``."""
    if line.opened_on is not None:
        return f"opened {line.opened_on.isoformat()}"
    return line.unit_name if line.base is BaseUnit.PIECE else f"sealed {line.unit_name}"


def amount_words(line: SheetLine, qty: int) -> str:
    """An amount on a shelf as it is seen there: sealed units, pieces, or what an opened one holds."""
    if line.opened_on is not None or line.base is BaseUnit.PIECE or qty % line.unit_qty:
        return show(qty, line.base)
    return str(qty // line.unit_qty)


def use_by_words(line: SheetLine) -> str:
    """A use-by date as its label gives it."""
    words = {UseByReading.NONE_STATED: "none stated", UseByReading.NOT_READ: "not read"}
    if line.use_by is None:
        return words.get(line.use_by_read, "")
    return f"{line.use_by:%Y-%m} end" if line.use_by_read is UseByReading.MONTH else line.use_by.isoformat()


def _line(line: SheetLine) -> CountLine:
    expected = None if line.expected_qty is None else amount_words(line, line.expected_qty)
    return CountLine(
        line.key, line.place, line.item_name, line.lot_number, use_by_words(line),
        what_words(line), line.reading or "", expected,
    )  # fmt: skip

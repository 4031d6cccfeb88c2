"""What is said of a line while it is counted, and the questions of a round: what was found, when, and what is none."""

from datetime import date, datetime
from typing import TYPE_CHECKING

from inventory.domain.counting import show_grams
from inventory.domain.dates import parse_moment
from inventory.domain.vocabulary import BaseUnit, CountMethod
from inventory.domain.words import item_and_lot
from inventory.errors import BadInput
from inventory.service import counting
from inventory.service.count_sheet import SheetLine
from inventory.service.counting import Choices, Found
from inventory.service.labels import Scanned
from inventory.service.lots import NOT_READ, UseBy, parse_use_by
from tui import text as shown
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.screens.deed import DeedScreen, Values
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, date_field, text_field

if TYPE_CHECKING:
    from tui.screens.counting_round import CountScreen


def what(line: SheetLine, formats: shown.Formats) -> str:
    """What stands on a shelf: ``sealed cartridge``, ``opened 2026-03-02``, ``tray``."""
    if line.opened_on is not None:
        return f"opened {shown.day(line.opened_on, formats)}"
    return line.unit_name if line.base is BaseUnit.PIECE else f"sealed {line.unit_name}"


def amount(line: SheetLine, qty: int, formats: shown.Formats) -> str:
    """An amount as it is seen on its shelf: sealed ones, pieces, or what an opened one holds."""
    if line.opened_on is not None or qty % line.unit_qty:
        return shown.amount(qty, line.base, formats)
    return str(qty // line.unit_qty)


def typed(line: SheetLine) -> str:
    """What stands in the field of a line that was counted, as it would be typed."""
    if line.number is None:
        return ""
    match line.read_as:
        case CountMethod.TENTHS:
            return f"{line.number}t"
        case CountMethod.WEIGHT:
            return show_grams(line.number)
        case _:
            return str(line.number)


def about(line: SheetLine, formats: shown.Formats) -> str:
    """How a line is read, and what was read of it so far."""
    if line.facts.in_part:
        weigh = "or grams with the package" if not line.facts.lacks else "not by weight: no " + " or ".join(
            line.facts.lacks
        )  # fmt: skip
        how = f"tenths of a {line.unit_name}, {weigh}"
    else:
        how = f"whole ones ({line.unit_name})"
    if line.counted_at is None or line.reading is None:
        return f"{line.place} · {how}"
    qty = shown.amount(line.counted_qty or 0, line.base, formats)
    return f"{line.place} · {how} · read {line.reading} = {qty} by {line.counted_by}"


def found(screen: "CountScreen", choices: Choices, scanned: Scanned | None, place: str) -> DeedScreen:
    """Ask for what was found: which item and lot, where, and how much of it."""
    practice, number, at = screen.practice, screen.round_id, screen.at
    work = screen.work
    item = scanned.item.code if scanned and scanned.item else None
    read = scanned.use_by if scanned and scanned.use_by else NOT_READ

    def use_by(text: str) -> UseBy:
        return parse_use_by(text, work.today, work.order)

    fields: list[Field] = [  # type: ignore[type-arg]  # of different values
        ChoiceField("Item", [(code, f"{name} · {code}") for code, name in choices.items], chosen=item, id="item",
                    hint="part of its name"),
        ChoiceField("Place", [(name, name) for name in choices.places], chosen=place or None, id="place"),
        text_field("Lot", text=scanned.lot_number if scanned else "", needed=False, hint="empty: none", id="lot"),
        Field("Use by", use_by, text=_use_by(read), needed=False, hint="2028-05-31, 2028-05, none or ?", id="use-by"),
        date_field("Opened", work.today, order=work.order, formats=work.formats, needed=False,
                   hint="empty: it is sealed", id="opened"),
        text_field("Counted", hint="whole ones; of an opened one 4t or 62.5w", id="count"),
    ]  # fmt: skip

    def deed(values: Values, by: str, _: Confirmed | None) -> SheetLine:
        opened: date | None = values["opened"].day if values["opened"] else None
        what_ = Found(values["item"], values["place"], values["lot"] or "", values["use-by"] or NOT_READ, opened)
        return counting.found(practice, number, what_, values["count"], by=by, at=at)

    return DeedScreen(
        "Found", "What stands here and is on no line of the sheet.", fields, deed,
        caution="It comes into the book with the approval of the round. No patient names.",
    )  # fmt: skip


def _use_by(read: UseBy) -> str:
    if read.day is None:
        return ""
    return f"{read.day:%Y-%m}" if read.reading.value == "month" else read.day.isoformat()


def take_back(screen: "CountScreen", line: SheetLine) -> None:
    """Ask, then take a reading back."""
    practice, number = screen.practice, screen.round_id

    def answered(answer: Confirmed | None) -> None:
        if answer is not None:
            screen.signed(
                lambda by: workers.run(
                    screen, lambda: counting.withdraw(practice, number, line.key, by=by), screen.show, name="withdraw"
                )
            )

    said = f"{item_and_lot(line.item_name, line.lot_number)}, {line.place}: read {line.reading}."
    dialog = ConfirmDialog("Take this reading back?", said, "The line is uncounted again.", yes="Take back", no="Keep")
    screen.app.push_screen(dialog, answered)


def time_dialog(screen: "CountScreen") -> AskDialog[tuple[datetime | None]]:
    """When what is entered next was counted."""
    work, zone = screen.work, screen.sheet.zone if screen.sheet else None
    text = f"{shown.day(screen.at.date(), work.formats)} {screen.at:%H:%M}" if screen.at else ""
    field = Field(
        "Counted at", lambda text: parse_moment(text, work.today, work.order, "time"), text=text, needed=False,
        hint="9:30, or fri 9:30; empty: now", id="time",
    )  # fmt: skip

    def taken() -> tuple[datetime | None]:
        if field.value is None:
            return (None,)
        day, at = field.value
        if at is None:
            raise BadInput("time: it is missing.", "Type e.g. 9:30.")
        return (datetime.combine(day.day, at, tzinfo=zone),)

    question = "For readings that stand on paper. What happened after that time is not in them."
    return AskDialog("When was it counted?", [field], taken, question=question)

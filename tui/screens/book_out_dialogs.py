"""The questions of the book-out form: how much, which lot, which tray, and what the book does not know."""

from collections.abc import Callable, Iterable
from datetime import date

from inventory.domain.dates import DateOrder, TypedDate, parse_date
from inventory.domain.quantity import SIGNS
from inventory.domain.vocabulary import Arch, BaseUnit, UseByReading
from inventory.errors import BadInput
from inventory.service import filling_in
from inventory.service.booking import FoundLot
from inventory.service.filling import Filling, Line
from inventory.service.laying_out import LotChoice
from tui import text as shown
from tui.dialogs.ask import AskDialog
from tui.dialogs.choose import ChooseDialog
from tui.screens import book_out_lines as words
from tui.screens.lot_dialog import LotDialog
from tui.screens.visit_words import ARCH
from tui.widgets.fields import Field, moment_field, text_field
from tui.workplace import Workplace

NOT_IN_BOOK = 0  # no holding has this number


def amount_dialog(filling: Filling, line: Line, work: Workplace) -> AskDialog[Filling]:
    """How much was used; the note says how the text is read, and the answer is the form with it."""

    def read(text: str) -> Filling:
        return filling_in.set_amount(filling, line.key, text)

    def tell(changed: Filling) -> str:
        return f"= {_in_words(changed.line(line.key), work)}"

    hint = "pieces" if line.base is BaseUnit.PIECE else f"12.5 {SIGNS[line.base]}, 4t (tenths), left 20"
    field = Field("Used", read, tell=tell, hint=hint)
    asked = f"{line.name}, lot {line.lot_number or 'not chosen'}. Now {_in_words(line, work)}, tip and purge included."
    return AskDialog("How much was used?", [field], lambda: field.value or filling, question=asked)


def _in_words(line: Line, work: Workplace) -> str:
    amount = shown.amount(line.qty, line.base, work.formats)
    return amount if line.base is BaseUnit.PIECE else f"{amount}, {words.used(line)}"


def lot_dialog(
    lots: Iterable[LotChoice],
    heading: str,
    work: Workplace,
    *,
    article: int | None = None,
    or_not_in_book: bool = False,
) -> LotDialog:
    """Which lot, chosen or scanned; answers its stock number, or `NOT_IN_BOOK`.

    Lots of other articles than this one are named.
    """
    offered = tuple(lots)
    choices = [(lot.holding_id, words.choice(lot, work.formats, named=lot.item_id != article)) for lot in offered]
    if or_not_in_book:
        choices.append((NOT_IN_BOOK, "a lot that is not in the book: type it"))
    question = "Lot, use-by date, place, and what is there; or scan it:"
    return LotDialog(heading, choices, question, lots=offered, practice=work.practice)


def tray_dialog(filling: Filling, arches: Iterable[Arch]) -> ChooseDialog[tuple[str, Arch, str]]:
    """What became of the trays; answers ("fitted" or "tried", arch, size), or ("back", arch, place among the tried)."""
    choices: list[tuple[tuple[str, Arch, str], str]] = []
    for arch in arches:
        sizes = [tray.tray_size or "" for tray in filling_in.sizes(filling, arch)]
        choices += [(("fitted", arch, size), f"{ARCH[arch]} {size} fitted") for size in sizes]
        choices += [(("tried", arch, size), f"{ARCH[arch]} {size} tried, not used") for size in sizes]
    for number, one in enumerate(filling.tried):
        said = f"take back: {ARCH[one.arch]} {one.article.tray_size} was not tried"
        choices.append((("back", one.arch, str(number)), said))
    return ChooseDialog(
        "Which trays?", choices, "A tray that was in a mouth never goes back to stock.", of=("tray", "trays")
    )


def found_dialog(line: Line, work: Workplace) -> AskDialog[FoundLot]:
    """A lot that was used although nobody had entered it."""
    number = text_field("Lot number")
    read = _use_by_reader(work.today, work.order)
    use_by = Field("Use by", read, tell=lambda found: _told(found, work), hint="a date, none, or not read")
    question = f"{line.name}: {line.article.name if line.article else line.form.item}. It will be recorded as found."

    def taken() -> FoundLot:
        day, reading = use_by.value or (None, UseByReading.NOT_READ)
        return FoundLot(number.value or "", day, reading)

    return AskDialog("A lot that is not in the book", [number, use_by], taken, question=question)


def _told(found: tuple[date | None, UseByReading], work: Workplace) -> str:
    return shown.use_by(*found, work.formats)


def _use_by_reader(today: date, order: DateOrder) -> Callable[[str], tuple[date | None, UseByReading]]:
    def read(text: str) -> tuple[date | None, UseByReading]:
        if text.casefold() in ("none", "none stated"):
            return None, UseByReading.NONE_STATED
        if text.casefold() in ("not read", "?"):
            return None, UseByReading.NOT_READ
        typed = parse_date(text, today, order, "use by")
        return typed.day, UseByReading.MONTH if typed.month_only else UseByReading.DAY

    return read


def day_dialog(filling: Filling, work: Workplace) -> AskDialog[Filling]:
    """On which day the visit took place."""
    field = moment_field(
        "Day", work.today, on=filling.on or work.today, at=filling.at, order=work.order, formats=work.formats
    )

    def taken() -> Filling:
        day, at = field.value or (TypedDate(work.today), None)
        if day.day > work.today:
            raise BadInput("That day is still to come.", "Book a visit out on its day or later.")
        return filling_in.on_day(filling, day.day, at)

    question = "A time too, e.g. fri 9:30, where its stock was counted on that day: was it before or after?"
    return AskDialog("On which day did it take place?", [field], taken, question=question)


def part_dialog(heading: str, question: str, hint: str) -> AskDialog[str]:
    """How much came from a further lot, as typed."""
    field = text_field("Used", hint=hint)
    return AskDialog(heading, [field], lambda: field.value or "", question=question)

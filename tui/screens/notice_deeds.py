"""What is done on screen for a recall notice: each a small form over one lot, one case or the notice itself."""

from collections.abc import Callable
from pathlib import Path

from inventory.domain.vocabulary import BaseUnit, ContactStatus, PlaceRole
from inventory.errors import BadInput, NotAllowed
from inventory.service import catalogue, notice_deeds, notice_files, notices
from inventory.service.moving import Part
from inventory.service.notice_work import CaseWork, Heap, LotWork, Worklist
from inventory.service.practice import Practice
from inventory.service.setting_up import PracticeState
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.dialogs.choose import ChooseDialog
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.dialogs.reading import ErrorDialog
from tui.screens import stock_deeds
from tui.screens.base import StockScreen
from tui.screens.deed import Values
from tui.screens.stock_deeds import Words
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, amount_field, date_field, number_field, text_field

Items = tuple[tuple[str, str], ...]
"""Code and name of each item."""

STATUSES = (
    (ContactStatus.TOLD, "told"),
    (ContactStatus.NOT_REACHED, "not reached"),
    (ContactStatus.NOT_NEEDED, "not needed"),
    (ContactStatus.OPEN, "open"),
)
DENTIST = "Whether a patient is told is for the dentist to decide. No patient names."


def found(screen: StockScreen, work: Worklist, lot: LotWork, heap: Heap) -> None:
    """Carry what was found to where stock is set aside."""
    practice, slip, reference = screen.practice, stock_deeds.slips(), work.head.reference

    def ask(state: PracticeState) -> None:
        aside = [one.name for one in state.places if one.active and one.role is PlaceRole.SET_ASIDE]
        stock_deeds.show(
            screen,
            Words("Found and set aside", f"{lot.name}, {heap.words}, {heap.place}", "It is set aside.",
                  "Is less there than the book says? Leave with Escape and press m."),
            [stock_deeds.place_field(aside, chosen=aside[0] if aside else None)],
            lambda values, by, answer: notice_deeds.found(
                practice, reference, [Part(heap.holding_id)], slip(values, by, answer), to_place=values["place"] or ""
            ),
        )  # fmt: skip

    stock_deeds.with_places(screen, ask)


def missing(screen: StockScreen, work: Worklist, lot: LotWork, heap: Heap) -> None:
    """Say what is really there."""
    practice, slip, reference = screen.practice, stock_deeds.slips(), work.head.reference
    whole = heap.opened_on is None and lot.base is not BaseUnit.PIECE
    there: Field[int] = (
        number_field("Really there", text="0", hint=f"{lot.unit_name}s; the book says {heap.words}", id="count")
        if whole or lot.base is BaseUnit.PIECE
        else amount_field("Really there", lot.base, lot.unit_qty, text="0", hint="mL, g or tenths (4t)", id="count")
    )
    each = lot.unit_qty if whole else 1
    stock_deeds.show(
        screen,
        Words("Missing", f"{lot.name}, {heap.words}, {heap.place}", "The book says what is there now.",
              "Look everywhere first: an operatory's drawer, a bag packed for a visit, the laboratory."),
        [there, stock_deeds.reason_field(f"missing, recall {reference}"[:60])],
        lambda values, by, answer: notice_deeds.counted(
            practice, reference, heap.holding_id, values["count"] * each, slip(values, by, answer)
        ),
    )  # fmt: skip


def returned(screen: StockScreen, work: Worklist, lot: LotWork, heap: Heap) -> None:
    """Send it back to the supplier, with proof."""
    practice, slip, reference = screen.practice, stock_deeds.slips(), work.head.reference
    stock_deeds.show(
        screen,
        Words("Send back", f"{lot.name}, {heap.words}, {heap.place}", stock_deeds.GONE),
        [stock_deeds.proof_field(needed=True, hint="credit note, return number")],
        lambda values, by, answer: notice_deeds.returned(
            practice, reference, [Part(heap.holding_id)], slip(values, by, answer)
        ),
    )


def destroyed(screen: StockScreen, work: Worklist, lot: LotWork, heap: Heap) -> None:
    """Destroy it, with proof."""
    practice, slip, reference = screen.practice, stock_deeds.slips(), work.head.reference
    stock_deeds.show(
        screen,
        Words("Destroy", f"{lot.name}, {heap.words}, {heap.place}", stock_deeds.GONE,
              "Does the notice ask for it back? Then don't destroy it."),
        [stock_deeds.proof_field(needed=True, hint="certificate of destruction")],
        lambda values, by, answer: notice_deeds.destroyed(
            practice, reference, [Part(heap.holding_id)], slip(values, by, answer)
        ),
    )  # fmt: skip


def leave_house(screen: StockScreen, work: Worklist, lot: LotWork, heap: Heap) -> None:
    """Choose how what was set aside leaves the house."""
    ways = [(returned, "send it back to the supplier, with proof"), (destroyed, "destroy it, with proof")]

    def chosen(way: object) -> None:
        if callable(way):
            way(screen, work, lot, heap)

    screen.app.push_screen(ChooseDialog(f"{lot.name}, {heap.words}", ways), chosen)


def told(screen: StockScreen, work: Worklist, case: CaseWork) -> None:
    """Note how far the patient of a case was told."""
    practice, reference = screen.practice, work.head.reference
    chosen = ContactStatus.TOLD if case.status is ContactStatus.OPEN else case.status
    status: ChoiceField[ContactStatus] = ChoiceField(
        "Patient", STATUSES, chosen=chosen, hint="Down for the list", id="status"
    )
    note = text_field("Note", text=case.note, needed=False, hint="how, when, or why not", id="note")
    sure = "" if case.lot_confirmed else " The lot is assumed: compare the case's record first."
    stock_deeds.show(
        screen,
        Words("Patient told", f"Case {case.case_ref}.{sure}", "It is noted.", DENTIST),
        [status, note],
        lambda values, by, _: notices.tell(
            practice, reference, case.case_ref, values["status"], by=by, note=values["note"] or ""
        ),
    )


def answer(screen: StockScreen, work: Worklist) -> None:
    """Note that the sender was answered."""
    practice, reference, place = screen.practice, work.head.reference, screen.work
    on = date_field("Sent on", place.today, on=place.today, order=place.order, formats=place.formats, id="date")
    stock_deeds.show(
        screen,
        Words("Answered", f"Recall notice {reference}", "The answer is noted.", "The program sends nothing."),
        [stock_deeds.proof_field(needed=True, hint="reply form, hour of an e-mail"), on],
        lambda values, by, _: notices.answer(
            practice, reference, proof=values["proof"], by=by, on=values["date"].day if values["date"] else None
        ),
    )


def add_line(screen: StockScreen, work: Worklist) -> None:
    """Name something more."""
    practice, reference = screen.practice, work.head.reference

    def ask(items: Items) -> None:
        stock_deeds.show(
            screen,
            Words("Name more", f"Recall notice {reference}", "What it names is on hold.",
                  "A range needs the item. What can't be compared for certain is held too."),
            line_fields(screen, items),
            lambda values, by, _: notices.add_line(practice, reference, line_of(values), by=by),
        )  # fmt: skip

    with_items(screen, ask)


def with_items(screen: StockScreen, then: Callable[[Items], object]) -> None:
    """Read which items a notice can name, then go on."""
    practice = screen.practice
    workers.run(screen, lambda: _items(practice), then, name="items")


def _items(practice: Practice) -> Items:
    """All items, also those no longer kept: cases may have used them. Runs in a thread."""
    lines = catalogue.items(practice, taken_out=True)
    return tuple(sorted(((line.code, line.name) for line in lines), key=lambda one: one[1].casefold()))


def line_fields(screen: StockScreen, items: Items) -> list[Field]:  # type: ignore[type-arg]  # of different values
    """The fields of one line of what a notice names."""
    work = screen.work
    days = [
        date_field(label, work.today, order=work.order, formats=work.formats, needed=False, hint=hint, id=name)
        for label, name, hint in (
            ("Received from", "since", "empty: whenever it came"), ("to", "until", "empty: up to now")
        )
    ]  # fmt: skip
    return [
        ChoiceField("Item", [(code, f"{name} · {code}") for code, name in items], needed=False,
                    hint="part of its name", id="item"),
        text_field("Code", needed=False, hint="catalogue number, GTIN, HIBC", id="code"),
        text_field("Lot", needed=False, hint="or the first; empty: every lot", id="lot"),
        text_field("to lot", needed=False, hint="the last of a range", id="last"),
        *days,
    ]  # fmt: skip


def line_of(values: Values) -> notices.ScopeDraft:
    """What the fields of a line say."""
    since, until = values.get("since"), values.get("until")
    return notices.ScopeDraft(
        values.get("item") or "", values.get("code") or "", values.get("lot") or "", values.get("last") or "",
        since.day if since else None, until.day if until else None,
    )  # fmt: skip


def withdraw(screen: StockScreen, work: Worklist) -> None:
    """Withdraw a line that was wrong."""
    practice, reference = screen.practice, work.head.reference
    lines = [(line.line_id, line.words) for line in work.lines if line.withdrawn_on is None]

    def confirmed(line_id: int, said: Confirmed | None) -> None:
        if said is not None:
            _signed(screen, lambda by: notices.withdraw_line(practice, reference, line_id, reason=said.reason, by=by))

    def chosen(line_id: int | None) -> None:
        if line_id is not None:
            words = next(words for number, words in lines if number == line_id)
            dialog = ConfirmDialog(
                "Withdraw the line?", words, "Lots that no other line names are released.", yes="Withdraw", no="Keep",
                reason=True,
            )  # fmt: skip
            screen.app.push_screen(dialog, lambda said: confirmed(line_id, said))

    screen.app.push_screen(ChooseDialog("Which line was wrong?", lines, of=("line", "lines")), chosen)


def close(screen: StockScreen, work: Worklist) -> None:
    """Close the notice, or say what is left; open it again where it is closed."""
    practice, reference = screen.practice, work.head.reference
    if work.left and not work.head.closed:
        error = NotAllowed(f"Recall notice {reference} can't be closed yet.", " ".join(work.left))
        screen.app.push_screen(ErrorDialog.of(error))
        return
    named = f"Recall notice {reference}"
    again = ConfirmDialog("Open it again?", named, yes="Open", no="Keep", reason=True)
    settled = ConfirmDialog(
        "Close it?", f"{named}: everything is settled.", "Its lots stay on hold for good.", yes="Close", no="Keep"
    )

    def answered(said: Confirmed | None) -> None:
        if said is None:
            return
        if work.head.closed:
            _signed(screen, lambda by: notices.reopen(practice, reference, reason=said.reason, by=by))
        else:
            _signed(screen, lambda by: notices.close(practice, reference, by=by))

    screen.app.push_screen(again if work.head.closed else settled, answered)


def _signed(screen: StockScreen, deed: Callable[[str], Worklist]) -> None:
    """Do it under the person's initials, then look again."""
    screen.signed(lambda by: workers.run(screen, lambda: deed(by), lambda _: screen.read(), name="notice"))


def write(screen: StockScreen, reference: str) -> None:
    """Ask for a file's name and write the notice there."""
    practice = screen.practice
    safe = "".join(sign if sign.isalnum() or sign in "-_." else "_" for sign in reference)
    path = text_field("File", text=str(Path.home() / f"recall {safe}.pdf"), hint="ends in .pdf or .csv", id="file")
    path.add_class("-wide")

    def taken() -> Path:
        file = Path(path.text).expanduser()
        if file.suffix.removeprefix(".").lower() not in notice_files.FORMATS:
            raise BadInput("file: the name ends in neither .pdf nor .csv.")
        return file

    def answered(file: Path | None) -> None:
        if file is not None:
            workers.run(
                screen,
                lambda: _write(practice, reference, file),
                lambda _: screen.notify(f"Written to {file}.", markup=False, timeout=8),
                name="notice-file",
                busy="Writing the notice",
            )

    question = "For the records: lots, counts per place, cases by reference, proofs. No patient names."
    screen.app.push_screen(
        AskDialog(f"Write recall notice {reference}", [path], taken, question=question, yes="Write"), answered
    )


def _write(practice: Practice, reference: str, file: Path) -> None:
    """Write the notice; runs in a thread. A file that is there already is not written over."""
    content = notice_files.written(practice, reference, file.suffix.removeprefix(".").lower())
    try:
        with file.open("xb") as out:
            out.write(content)
    except OSError as error:
        raise BadInput(f"{file} can't be written: {error.strerror}.", "Name a file that is new.") from None

"""What a person can say about a visit's form, line by line: each key changes a form that is kept in memory.

Nothing here writes; the screen that stands on this shows the form and posts it.
"""

from collections.abc import Callable
from typing import Any

from textual.binding import Binding

from inventory.domain.quantity import parse_amount
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind
from inventory.domain.words import item_and_lot
from inventory.errors import BadInput, NeedsConfirmation, NotFound, PracticeError
from inventory.service import filling_in, labels, visit_desk
from inventory.service.booking import FoundLot
from inventory.service.filling import Filling, Line
from inventory.service.labels import Scanned
from tui import workers
from tui.dialogs.choose import ChooseDialog
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.screens import book_out_dialogs as dialogs
from tui.screens import book_out_lines as words
from tui.screens.base import StepScreen
from tui.screens.scans import Scans
from tui.widgets.scan_input import ScanInput
from tui.widgets.table import ListTable

Change = Callable[[Filling], Filling]


class FillingScreen(StepScreen[Any]):
    """Keys and questions that change the form. Subclasses show it (`_take`) and say what is wrong (`_say`)."""

    BINDINGS = [
        Binding("f2,ctrl+s", "book_out", "Book out"),
        Binding("plus", "tenth(1)", "A tenth more or less", key_display="+ -"),
        Binding("minus", "tenth(-1)", "A tenth more or less", show=False),
        Binding("l", "lot", "Lot"),
        Binding("c", "confirm", "Lot read"),
        Binding("t", "retake", "Retake"),
        Binding("C", "confirm_all", "All lots read", show=False),
        Binding("z", "tray", "Tray: size, or tried and not used", show=False),
        Binding("0", "drop", "Not done, or done after all", show=False),
        Binding("a", "also", "The rest came from another lot", show=False),
        Binding("w", "further", "Something else was used too", show=False),
        Binding("o", "only", "Only this arch was done", show=False),
        Binding("p", "place", "Another place", show=False),
        Binding("d", "day", "Another day", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._filling: Filling | None = None
        self._scans = Scans(self, self._read_on, lambda: self._filling is not None, refused=self._not_used)

    def action_book_out(self) -> None:
        """Post the form."""
        raise NotImplementedError

    def _take(self, changed: Filling) -> None:
        """Show a form from now on."""
        raise NotImplementedError

    def _say(self, wrong: PracticeError) -> None:
        """Say why something can't be done."""
        raise NotImplementedError

    def _line(self) -> Line | None:
        """The line under the cursor; None for a tray noted as tried."""
        key = self.query_one("#lines", ListTable).current
        if self._filling is None:
            return None
        return next((line for line in self._filling.lines if line.key == key), None)

    def _change(self, change: Change) -> bool:
        """Change the form, or say why it can't be changed so."""
        if self._filling is None:
            return False
        try:
            changed = change(self._filling)
        except BadInput as wrong:
            self._say(wrong)
            return False
        self._take(changed)
        return True

    def _read_anew(self, ask: Callable[[Filling], Filling]) -> None:
        """Change the form by a look into the store."""
        if (now := self._filling) is not None:
            workers.run(self, lambda: ask(now), self._take, name="form", failed=self._complain)

    def _complain(self, error: PracticeError) -> bool:
        self._say(error)
        return True

    def action_tenth(self, by: int) -> None:
        if (line := self._line()) is None:
            return
        step = 1 if line.base is BaseUnit.PIECE else max(1, line.unit_qty // 10)
        qty = max(0, line.qty + by * step)
        if line.base is not BaseUnit.PIECE:
            qty = min(qty, max(line.unit_qty, line.qty))
        self._change(lambda now: filling_in.set_qty(now, line.key, qty))

    def on_list_table_chosen(self) -> None:
        line = self._line()
        if line is None or line.is_tray:
            self.action_tray()
        elif self._filling is not None:
            self.app.push_screen(dialogs.amount_dialog(self._filling, line, self.work), self._take_answer)

    def _take_answer(self, changed: Filling | None) -> None:
        if changed is not None:
            self._take(changed)

    def action_lot(self) -> None:
        line, now = self._line(), self._filling
        if line is None or now is None:
            return

        def answered(holding_id: int | None) -> None:
            if holding_id == dialogs.NOT_IN_BOOK:
                self._not_in_book(line)
            elif holding_id is not None:
                self._choose_lot(now, line, holding_id)

        lots = filling_in.lots_for(now, line.key)
        known = line.article is not None and not line.is_tray
        article = line.article.item_id if line.article else None
        dialog = dialogs.lot_dialog(lots, f"Which lot? {line.name}", self.work, article=article, or_not_in_book=known)
        self.app.push_screen(dialog, answered)

    def _choose_lot(self, now: Filling, line: Line, holding_id: int) -> None:
        def chosen(answer: Confirmed | None = Confirmed()) -> None:  # noqa: B008 - a frozen value
            if answer is not None:
                self._change(lambda now: filling_in.choose_lot(now, line.key, holding_id))

        lot = now.lot(holding_id)
        if lot.late is None:
            chosen()
            return
        dialog = ConfirmDialog(
            f"This lot is {words.LATE[lot.late]}",
            f"{item_and_lot(lot.item, lot.lot_number)}, {lot.place}. Such material is not used.",
            "Choose it only if it really was used: the record will show it, with your reason.",
            yes="It was used",
            no="Another lot",
        )
        self.app.push_screen(dialog, chosen)

    def _not_in_book(self, line: Line) -> None:
        def answered(found: FoundLot | None) -> None:
            if found is not None:
                self._change(lambda now: filling_in.not_in_book(now, line.key, found))

        self.app.push_screen(dialogs.found_dialog(line, self.work), answered)

    def action_confirm(self) -> None:
        if (line := self._line()) is not None:
            self._change(lambda now: filling_in.confirm(now, line.key, read=not line.confirmed))

    def action_confirm_all(self) -> None:
        self._change(filling_in.confirm_all)

    def action_retake(self) -> None:
        if (line := self._line()) is not None:
            practice = self.practice
            self._read_anew(lambda now: filling_in.retake(practice, now, line.form.step, line.form.arch))

    def action_drop(self) -> None:
        if (line := self._line()) is not None:
            change = filling_in.keep if line.dropped else filling_in.drop
            self._change(lambda now: change(now, line.key))

    def action_only(self) -> None:
        if (line := self._line()) is not None and (arch := line.form.arch) is not None:
            self._change(lambda now: filling_in.only(now, arch))

    def action_tray(self) -> None:
        line, now = self._line(), self._filling
        if now is None:
            return
        one_arch = line.form.arch if line is not None else None
        arches = (one_arch,) if one_arch else now.form.visit.arches
        if not any(filling_in.sizes(now, arch) for arch in arches):
            self._say(BadInput("This visit takes no stock tray.", "Enter what else was used with w."))
            return
        self.app.push_screen(dialogs.tray_dialog(now, arches), self._take_tray)

    def _take_tray(self, answer: tuple[str, Arch, str] | None) -> None:
        match answer:
            case ("fitted", arch, size):
                self._change(lambda now: filling_in.choose_tray(now, arch, size))
            case ("tried", arch, size):
                self._change(lambda now: filling_in.tried(now, arch, size))
            case ("back", _, number):
                self._change(lambda now: filling_in.not_tried(now, int(number)))

    def action_also(self) -> None:
        """The cartridge ran out halfway: the rest came from another lot."""
        line, now = self._line(), self._filling
        if line is None or now is None or line.base is BaseUnit.PIECE:
            return

        def lot_chosen(holding_id: int | None) -> None:
            if holding_id is None:
                return

            def rest(now: Filling, text: str) -> Filling:
                qty = parse_amount(text, line.base, line.unit_qty)
                return filling_in.also_from(now, line.key, holding_id, qty)

            def typed(text: str | None) -> None:
                if text is not None:
                    self._change(lambda now: rest(now, text))

            question = (
                f"{line.name}: how much came from the second lot? A tip is added; correct the first line's amount."
            )
            self.app.push_screen(dialogs.part_dialog("The rest", question, "12.5 or 3t"), typed)

        others = [lot for lot in filling_in.lots_for(now, line.key) if lot.base is line.base]
        article = line.article.item_id if line.article else None
        dialog = dialogs.lot_dialog(others, "From which second lot?", self.work, article=article)
        self.app.push_screen(dialog, lot_chosen)

    def action_further(self) -> None:
        """Something that the form does not expect was used too."""
        if (now := self._filling) is None:
            return

        def lot_chosen(holding_id: int | None) -> None:
            if holding_id is None:
                return

            def typed(text: str | None) -> None:
                if text is not None:
                    self._change(lambda now: filling_in.add(now, holding_id, text))

            question = f"{now.lot(holding_id).item}: how much was used?"
            self.app.push_screen(dialogs.part_dialog("Used too", question, "12.5, 3t or a number of pieces"), typed)

        lots = [lot for lot in now.lots if now.articles[lot.item_id].kind is not ItemKind.TRAY]
        self.app.push_screen(dialogs.lot_dialog(lots, "What else was used?", self.work), lot_chosen)

    def action_place(self) -> None:
        practice = self.practice

        def answered(place: str | None) -> None:
            if place is not None:
                self._read_anew(lambda now: filling_in.ask_again(practice, now, place=place))

        def show(places: tuple[str, ...]) -> None:
            self.app.push_screen(ChooseDialog("Where did it take place?", [(name, name) for name in places]), answered)

        workers.run(self, lambda: visit_desk.places(practice), show, name="places")

    def action_day(self) -> None:
        if self._filling is not None:
            self.app.push_screen(dialogs.day_dialog(self._filling, self.work), self._take_answer)

    # scanning

    def on_scan_input_scanned(self, event: ScanInput.Scanned) -> None:
        event.stop()
        self._scans.add(event.label)

    def _not_used(self, wrong: PracticeError) -> None:
        """A label can't be used; where its lot is unknown there is a way to record it all the same."""
        way = "If it was used: l on its line, and there the lot, or a lot that is not in the book."
        self._say(BadInput(wrong.message, way) if isinstance(wrong, NotFound) else wrong)

    def _read_on(self, scanned: Scanned, *, confirmed: bool = False) -> None:
        """A package was scanned: its lot is the one that the lines of its article came from."""
        if (now := self._filling) is None:
            return
        try:
            changed = labels.read_on(now, scanned, confirmed=confirmed)
        except NeedsConfirmation as error:
            late = error
            self._scans.ask(lambda: self._ask_late(scanned, late))
        except BadInput as wrong:
            self._scans.refuse(wrong)
        else:
            self._take(changed)

    def _ask_late(self, scanned: Scanned, late: NeedsConfirmation) -> None:
        def answered(answer: Confirmed | None) -> None:
            if answer is not None:
                self._read_on(scanned, confirmed=True)

        dialog = ConfirmDialog("Was it really used?", late.message, late.todo, yes="It was used", no="Another lot")
        self.app.push_screen(dialog, answered)

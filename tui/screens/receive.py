"""Receive a delivery: what came, line by line, looked through while it is typed, and posted whole."""

from dataclasses import replace
from typing import Any
from uuid import uuid4

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from inventory.domain.vocabulary import ItemKind
from inventory.errors import BadInput, PracticeError
from inventory.service import labels, receiving
from inventory.service.labels import Scanned
from inventory.service.receiving import Arrival, Delivery, PackArticle, Preview, Received, ReceivedLine
from tui import text as shown
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.dialogs.choose import ChooseDialog
from tui.dialogs.save import SaveDialog
from tui.screens import supplier_form
from tui.screens.base import StepScreen
from tui.screens.posted import PostedDialog, undo
from tui.screens.receive_lines import LineDialog, Offer, came, offer, use_by_field
from tui.screens.scans import Scans
from tui.theme import Status
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, moment_field, text_field
from tui.widgets.form import Form
from tui.widgets.scan_input import ScanInput
from tui.widgets.table import Column, ListTable, Row

NOTHING_YET = "Scan a label, or F3 adds a line. Lot and use-by date are read from the label, not from the slip."


class ReceiveScreen(StepScreen[Received]):
    """The form of a delivery; answers what was received.

    Args:
        item_id: an item that came, to begin with.
        order: the order that the delivery came for.
    """

    title_text = "Receive a delivery"
    on_enter = "Change the line"
    cautions = (
        "Lot number and use-by date are read from the label. A date nobody has read yet is typed as ?",
        "What came damaged is noted and not taken into stock.",
    )
    BINDINGS = [
        Binding("f3,n", "new_line", "Add a line"),
        Binding("x", "leave_out", "Leave out"),
        Binding("f4,s", "supplier", "New supplier"),
        Binding("f2,ctrl+s", "save", "Post"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, item_id: int | None = None, order: str = "") -> None:
        super().__init__()
        self._item_id, self._order = item_id, order
        self._offer: Offer | None = None
        self._lines: list[Arrival] = []
        self._key = uuid4().hex
        self._scans = Scans(
            self,
            self._count_in,
            lambda: self._offer is not None,
            used=self._show_lines,
            doubted=self._ask_doubted,
            refused=self._not_used,
        )
        self._unused: list[Content] = []  # why labels were not used, until the next look at the whole
        self._scanned_at: int | None = None
        self._remarks: list[Content] = []

    @property
    def dirty(self) -> bool:
        """Whether something was typed that is not posted."""
        return bool(self._lines)

    def body(self) -> ComposeResult:
        yield Static("Receive a delivery", classes="heading")
        with Form(id="head"):
            yield ChoiceField("Supplier", (), hint="Down for the list", id="supplier")
            yield ChoiceField("For order", (), needed=False, hint="empty: for none", id="order")
            yield text_field("Delivery slip", needed=False, hint="its number", id="slip")
            today, formats = self.work.today, self.work.formats
            yield moment_field("Came on", today, on=today, order=self.work.order, formats=formats, id="day")
            yield ChoiceField("Place", (), needed=False, hint="empty: the store room", id="place")
        yield ListTable(
            [
                Column("Item", grow=True, least=18, most=50),
                Column("Came", most=16),
                Column("Lot", most=22),
                Column("Use by", most=14),
                Column("Damaged", right=True, spare=1),
                Column("Place", spare=2, most=14),
            ],
            empty=NOTHING_YET,
        )
        yield VerticalScroll(Static(id="said"), id="saying", can_focus=False)
        yield ScanInput("Scan a label: a line with its lot and date; once more: one more", id="scan")

    def read(self) -> None:
        practice = self.practice
        workers.run(self, lambda: offer(practice), self._offered, name="offer", latest=True)
        self._scans.go_on()

    def _offered(self, offered: Offer) -> None:
        first_time, self._offer = self._offer is None, offered
        if first_time:
            self._names("place").offer([(name, name) for name in offered.places])
            code = next((item.code for item in offered.items if item.item_id == self._item_id), None)
            usual = offered.usual_supplier(code) if code else None
            asked = next((one.supplier for one in offered.orders if one.number == self._order), None)
            self._offer_suppliers(asked or usual or (offered.suppliers[0] if len(offered.suppliers) == 1 else None))
            self._offer_orders()
            self.query_one("#slip" if self._supplier else "#supplier", Field).focus_input()
            if code is not None:
                self._ask_line(Arrival(item=code))
        if not offered.suppliers:
            self._say([shown.noted(Status.WATCH, "No supplier is known yet: F4 adds one.")])
        self._scans.go_on()

    def _offer_suppliers(self, chosen: str | None) -> None:
        names = self._offer.suppliers if self._offer else ()
        self._names("supplier").offer([(name, name) for name in names], chosen)

    def _offer_orders(self) -> None:
        """Offer the orders that the chosen supplier has still to deliver."""
        open_orders = self._offer.orders_of(self._supplier) if self._offer else []
        numbers = [number for number, _ in open_orders]
        self._names("order").offer(open_orders, self._order if self._order in numbers else None)

    def _names(self, name: str) -> ChoiceField[str]:
        return self.query_one(f"#{name}", ChoiceField)

    @property
    def _supplier(self) -> str:
        return _readable(self._names("supplier")) or ""

    # lines

    def action_new_line(self) -> None:
        self._ask_line(Arrival(item=""))

    def on_form_submitted(self, event: Form.Submitted) -> None:
        """Enter in the last field above leads to the first line."""
        event.stop()
        if self._lines:
            self.query_one(ListTable).focus()
        else:
            self.action_new_line()

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        self._ask_line(self._lines[event.key], event.key)

    def _ask_line(self, line: Arrival, at: int | None = None) -> None:
        if self._offer is not None:
            order = _readable(self._names("order")) or ""
            dialog = LineDialog(self._offer, self._supplier, self.work, line, order)
            self.app.push_screen(dialog, lambda typed: self._ask_pack(typed, at))

    def _ask_pack(self, line: Arrival | None, at: int | None) -> None:
        """Ask which pack, where the supplier sells several."""
        if line is None or self._offer is None:
            return
        sizes = self._offer.packs(self._supplier, line.item)
        if not line.packs or len(sizes) < 2 or line.pack_of in sizes:
            self._ask_contents(line, at)
            return
        dialog = ChooseDialog("Which pack came?", [(size, f"pack of {size}") for size in sizes], of=("pack", "packs"))

        def chosen(size: int | None) -> None:
            if size is not None:
                self._ask_contents(replace(line, pack_of=size), at)

        self.app.push_screen(dialog, chosen)

    def _ask_contents(self, line: Arrival, at: int | None) -> None:
        """Ask for the lots of further materials in the packs, one after the other."""
        missing = self._missing_contents(line)
        if not missing:
            self._take(line, at)
            return
        code = missing[0]
        lot = text_field("Lot", needed=False, hint="as on the label", id="lot")
        use_by = use_by_field(self.work)

        def taken() -> Arrival:
            article = PackArticle(item=code, lot=lot.text, use_by=use_by.value)
            return replace(line, contents=(*line.contents, article))

        def answered(more: Arrival | None) -> None:
            if more is not None:
                self._ask_contents(more, at)

        question = "It comes in the same pack. Empty: our own number, and the date to be read later."
        name = self._offer.item(code).name if self._offer else code
        dialog = AskDialog(f"Also in the pack: {name}", [lot, use_by], taken, question=question)
        self.app.push_screen(dialog, answered)

    def _missing_contents(self, line: Arrival) -> list[str]:
        offered, said = self._offer, {article.item for article in line.contents}
        if offered is None or not line.packs:
            return []
        inside = {
            code
            for one in offered.supplies
            if one.item == line.item and one.supplier == self._supplier and line.pack_of in (None, one.units_per_pack)
            for code, _ in one.contents
        }
        kinds = (ItemKind.IMPRESSION, ItemKind.BITE)
        return sorted(code for code in inside - said if offered.item(code).kind in kinds)

    def _take(self, line: Arrival, at: int | None) -> None:
        if at is None:
            self._lines.append(line)
        else:
            self._lines[at] = line
        self._show_lines()
        table = self.query_one(ListTable)
        table.select(len(self._lines) - 1 if at is None else at)
        table.focus()

    def action_leave_out(self) -> None:
        at = self.query_one(ListTable).current
        if at is not None:
            del self._lines[at]
            self._show_lines()

    def _show_lines(self) -> None:
        table = self.query_one(ListTable)
        table.replace_rows(Row(at, self._cells(line)) for at, line in enumerate(self._lines))
        if self._scanned_at is not None:
            table.select(self._scanned_at)
            self._scanned_at = None
        self._look()

    def _cells(self, line: Arrival) -> tuple[str, ...]:
        assert self._offer is not None  # noqa: S101 - lines are typed after the offer is there
        date = shown.use_by(line.use_by.day, line.use_by.reading, self.work.formats) if line.use_by else shown.NOTHING
        return (
            self._offer.item(line.item).name,
            came(line, self._offer, self._supplier),
            line.lot or shown.NOTHING,
            date,
            str(line.damaged_units or ""),
            line.place or shown.NOTHING,
        )

    # scanning

    def on_scan_input_scanned(self, event: ScanInput.Scanned) -> None:
        event.stop()
        self._scans.add(event.label)

    def _count_in(self, scanned: Scanned) -> None:
        """A package was scanned: a line of its own, or one more on its lot's line."""
        code = scanned.item.code if scanned.item else ""
        sizes = self._offer.packs(self._supplier, code) if self._offer else ()
        try:
            lines, at, new = labels.count_in(self._lines, scanned, sizes)
        except BadInput as wrong:
            self._scans.refuse(wrong)
            return
        if self._offer and lines[at].item not in {item.code for item in self._offer.items}:
            self._scans.refuse(BadInput(f"Item {lines[at].item} was taken out of the catalogue.", "Take it in again."))
            return
        self._lines, self._scanned_at = list(lines), at
        if new and self._missing_contents(lines[at]):
            self._scans.ask(lambda: self._ask_contents(lines[at], at))

    def _ask_doubted(self, scanned: Scanned) -> None:
        """The label was read wrongly: its line is put right by hand before it is taken."""
        try:
            lines, at, _ = labels.count_in((), scanned)
        except BadInput as wrong:
            self._scans.refuse(wrong)
        else:
            self._ask_line(lines[at])

    # looking through

    def on_field_changed(self, event: Field.Changed) -> None:
        event.stop()
        if event.field.id == "supplier":
            self._offer_orders()
        self._look()

    def _look(self) -> None:
        """Have the delivery looked through as far as it is typed; what is to be said stands below the lines."""
        if not self._lines or not self._supplier:
            self._say([])
            return
        practice, request = self.practice, self._delivery()
        workers.run(
            self,
            lambda: receiving.preview(practice, request),
            lambda seen: self._say(_remarks(seen)),
            name="look",
            latest=True,
            failed=self._tell,
        )

    def _tell(self, error: PracticeError) -> bool:
        self._say([shown.noted(Status.ACT, line) for line in str(error.message).splitlines()])
        return True

    def _say(self, remarks: list[Content]) -> None:
        self._remarks = remarks
        said = [*self._unused, *remarks]
        self.query_one("#said", Static).update(Content("\n").join(said))
        self.query_one("#saying").display = bool(said)

    def _not_used(self, error: PracticeError) -> None:
        """Keep in sight why a label was not used: many more may follow at once."""
        self._unused.append(shown.noted(Status.ACT, f"Label not used: {' '.join(str(error).split())}"))
        self._say(self._remarks)

    # posting

    def _delivery(self) -> Delivery:
        day = _readable(self.query_one("#day", Field))
        return Delivery(
            supplier=self._supplier,
            lines=tuple(self._lines),
            received_on=day[0].day if day is not None else None,
            at=day[1] if day is not None else None,
            slip_no=self.query_one("#slip", Field).text,
            place=_readable(self._names("place")) or "",
            order=_readable(self._names("order")) or "",
        )

    def action_save(self) -> None:
        """Look through the delivery once what is typed in the label field is taken, then ask before it is posted."""
        self._unused = []
        self._say(self._remarks)
        self._scans.take_typed(self._look_through)

    def _look_through(self) -> None:
        if not self.query_one(Form).check():
            return
        if not self._lines:
            self.notify("Nothing to receive yet: F3 adds a line.", markup=False)
            return
        practice, request = self.practice, self._delivery()
        workers.run(
            self,
            lambda: receiving.preview(practice, request),
            lambda seen: self._ask(request, seen),
            name="preview",
            busy="Looking through the delivery",
        )

    def _ask(self, request: Delivery, seen: Preview) -> None:
        parts = [self._head(request.supplier, request.slip_no), *map(self._line, seen.lines), *_remarks(seen)]

        def answered(yes: bool | None) -> None:
            if yes:
                self.signed(lambda by: self._post(request, by))

        self.app.push_screen(SaveDialog("Receive this?", [Content("\n").join(parts)], yes="Receive"), answered)

    def _head(self, supplier: str, slip_no: str | None) -> Content:
        return shown.plain(f"{supplier}, {f'slip {slip_no}' if slip_no else 'no slip number'}", "bold")

    def _line(self, line: ReceivedLine) -> Content:
        number = f"lot {line.lot}" if line.lot else "our own lot number"
        date = shown.use_by(line.use_by, line.use_by_read, self.work.formats)
        damaged = f", {line.damaged_units} damaged" if line.damaged_units else ""
        return shown.plain(f"{shown.count(line.units, 'unit')}  {line.name}, {number}, use by: {date}{damaged}")

    def _post(self, request: Delivery, by: str) -> None:
        practice, key = self.practice, self._key
        workers.run(
            self,
            lambda: receiving.receive(practice, request, by=by, request_key=key),
            self._received,
            name="receive",
            again=lambda _: receiving.receive(practice, request, by=by, request_key=key, confirmed=True),
            busy="Receiving",
        )

    def _received(self, received: Received) -> None:
        head = f"Delivery {received.delivery_id} of {received.supplier} is in stock (entry {received.document_id})."
        again = ["It had been posted before: nothing was posted twice."] if received.again else []
        lines = [shown.noted(Status.OK, head), *map(shown.plain, again), *map(self._line, received.lines)]
        remarks = [shown.noted(Status.WATCH, warning) for warning in received.warnings]
        what = f"Delivery {received.delivery_id} of {received.supplier}"

        def answered(answer: str | None) -> None:
            if answer == "undo":
                undo(self, received.document_id, what, self._correct)
            else:
                self.dismiss(received)

        self.app.push_screen(PostedDialog("Received", [Content("\n").join([*lines, *remarks])]), answered)

    def _correct(self) -> None:
        """The delivery was undone: its lines stand here still, to be put right and posted anew."""
        self._key = uuid4().hex
        self._look()

    def action_supplier(self) -> None:
        supplier_form.add(self, self._supplier_added)

    def _supplier_added(self, name: str) -> None:
        if self._offer is not None:
            self._offer = replace(self._offer, suppliers=(*self._offer.suppliers, name))
            self._offer_suppliers(name)
            self._look()


def _remarks(seen: Preview) -> list[Content]:
    """What is unusual, then what is worth knowing."""
    return [
        *(shown.noted(Status.ACT, question) for question in seen.asks),
        *(shown.noted(Status.WATCH, warning) for warning in seen.warnings),
    ]


def _readable(field: Field[Any]) -> Any:
    """What a field says, where it can be read."""
    try:
        return field.value
    except BadInput:
        return None

"""Enter a recall notice: its head, and what it names, typed or scanned line by line; all of it is on hold at once."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from inventory.domain.vocabulary import NoticeClass
from inventory.errors import BadInput, NotFound, PracticeError
from inventory.service import labels, notices
from inventory.service.notice_work import Worklist
from inventory.service.notices import NoticeDraft, ScopeDraft
from inventory.service.practice import Practice
from tui import text as shown
from tui import workers
from tui.screens import notice_deeds
from tui.screens.base import StepScreen
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, date_field, text_field
from tui.widgets.form import Form
from tui.widgets.scan_input import ScanInput

CLASSES = [
    (NoticeClass.NONE, "none given"),
    (NoticeClass.I, "I (1), may cause serious harm"),
    (NoticeClass.II, "II (2), harm that passes"),
    (NoticeClass.III, "III (3), harm not likely"),
]
LINE = ("item", "code", "lot", "last", "since", "until")


class NoticeForm(StepScreen[str]):
    """The form of a new notice; answers its reference.

    Args:
        items: what its lines can name.
    """

    title_text = "New recall notice"
    cautions = ("All it names, or perhaps names, is on hold at once. No patient names.",)
    BINDINGS = [
        Binding("f2,ctrl+s", "save", "Enter it"),
        Binding("f4", "another", "Another line"),
        Binding("f6", "take_back", "Last line away"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, items: notice_deeds.Items) -> None:
        super().__init__()
        self._items = items
        self._lines: list[ScopeDraft] = []

    def body(self) -> ComposeResult:
        work = self.work
        yield Static("New recall notice", classes="heading")
        head: list[Field] = [  # type: ignore[type-arg]  # of different values
            text_field("Reference", hint="as the notice gives it", id="reference"),
            date_field("Dated", work.today, on=work.today, order=work.order, formats=work.formats, id="date"),
            ChoiceField("Class", CLASSES, chosen=NoticeClass.NONE, hint="Down for the list", id="class"),
            date_field("Answer by", work.today, order=work.order, formats=work.formats, needed=False,
                       hint="empty: no answer is asked for", id="answer-by"),
            text_field("Text", needed=False, hint="no patient names", id="text"),
        ]  # fmt: skip
        yield Form(*head, *notice_deeds.line_fields(self, self._items))
        yield ScanInput("Scan a label of it, or type a lot number and Enter", id="label")
        yield Static("", id="named")
        yield Static(Content(self.cautions[0]), classes="caution")

    def on_mount(self) -> None:
        self._field("reference").focus_input()
        self._tell()

    def _field(self, name: str) -> Field:  # type: ignore[type-arg]
        return next(field for field in self.query_one(Form).fields if field.id == name)

    def on_scan_input_scanned(self, event: ScanInput.Scanned) -> None:
        event.stop()
        practice, label = self.practice, event.label
        workers.run(self, lambda: _read(practice, label), self._add, name="label", busy="Reading the label")

    def _add(self, line: ScopeDraft) -> None:
        if line in self._lines:
            self.notify("This is in the list already.", markup=False)
        else:
            self._lines.append(line)
        self._tell()

    def action_another(self) -> None:
        """Keep the line that is typed, and make room for another."""
        line = self._typed_line()
        if line is not None:
            self._add(line)
            for name in LINE:
                self._field(name).fill("")
            self._field("item").focus_input()

    def action_take_back(self) -> None:
        """Take the last line of the list away."""
        if self._lines:
            self._lines.pop()
            self._tell()

    def _typed_line(self) -> ScopeDraft | None:
        """The line in the fields; None where nothing is typed there or something is wrong."""
        fields = [self._field(name) for name in LINE]
        if not any(field.text.strip() for field in fields) or not all(field.check() for field in fields):
            return None
        return notice_deeds.line_of({str(field.id): field.value for field in fields})

    def _tell(self) -> None:
        said = [shown.plain(f"{number}. {_words(line)}") for number, line in enumerate(self._lines, 1)]
        said = said[-3:] or [shown.muted("It names what is typed above; F4 keeps it and makes room for more.")]
        self.query_one("#named", Static).update(Content("\n").join(said))

    def action_save(self) -> None:
        self.query_one(Form).submit()

    def on_form_submitted(self, event: Form.Submitted) -> None:
        event.stop()
        typed = self._typed_line()
        lines = (*self._lines, *((typed,) if typed is not None and typed not in self._lines else ()))
        said = {str(field.id): field.value for field in event.form.fields}
        draft = NoticeDraft(
            said["reference"] or "", said["date"].day if said["date"] else self.work.today, lines,
            said["class"] or NoticeClass.NONE, said["text"] or "",
            said["answer-by"].day if said["answer-by"] else None,
        )  # fmt: skip
        self.signed(lambda by: self._save(draft, by))

    def _save(self, draft: NoticeDraft, by: str) -> None:
        practice = self.practice
        workers.run(
            self, lambda: notices.enter(practice, draft, by=by), self._saved, name="enter-notice",
            failed=self._beside, busy="Putting on hold what it names",
        )  # fmt: skip

    def _saved(self, work: Worklist) -> None:
        lots = shown.count(len(work.concerned), "lot")
        self.notify(f"{lots} on hold, {shown.count(len(work.cases), 'case')}.", title=work.head.reference, markup=False)
        self.finish(work.head.reference)

    def _beside(self, error: PracticeError) -> bool:
        """An error about one field is said beside it."""
        name = error.message.partition(":")[0].replace(" ", "-")
        field = next((one for one in self.query_one(Form).fields if one.id == name), None)
        if field is None or not isinstance(error, BadInput):
            return False
        field.complain(error)
        field.focus_input()
        return True


def _read(practice: Practice, label: str) -> ScopeDraft:
    """What a label, or a lot number typed, names; runs in a thread."""
    try:
        scanned = labels.find(practice, label)
    except NotFound:
        return ScopeDraft(lot_from=label.strip())
    if scanned.label is None:  # a lot number of ours
        return ScopeDraft(scanned.lots[0].item_code, lot_from=scanned.lots[0].number)
    code = "" if scanned.item else scanned.label.code
    return ScopeDraft(scanned.item.code if scanned.item else "", code, scanned.lot_number)


def _words(line: ScopeDraft) -> str:
    article = line.item or (f"code {line.code}" if line.code else "")
    lots = f"lots {line.lot_from} to {line.lot_to}" if line.lot_to else f"lot {line.lot_from}" if line.lot_from else ""
    days = " to ".join(day.isoformat() for day in (line.received_from, line.received_to) if day)
    return ", ".join(filter(None, (article, lots or "every lot", f"received {days}" if days else "")))

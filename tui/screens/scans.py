"""Labels scanned on a screen, one after the other, in the order in which they came.

A scanner is faster than any question. So labels are put in a row; each is looked up in a thread, its questions are
asked, the screen uses it, and only then comes the next one. While a dialog is in front the row waits.
"""

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from inventory.domain.labels.label import Label
from inventory.errors import BadInput, PracticeError
from inventory.service import catalogue, labels
from inventory.service.catalogue import ItemLine
from inventory.service.labels import Scanned
from inventory.service.practice import Practice
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.dialogs.confirm import ConfirmDialog, Confirmed
from tui.text import clean, clip
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import number_field
from tui.widgets.scan_input import ScanInput

if TYPE_CHECKING:
    from tui.screens.base import StockScreen

Result = TypeVar("Result")

NAMES = {"gtin": "GTIN", "hibc": "HIBC article", "own": "Our own code"}


class Scans:
    """The row of labels of one screen.

    Args:
        screen: whose labels.
        use: what to do with a label that was looked up; it may open a dialog.
        ready: whether the screen can use labels yet; once it can, it calls `go_on`.
        used: shows what was used; called once for all labels that came meanwhile.
        doubted: what to do with a label that a person does not trust; by default nothing.
        refused: shows why a label was not used where it stays to be read: many more may follow at once.
    """

    def __init__(
        self,
        screen: "StockScreen",
        use: Callable[[Scanned], object],
        ready: Callable[[], bool],
        *,
        used: Callable[[], object] = lambda: None,
        doubted: Callable[[Scanned], object] = lambda _: None,
        refused: Callable[[PracticeError], object] = lambda _: None,
    ) -> None:
        self._screen, self._use, self._ready = screen, use, ready
        self._used, self._doubted, self._refused = used, doubted, refused
        self._row: deque[str] = deque()
        self._looked_up: tuple[str, ...] = ()
        self._first: Label | None = None  # a package's first code, until its second has come
        self._busy = False
        self._number = 0
        self._then: Callable[[], object] | None = None  # what waits until all labels are used
        self._typed = ""

    def add(self, label: str) -> None:
        """Take one more label."""
        self._row.append(label)
        self.go_on()

    def take_typed(self, then: Callable[[], object]) -> None:
        """Take what is typed in the label field as Enter would, then go on; not where a label can't be used."""
        field = self._screen.query_one(ScanInput)
        self._typed = field.taken()
        if not (self._typed or self._busy or self._row):
            then()
            return
        self._then = then
        if self._typed:
            self.add(self._typed)

    def go_on(self) -> None:
        """Look at the labels that wait, unless some are being looked at or a dialog is in front."""
        if self._busy or not self._screen.is_active or not self._ready():
            return
        self._waiting(yes=False)
        if self._row:
            self._looked_up, self._row = tuple(self._row), deque()
            self._look_up(self._looked_up)
        elif self._then is not None:
            then, self._then, self._typed = self._then, None, ""
            then()

    def _waiting(self, *, yes: bool) -> None:
        for field in self._screen.query(ScanInput):
            field.waits = yes

    def ask(self, question: Callable[[], object]) -> None:
        """Open a dialog behind which further labels are kept until it is gone; what waited is asked for anew."""
        self._then, self._typed = None, ""
        self._waiting(yes=True)
        question()

    def _look_up(self, texts: Sequence[str]) -> None:
        practice, first = self._screen.practice, self._first
        self._work(lambda: _read(practice, texts, first), self._use_all)

    def _work(self, function: Callable[[], Result], then: Callable[[Result], object]) -> None:
        """Call a service, one call at a time."""

        def called(result: Result) -> None:
            self._busy = False
            then(result)

        self._busy = True
        self._number += 1  # a name of its own: the work before it may not have ended yet
        workers.run(self._screen, function, called, name=f"scan {self._number}", failed=self._failed)

    def _failed(self, error: PracticeError) -> bool:
        """The store failed: the labels stay in the row until the next one comes, or the screen is looked at again."""
        self._row.extendleft(reversed(self._looked_up))
        self._looked_up, self._first, self._busy = (), None, False
        self.refuse(error)
        return True

    def _use_all(self, found: "Found") -> None:
        """Use one label after the other, up to one that asks something."""
        rest, self._looked_up = deque(found.scans), ()
        while rest and self._screen.is_active:
            text, scanned = rest.popleft()
            if isinstance(scanned, PracticeError):
                self._first = None
                self.refuse(scanned)
                continue
            self._first = _first_code(scanned)
            self._take(text, scanned, found.items)
        self._row.extendleft(text for text, _ in reversed(rest))  # looked up anew: an answer may tell what they are
        self._used()
        self._screen.call_later(self.go_on)

    def _take(self, text: str, scanned: Scanned, items: tuple[ItemLine, ...]) -> None:
        if scanned.unknown:
            self._ask_which(text, scanned, items)
        elif scanned.questions:
            self._ask_person(scanned)
        else:
            self._use(scanned)

    def refuse(self, error: PracticeError) -> None:
        """Say why a label was not used; typed text that was to be taken comes back into the field, to be put right."""
        said = clean(" ".join(str(error).split()))
        self._screen.notify(said, title="Label not used", severity="error", markup=False)
        self._refused(error)
        typed, self._typed = self._typed, ""
        if self._then is not None and typed:
            field = self._screen.query_one(ScanInput)
            field.put(typed)
            field.focus()
        self._then = None

    def _ask_person(self, scanned: Scanned) -> None:
        def answered(answer: Confirmed | None) -> None:
            (self._use if answer is not None else self._doubted)(scanned)
            self._used()

        question = "\n".join(scanned.questions)
        dialog = ConfirmDialog("Was it read rightly?", question, yes="It is right", no="It is not")
        self.ask(lambda: self._screen.app.push_screen(dialog, answered))

    # an article that nobody has named yet

    def _ask_which(self, text: str, scanned: Scanned, items: tuple[ItemLine, ...]) -> None:
        label = scanned.label

        def answered(said: tuple[str, int] | None) -> None:
            if said is not None and label is not None:
                self._row.appendleft(text)  # looked up again as soon as it is known
                self._screen.signed(lambda by: self._remember(label, *said, by))

        self.ask(lambda: self._screen.app.push_screen(which_item(scanned, items), answered))

    def _remember(self, label: Label, item: str, units: int, by: str) -> None:
        practice = self._screen.practice
        self._work(
            lambda: labels.remember_article(practice, label.scheme, label.code, item, units, by=by),
            lambda _: self._screen.call_later(self.go_on),
        )


@dataclass(frozen=True)
class Found:
    """What each label means, or why it can't be used; all items, where one of them is not known yet."""

    scans: tuple[tuple[str, Scanned | PracticeError], ...]
    items: tuple[ItemLine, ...]


def _read(practice: Practice, texts: Sequence[str], first: Label | None) -> Found:
    """Look labels up, in their order; runs in a thread."""
    scans: list[tuple[str, Scanned | PracticeError]] = []
    for text in texts:
        try:
            scanned = labels.find(practice, text, first=first)
        except BadInput as wrong:
            scans.append((text, wrong))
            first = None
        else:
            scans.append((text, scanned))
            first = _first_code(scanned)
    unknown = any(isinstance(scanned, Scanned) and scanned.unknown for _, scanned in scans)
    return Found(tuple(scans), catalogue.items(practice) if unknown else ())


def _first_code(scanned: Scanned) -> Label | None:
    """The label, where it may be the first code of a package: an article without a lot."""
    label = scanned.label
    return label if label and label.code and not label.lot else None


def which_item(scanned: Scanned, items: tuple[ItemLine, ...]) -> AskDialog[tuple[str, int]]:
    """The question what a label stands for: the item, and how many units of it such a package holds."""
    label = scanned.label
    names = [(item.code, f"{item.name} · {item.code}") for item in items]
    item: ChoiceField[str] = ChoiceField("Item", names, hint="type part of its name", id="item")
    count = label.count if label and label.count else 1
    units = number_field("Units in it", text=str(count), least=1, hint="of this one package", id="units")
    said = f"{NAMES[label.scheme]} {label.code}" if label else clip(scanned.text, 40)
    question = f"{said} is scanned for the first time. A box and a single unit have codes of their own."
    dialog = AskDialog(
        "Which item is this?", [item, units], lambda: (item.value or "", units.value or 1), question=question
    )
    item.add_class("-wide")
    return dialog

"""The first start, in a store that holds no practice yet: look at the demo, or begin one's own by a short set-up."""

from pathlib import Path
from typing import Any, cast

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Static

from inventory.domain.catalogue import TrayLine
from inventory.domain.vocabulary import Role
from inventory.domain.words import clean_initials
from inventory.errors import BadInput, PracticeError
from inventory.service import opening, setting_up, today
from inventory.service.practice import Practice
from inventory.service.setting_up import PersonDraft, SetUp
from inventory.service.today import Desktop
from tui import text as shown
from tui import workers
from tui.demo import todays_demo
from tui.dialogs.save import SaveDialog
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, number_field, text_field
from tui.widgets.form import CarefulScreen, Form
from tui.widgets.key_line import KeyLine
from tui.widgets.table import Column, ListTable, Row

WELCOME = (
    "There is no practice in this store yet. Look around in an invented one first, with two years of visits and "
    "deliveries: nothing you try there can do harm. Or begin your own; it takes a few answers."
)
CHOICES = (
    ("demo", "Try the demo practice", "what you try is kept until tomorrow"),
    ("own", "Begin your own practice", "people, places, trays, materials"),
    ("quit", "Quit", "nothing is written"),
)
ROLES = ((Role.MANAGER, "manager"), (Role.DENTIST, "dentist"), (Role.ASSISTANT, "assistant"))
ORDERS = ((True, "3/12 is 3 December"), (False, "3/12 is March 12"))


class FirstRunScreen(Screen[None]):
    """The choice between the demo and one's own practice.

    Args:
        practice: the opened empty practice.
        day: the present day there.
    """

    title_text = "First start"
    on_enter = "Take the choice"

    def __init__(self, practice: Practice, day: Any) -> None:
        super().__init__()
        self._practice, self._day = practice, day

    def compose(self) -> ComposeResult:
        yield Static("Impression stock", classes="heading")
        with Vertical(classes="panel", id="welcome") as panel:
            panel.border_title = "Welcome"
            yield Static(Content(WELCOME), id="told")
            yield ListTable([Column("What", most=30), Column("", grow=True, least=20, most=80)], empty="", id="choices")
        yield KeyLine()

    def on_mount(self) -> None:
        table = self.query_one(ListTable)
        table.replace_rows(Row(name, (words, shown.muted(more))) for name, words, more in CHOICES)
        table.focus()

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        if event.key == "demo":
            self._demo()
        elif event.key == "own":
            self.app.push_screen(SetUpScreen(self._practice), self._set_up)
        else:
            self.app.exit()

    def _demo(self) -> None:
        """Prepare today's demo practice, telling how far it is, and work in it."""
        day, tell = self._day, workers.teller(self, "Preparing the demo practice, days")

        def prepare() -> tuple[Practice, Desktop]:
            path: Path = todays_demo(day, lambda _: tell)
            demo = opening.open_practice(str(path), today=day)
            return demo, today.desktop(demo)

        workers.run(self, prepare, self._begin_demo, name="demo", busy="Preparing the demo practice")

    def _begin_demo(self, made: tuple[Practice, Desktop]) -> None:
        self._practice.store.close()
        cast("Any", self.app).begin(*made, demo=True)

    def _set_up(self, by: str | None) -> None:
        if by is not None:
            practice = self._practice
            workers.run(self, lambda: today.desktop(practice), lambda desktop: self._begin(desktop, by), name="begin")

    def _begin(self, desktop: Desktop, by: str) -> None:
        """Work in the new practice; the first thing there is what it stocks."""
        app = cast("Any", self.app)
        app.begin(self._practice, desktop, by=by)
        app.call_later(app.go, "stock", ("begin", None))


class SetUpScreen(CarefulScreen[str]):
    """The answers a practice begins with; answers the initials of who set it up."""

    title_text = "Begin your own practice"
    cautions = ("Initials only, no full names; case references only, no patient names anywhere.",)
    BINDINGS = [Binding("f2,ctrl+s", "save", "Set it up"), Binding("escape", "leave", "Back")]

    def __init__(self, practice: Practice) -> None:
        super().__init__()
        self._practice = practice

    def compose(self) -> ComposeResult:
        yield Static("Begin your own practice", classes="heading")
        yield Form(*self._fields())
        yield Static(Content("All of it can be changed and added to later."), classes="caution")
        yield KeyLine()

    def _fields(self) -> list[Field[Any]]:
        sizes = " ".join(setting_up.COMMON_SIZES)
        return [
            Field("Your initials", clean_initials, hint="no full name", id="initials"),
            ChoiceField("Your role", ROLES, chosen=Role.MANAGER, id="role"),
            Field("Colleagues", _colleagues, needed=False, hint="e.g. CD, EF: assistants at first", id="colleagues"),
            number_field("Operatories", text="2", least=1, hint="places with a chair", id="operatories"),
            text_field("Tray line", text="Line 1", hint="your name for it", id="line"),
            text_field("Upper sizes", text=sizes, hint="smallest first", id="upper"),
            text_field("Lower sizes", text=sizes, hint="smallest first", id="lower"),
            text_field("Time zone", text="UTC", hint="e.g. Europe/Vienna", id="time-zone"),
            text_field("Currency", text="EUR", hint="its three letters", id="currency"),
            ChoiceField("Dates", ORDERS, chosen=True, id="day-first"),
        ]

    def on_mount(self) -> None:
        self.query_one(Form).fields[0].focus_input()

    def action_save(self) -> None:
        self.query_one(Form).submit()

    def on_form_submitted(self, event: Form.Submitted) -> None:
        event.stop()
        try:
            request = self._request()
        except BadInput as error:
            self._complain(error)
            return

        def answered(yes: bool | None) -> None:
            if yes:
                self._save(request)

        self.app.push_screen(SaveDialog(self.title_text, [_summary(request)], yes="Set it up"), answered)

    def _request(self) -> SetUp:
        value: dict[str, Any] = {str(field.id): field.value for field in self.query_one(Form).fields}
        number = value["operatories"]
        if number > 50:
            raise BadInput(f"operatories: {number} can't be.", "Type a number from 1 to 50.")
        others = value["colleagues"] or ()
        people = (PersonDraft(value["initials"], value["role"]), *map(PersonDraft, others))
        return SetUp(
            people=people,
            places=setting_up.default_places(number),
            tray_lines=(TrayLine(value["line"], tuple(value["upper"].split()), tuple(value["lower"].split())),),
            settings={
                "time_zone": value["time-zone"],
                "currency": value["currency"].upper(),
                "day_first": value["day-first"],
            },
        )

    def _save(self, request: SetUp) -> None:
        practice, by = self._practice, request.people[0].initials
        workers.run(
            self,
            lambda: setting_up.set_up(practice, request, by=by),
            lambda _: self.dismiss(by),
            name="set up",
            failed=self._complain,
            busy="Setting up",
        )

    def _complain(self, error: PracticeError) -> bool:
        """An error about one answer is said beside it."""
        name = error.message.partition(":")[0].partition(" line")[0].replace("_", "-").replace(" ", "-").lower()
        fields = {"tray": "line"}
        found = [field for field in self.query_one(Form).fields if field.id == fields.get(name, name)]
        if not (isinstance(error, BadInput) and found):
            return False
        found[0].complain(error)
        found[0].focus_input()
        return True


def _colleagues(text: str) -> tuple[str, ...]:
    """Initials with commas or blanks between them."""
    return tuple(map(clean_initials, text.replace(",", " ").split()))


def _summary(request: SetUp) -> Content:
    (line,) = request.tray_lines
    people = ", ".join(f"{person.initials} ({person.role.value})" for person in request.people)
    lines = [
        f"People: {people}",
        f"Places: {', '.join(place.name for place in request.places)}",
        f"Trays: {line.name}, upper {' '.join(line.upper)}, lower {' '.join(line.lower)}",
        f"{request.settings['time_zone']}, {request.settings['currency']}",
    ]
    return shown.plain("\n".join(lines))

"""To the laboratory: what is to be sent first, by when it has to be poured; then what was sent and answered.

Enter does the next thing with a line: pack it, send it, write the answer down, or look at the visit's record.
"""

from datetime import date

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain.parcels import ParcelState
from inventory.service import laboratory
from inventory.service.laboratory import Parcel, Parcels
from tui import text as shown
from tui import workers
from tui.screens import case_file, laboratory_deeds
from tui.screens.base import StepScreen
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row

STATES = {
    ParcelState.TO_PACK: Status.WAITING,
    ParcelState.PACKED: Status.WAITING,
    ParcelState.SENT: Status.WAITING,
    ParcelState.RECEIVED: Status.OK,
    ParcelState.REJECTED: Status.BLOCKED,
}
NEXT = {
    ParcelState.TO_PACK: "pack it",
    ParcelState.PACKED: "send it",
    ParcelState.SENT: "write the answer down",
    ParcelState.RECEIVED: "its record as PDF",
    ParcelState.REJECTED: "its record as PDF",
}

BELOW = "Pour by: by the leaflets of what was used. No patient names, anywhere."


class LaboratoryScreen(StepScreen[object]):
    """Parcels of visits that are booked out.

    Args:
        visit_id: where the cursor begins.
    """

    title_text = "To the laboratory"
    on_enter = "Do the next thing: pack, send, write the answer down; or the record as PDF"
    cautions = (
        "By when to pour: by the leaflets of what was used.",
        laboratory.NO_NAMES,
    )
    BINDINGS = [
        Binding("p", "pack", "Pack"),
        Binding("s", "send", "Sent"),
        Binding("a", "answer", "Answer"),
        Binding("r", "record", "Record"),
        Binding("t", "take_back", "Take the last step back", show=False),
        Binding("k", "ships", "What this kind of visit sends", show=False),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, visit_id: int | None = None) -> None:
        super().__init__()
        self._wanted = visit_id
        self._parcels: dict[int, Parcel] = {}

    def body(self) -> ComposeResult:
        yield Static("To the laboratory", classes="heading")
        yield ListTable(
            [
                Column("How far", most=14),
                Column("Case", most=20),
                Column("Visit", spare=1, most=14),
                Column("What goes", grow=True, least=20, most=60),
                Column("Pour by", most=18),
            ],
            empty="◦ Reading the parcels …",
        )
        with Vertical(classes="panel", id="detail") as panel:
            panel.border_title = "This parcel"
            yield Static("", id="said")
        yield Static(Content(BELOW), classes="caution")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice = self.practice
        workers.run(self, lambda: laboratory.parcels(practice), self._show, name="parcels", latest=True)

    def _show(self, seen: Parcels) -> None:
        self.it_is(seen.now.date())
        self._parcels = {one.visit_id: one for one in seen.parcels}
        table = self.query_one(ListTable)
        table.empty = "Nothing goes to the laboratory: no visit was booked out of a kind that sends something."
        table.replace_rows(Row(one.visit_id, self._cells(one)) for one in seen.parcels)
        if self._wanted is not None:
            table.select(self._wanted)
            self._wanted = None
        self._tell()

    def _cells(self, one: Parcel) -> tuple[str | Content, ...]:
        state = Status.ACT if one.late else STATES[one.state]
        due = shown.NOTHING
        if one.pour_by is not None and one.state.unsent:
            due = f"{self._near(one.pour_by.date())} {one.pour_by:%H:%M}"
        return shown.status(state, one.state.value), one.case_ref, self._near(one.on), ", ".join(one.contents), due

    def _near(self, on: date) -> str:
        """A day near today by its word, others without their weekday: the time stands beside it."""
        near = abs((on - self.work.today).days) <= 1
        formats = self.work.formats
        return shown.near_day(on, self.work.today, formats) if near else shown.day(on, formats)

    @property
    def _parcel(self) -> Parcel | None:
        return self._parcels.get(self.query_one(ListTable).current or 0)

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        event.stop()
        self._tell()

    def _tell(self) -> None:
        one = self._parcel
        lines = [*_story(one)] if one is not None else []
        self.query_one("#said", Static).update(Content("\n").join(map(shown.plain, lines)))

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        one = self._parcels[event.key]
        deeds = {
            ParcelState.TO_PACK: self.action_pack,
            ParcelState.PACKED: self.action_send,
            ParcelState.SENT: self.action_answer,
        }
        deeds.get(one.state, self.action_record)()

    # what is done with a parcel

    def action_pack(self) -> None:
        if (one := self._parcel) is not None:
            laboratory_deeds.pack(self, one)

    def action_send(self) -> None:
        if (one := self._only(one_of=(ParcelState.PACKED,), otherwise="Pack it first, then it is sent.")) is not None:
            laboratory_deeds.send(self, one)

    def action_answer(self) -> None:
        if (one := self._only(one_of=(ParcelState.SENT,), otherwise="Only what was sent is answered.")) is not None:
            laboratory_deeds.answer(self, one)

    def action_take_back(self) -> None:
        states = (ParcelState.SENT, ParcelState.RECEIVED, ParcelState.REJECTED)
        if (one := self._only(one_of=states, otherwise="What is not sent yet is packed anew.")) is not None:
            laboratory_deeds.take_back(self, one)

    def action_record(self) -> None:
        if (one := self._parcel) is not None:
            case_file.write(self, one.case_ref, one.visit_id)

    def action_ships(self) -> None:
        if (one := self._parcel) is not None:
            laboratory_deeds.ships(self, one.case_kind)

    def _only(self, *, one_of: tuple[ParcelState, ...], otherwise: str) -> Parcel | None:
        """The parcel under the cursor where it is so far; says so where it is not."""
        one = self._parcel
        if one is None or one.state in one_of:
            return one
        self.notify(otherwise, markup=False)
        return None


def _story(one: Parcel) -> list[str]:
    """All there is to say of a parcel."""
    lines = [f"{one.case_ref} · {one.case_kind_name}. Enter: {NEXT[one.state]}."]
    disinfected = (
        f"{one.disinfectant_name}, {one.contact_minutes} minutes" if one.disinfectant_name else "not on record"
    )
    taken = f"taken {_moment(one.taken_at)}" if one.taken_at else ""
    pour = f"to be poured by {_moment(one.pour_by)}" if one.pour_by else "no time to pour is stated for what was used"
    lines.append("; ".join(filter(None, (f"Disinfected: {disinfected}", taken, pour))))
    sent = f"Sent {_moment(one.sent_at)} by {one.carrier} ({one.sent_by})" if one.sent_at else ""
    answered = f"{one.state.value} {_moment(one.answered_at)}" if one.answered_at else ""
    again = f"visit {one.remake} does it again" if one.remake else ""
    if said := "; ".join(filter(None, (sent, answered, one.note, again))):
        lines.append(said)
    return lines


def _moment(at: object) -> str:
    return f"{at:%Y-%m-%d %H:%M}"

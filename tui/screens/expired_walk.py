"""Take expired stock off the shelves: one place after the other, each line found, or not there, or left for later.

Nothing is written before a place is done; F2 posts what was said of its lines, then the walk goes on to the next place.
What was left stands expired, and is there the next time somebody walks.
"""

from dataclasses import dataclass
from enum import StrEnum
from uuid import uuid4

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from inventory.domain.words import item_and_lot
from inventory.service import expired
from inventory.service.expired import ExpiredLine, Findings, Found, Stop, TakenOff, Walk
from inventory.service.moving import Slip
from tui import text as shown
from tui import workers
from tui.dialogs.ask import AskDialog
from tui.dialogs.save import SaveDialog
from tui.screens.base import CAUTION, StepScreen
from tui.screens.stock_deeds import proof_field
from tui.theme import Status
from tui.widgets.table import Column, ListTable, Row


class Said(StrEnum):
    """What was said of a line."""

    SET_ASIDE = "set aside"
    DISCARDED = "thrown away"
    NOT_THERE = "not there"


STATES = {Said.SET_ASIDE: Status.OK, Said.DISCARDED: Status.OK, Said.NOT_THERE: Status.UNKNOWN}


@dataclass(frozen=True)
class _Key:
    """One request for one place, however often F2 is pressed."""

    place: str
    key: str


class ExpiredWalkScreen(StepScreen[None]):
    """The walk.

    Args:
        place: only there; empty: everywhere.
    """

    title_text = "Expired stock off the shelves"
    on_enter = "Set the line aside"
    cautions = (CAUTION, "Nothing is posted before F2: what is left is there on the next walk.")
    BINDINGS = [
        Binding("s", "say('SET_ASIDE')", "Set aside"),
        Binding("d", "say('DISCARDED')", "Thrown away"),
        Binding("n", "say('NOT_THERE')", "Not there"),
        Binding("k", "say('')", "Leave it", show=False),
        Binding("f2,ctrl+s", "done", "Post"),
        Binding("o", "on", "Next"),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self, place: str = "") -> None:
        super().__init__()
        self._only = place
        self._walk: Walk | None = None
        self._at = ""  # the place where the person is
        self._said: dict[int, Said] = {}
        self._request = _Key("", "")

    def body(self) -> ComposeResult:
        yield Static("", classes="heading", id="stop")
        yield ListTable(
            [
                Column("Item", grow=True, least=20, most=44),
                Column("Lot", most=18),
                Column("The book says", most=20),
                Column("Last day", most=10),
                Column("Found", grow=True, least=14, most=20),
            ],
            empty="◦ Looking for expired stock …",
        )
        with Vertical(classes="panel", id="detail") as panel:
            panel.border_title = "This line"
            yield Static("", id="said")
        yield Static(Content(self.cautions[1]), classes="caution")

    def on_mount(self) -> None:
        self.query_one(ListTable).focus()

    def read(self) -> None:
        practice, place = self.practice, self._only
        workers.run(
            self, lambda: expired.walk(practice, place=place), self._show, name="walk", latest=True,
            failed=self.leave_with,
        )  # fmt: skip

    @property
    def _standing(self) -> Stop | None:
        stops = self._walk.stops if self._walk else ()
        return next((stop for stop in stops if stop.place == self._at), stops[0] if stops else None)

    def _show(self, walk: Walk) -> None:
        self._walk = walk
        self.it_is(walk.today)
        stop = self._standing
        table = self.query_one(ListTable)
        if stop is None:
            table.empty = "Nothing stands expired" + (f" at {self._only}." if self._only else " on any shelf.")
            self._heading("Done: every shelf was walked.")
            table.replace_rows([])
            self._tell()
            return
        self._at = stop.place
        number = walk.stops.index(stop) + 1
        self._heading(f"{stop.place}: stop {number} of {len(walk.stops)}, {shown.count(len(stop.lines), 'line')}")
        table.replace_rows(Row(line.holding_id, self._cells(line)) for line in stop.lines)
        self._tell()

    def _heading(self, text: str) -> None:
        self.query_one("#stop", Static).update(shown.plain(text))

    def _cells(self, line: ExpiredLine) -> tuple[str | Content, ...]:
        said = self._said.get(line.holding_id)
        found = shown.status(STATES[said], said.value) if said else shown.muted("not looked at")
        return line.item_name, line.lot_number, line.amount, shown.day(line.last_day, self.work.formats), found

    @property
    def _line(self) -> ExpiredLine | None:
        key, stop = self.query_one(ListTable).current, self._standing
        return next((line for line in stop.lines if line.holding_id == key), None) if stop else None

    def on_list_table_moved(self, event: ListTable.Moved) -> None:
        event.stop()
        self._tell()

    def _tell(self) -> None:
        line = self._line
        if line is None:
            self.query_one("#said", Static).update("")
            return
        why = "open for longer than it keeps" if line.opened_too_long else "past its last day of use"
        blocked = f"; it is {line.blocked.value} besides" if line.blocked else ""
        what = f"{item_and_lot(line.item_name, line.lot_number)}: {line.amount}"
        told = f"{what}, {why} for {shown.count(line.days_ago, 'day')}{blocked}."
        how = "n: the count is corrected. k: leave it for the next walk."
        self.query_one("#said", Static).update(Content("\n").join([shown.plain(told), shown.muted(how)]))

    def on_list_table_chosen(self, event: ListTable.Chosen) -> None:
        event.stop()
        self.action_say("SET_ASIDE")

    def action_say(self, name: str) -> None:
        """Say what was found of the line under the cursor, and go on to the next line."""
        line = self._line
        if line is None:
            return
        if name:
            self._said[line.holding_id] = Said[name]
        else:
            self._said.pop(line.holding_id, None)
        if self._walk is not None:
            self._show(self._walk)
        self.query_one(ListTable).action_cursor_down()

    @property
    def dirty(self) -> bool:
        """Whether something was said that is not posted."""
        return bool(self._said)

    # a place is done

    def _named(self, said: Said) -> tuple[Found, ...]:
        stop = self._standing
        lines = stop.lines if stop else ()
        return tuple(Found(line.holding_id) for line in lines if self._said.get(line.holding_id) is said)

    def action_done(self) -> None:
        """Post what was said of this place's lines."""
        stop = self._standing
        if stop is None:
            return
        findings = Findings(
            stop.place, self._named(Said.SET_ASIDE), self._named(Said.DISCARDED),
            tuple(found.holding_id for found in self._named(Said.NOT_THERE)),
        )  # fmt: skip
        told = [
            f"{shown.count(len(lines), 'line')} {word.value}"
            for word, lines in (
                (Said.SET_ASIDE, findings.set_aside), (Said.DISCARDED, findings.discarded),
                (Said.NOT_THERE, findings.not_there),
            )
            if lines
        ]  # fmt: skip
        if not told:
            self.notify("Nothing was said of any line here: o goes on to the next place.", markup=False)
            return
        self._ask(stop, findings, ", ".join(told))

    def _ask(self, stop: Stop, findings: Findings, told: str) -> None:
        """Say once more what will be posted; what was thrown away may have a proof."""
        left = len(stop.lines) - len(self._said.keys() & {line.holding_id for line in stop.lines})
        later = f" {shown.count(left, 'line')} left for the next walk." if left else ""
        heading, said = f"{stop.place} done?", f"{told}.{later}"

        def post(proof: str | None) -> None:
            if proof is not None:
                self.signed(lambda by: self._post(findings, by, proof))

        if findings.discarded:
            proof = proof_field(hint="of what was thrown away")
            self.app.push_screen(AskDialog(heading, [proof], lambda: proof.text, question=said, yes="Post it"), post)
        else:
            dialog = SaveDialog(heading, [shown.plain(said)], yes="Post it")
            self.app.push_screen(dialog, lambda yes: post("" if yes else None))

    def _post(self, findings: Findings, by: str, proof: str) -> None:
        practice = self.practice
        if self._request.place != findings.place:
            self._request = _Key(findings.place, uuid4().hex)
        slip = Slip(self._request.key, by, proof=proof)
        workers.run(
            self, lambda: expired.take_off(practice, findings, slip), self._posted, name="take-off", busy="Posting"
        )

    def _posted(self, taken: TakenOff) -> None:
        entries = "entries" if taken.documents[1:] else "entry"
        numbers = ", ".join(map(str, taken.documents))
        self.notify(f"{taken.place} is done: {entries} {numbers}. Undo it in History if it was wrong.", markup=False)
        self._said.clear()
        self._request = _Key("", "")
        self._move_on()
        self.read()

    def action_on(self) -> None:
        """Go on to the next place; what was said here stays until F2 or until the walk is left."""
        self._move_on()
        if self._walk is not None:
            self._show(self._walk)

    def _move_on(self) -> None:
        stops = self._walk.stops if self._walk else ()
        names = [stop.place for stop in stops]
        if self._at in names and len(names) > 1:
            self._at = names[(names.index(self._at) + 1) % len(names)]

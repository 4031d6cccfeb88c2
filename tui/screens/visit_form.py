"""Plan a visit, change it, or plan one that does an earlier one again (a remake)."""

from collections.abc import Iterable
from typing import Any

from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Static

from inventory.domain.vocabulary import RemakeAskedBy
from inventory.errors import BadInput, PracticeError
from inventory.service import visit_desk, visits
from inventory.service.visit_desk import KindChoice, PlanChoices
from inventory.service.visits import VisitCard, VisitPlan
from tui import text as shown
from tui import workers
from tui.dialogs.confirm import Confirmed
from tui.dialogs.save import SaveDialog
from tui.screens.base import StepScreen
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, date_field, text_field
from tui.widgets.form import Form

ARCHES = (("both", "upper and lower"), ("upper", "upper"), ("lower", "lower"))
ASKED_BY = ((RemakeAskedBy.CHAIR, "the chair"), (RemakeAskedBy.LABORATORY, "the laboratory"))
NO_NAMES = "No patient names: only the practice's own case reference."


class VisitForm(StepScreen[VisitCard]):
    """The form of a plan; answers the visit as it was saved.

    Args:
        changes: a planned visit to be changed.
        remake_of: an earlier visit to be done again.
    """

    title_text = "Plan a visit"
    cautions = (NO_NAMES, "A visit with enough stock today may be short of it after the visits before it.")
    BINDINGS = [Binding("f2,ctrl+s", "save", "Save"), Binding("escape", "leave", "Back")]

    def __init__(self, *, changes: VisitCard | None = None, remake_of: VisitCard | None = None) -> None:
        super().__init__()
        self._changes, self._remake_of = changes, remake_of
        self._kinds: dict[str, KindChoice] = {}
        self._sizes: dict[str, tuple[str, ...]] = {}

    def body(self) -> ComposeResult:
        yield Static(Content(shown.clean(self._heading())), classes="heading")
        yield Static("◦ One moment …", id="waiting", classes="muted", markup=False)
        yield Static(Content(NO_NAMES), classes="caution")

    def _heading(self) -> str:
        if self._changes is not None:
            return f"Change the visit of {self._changes.case_ref}"
        if self._remake_of is not None:
            return f"Remake: do a visit of {self._remake_of.case_ref} again"
        return "Plan a visit"

    def read(self) -> None:
        if not self._kinds:
            practice = self.practice
            workers.run(
                self,
                lambda: visit_desk.plan_choices(practice),
                lambda choices: self.call_later(self._fill, choices),
                name="choices",
            )

    async def _fill(self, choices: PlanChoices) -> None:
        self.it_is(choices.today)
        self._kinds = {kind.code: kind for kind in choices.kinds}
        await self.query_one("#waiting").remove()
        await self.mount(Form(*self._fields(choices)), before=self.query_one(".caution"))
        self._fit_sizes()
        self.query_one(Form).fields[0].focus_input()

    def _fields(self, choices: PlanChoices) -> Iterable[Field[Any]]:
        known = self._changes or self._remake_of
        on = self._changes.on if self._changes else None
        both = known is None or (known.upper and known.lower)
        yield ChoiceField(
            "Case reference",
            [(reference, reference) for reference in choices.case_refs],
            chosen=known.case_ref if known else None,
            other=visits.checked_case_ref,
            id="case",
        )
        yield date_field("Day", choices.today, on=on, order=self.work.order, formats=self.work.formats, id="day")
        yield ChoiceField(
            "Kind of visit",
            [(kind.code, kind.name) for kind in choices.kinds],
            chosen=known.case_kind if known else None,
            hint="Down for the list",
            id="kind",
        )
        arches = "both" if both else "upper" if known and known.upper else "lower"
        yield ChoiceField("Arches", ARCHES, chosen=arches, id="arches")
        carried = "empty: as in the case's last visit"
        yield ChoiceField("Upper tray size", (), needed=False, hint=carried, id="upper")
        yield ChoiceField("Lower tray size", (), needed=False, hint=carried, id="lower")
        yield ChoiceField("Place", [(name, name) for name in choices.places], chosen=known.place if known else None,
                          needed=False, id="place")  # fmt: skip
        if self._asks_who:
            asked = self._changes.remake_asked_by if self._changes else None
            yield ChoiceField("Asked for by", ASKED_BY, chosen=asked, hint="Down for the list", id="asked")
        note = self._changes.note if self._changes else ""
        yield text_field("Note", text=note, needed=False, id="note")

    @property
    def _asks_who(self) -> bool:
        return self._remake_of is not None or (self._changes is not None and self._changes.remake_of is not None)

    def _field(self, name: str) -> Field[str]:
        return self.query_one(f"#{name}", Field)

    def on_field_changed(self, event: Field.Changed) -> None:
        if event.field.id in ("kind", "arches"):
            self._fit_sizes()

    def _fit_sizes(self) -> None:
        """Offer the sizes of the chosen kind, for the chosen arches only."""
        kind = self._kinds.get(_readable(self._field("kind")) or "")
        arches = _readable(self._field("arches"))
        known = self._changes or self._remake_of
        for arch, of_kind, was in (
            ("upper", kind.upper_sizes if kind else (), known.upper_size if known else None),
            ("lower", kind.lower_sizes if kind else (), known.lower_size if known else None),
        ):
            field = self.query_one(f"#{arch}", ChoiceField)
            sizes = of_kind if arches in ("both", arch) else ()
            field.display = bool(sizes)
            if self._sizes.get(arch, ()) != sizes:
                self._sizes[arch] = sizes
                field.offer([(size, size) for size in sizes], was if was in sizes else None)

    # saving

    def action_save(self) -> None:
        if self._kinds:
            self.query_one(Form).submit()

    def on_form_submitted(self, event: Form.Submitted) -> None:
        event.stop()
        request = self._request()

        def answered(yes: bool | None) -> None:
            if yes:
                self.signed(lambda by: self._save(request, by))

        self.app.push_screen(SaveDialog(self._heading(), [self._summary(request)]), answered)

    def _request(self) -> VisitPlan:
        values: dict[str | None, Any] = {field.id: field.value for field in self.query_one(Form).fields}
        remake_of = self._remake_of.visit_id if self._remake_of else self._changes.remake_of if self._changes else None
        return VisitPlan(
            case_ref=values["case"],
            on=values["day"].day,
            case_kind=values["kind"],
            upper=values["arches"] != "lower",
            lower=values["arches"] != "upper",
            upper_size=values.get("upper"),
            lower_size=values.get("lower"),
            place=values["place"],
            remake_of=remake_of,
            remake_asked_by=values.get("asked"),
            note=values["note"] or "",
        )

    def _summary(self, request: VisitPlan) -> Content:
        kind = self._kinds[request.case_kind]
        sizes = [
            f"{arch}{f' {size}' if size else ''}"
            for arch, there, size in (
                ("upper", request.upper, request.upper_size),
                ("lower", request.lower, request.lower_size),
            )
            if there
        ]
        day = f"{shown.weekday(request.on)} {shown.day(request.on, self.work.formats)}"
        lines = [request.case_ref, f"{day}, {shown.away(request.on, self.work.today)}", kind.name, ", ".join(sizes)]
        return shown.plain("\n".join([*lines, *filter(None, (request.place, request.note))]))

    def _save(self, request: VisitPlan, by: str) -> None:
        practice, old = self.practice, self._changes

        def save(confirmed: Confirmed | None = None) -> VisitCard:
            if old is None:
                return visits.plan(practice, request, by=by, confirmed=confirmed is not None)
            return visits.change(practice, old.visit_id, request, version=old.version, by=by)

        workers.run(self, save, self.finish, name="save", again=save, failed=self._complain)

    def _complain(self, error: PracticeError) -> bool:
        """An error about one field is said beside it."""
        fields = {"case reference": "case", "case kind": "kind", "note": "note", "arch": "arches", "tray size": "upper"}
        name = fields.get(error.message.partition(":")[0])
        if name is None or not isinstance(error, BadInput):
            return False
        self._field(name).complain(error)
        self._field(name).focus_input()
        return True


def _readable(field: Field[str]) -> str | None:
    """What the field says, where it can be read."""
    try:
        return field.value
    except BadInput:
        return None

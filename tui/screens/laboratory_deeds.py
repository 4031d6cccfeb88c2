"""What is done with a parcel: packed, sent, answered, taken back; and what a kind of visit usually sends."""

from datetime import date, datetime
from typing import Any

from inventory.domain.dates import parse_moment
from inventory.domain.vocabulary import LaboratoryAnswer
from inventory.errors import BadInput
from inventory.service import laboratory
from inventory.service.laboratory import NO_NAMES, Answered, PackChoices, Packing, Parcel, Ships
from tui import text as shown
from tui import workers
from tui.screens.base import StockScreen
from tui.screens.deed import DeedScreen, Values
from tui.screens.stock_deeds import reason_field
from tui.widgets.choice_field import ChoiceField
from tui.widgets.fields import Field, date_field, number_field, text_field

SEPARATOR = ";"
NONE = ""


def _open(screen: StockScreen, form: DeedScreen, done: str) -> None:
    def closed(result: Any) -> None:
        if result is not None:
            screen.notify(_said(result) or done, markup=False, timeout=6)

    screen.app.push_screen(form, closed)


def _said(result: object) -> str:
    """What came of it where that is more than what was asked."""
    if isinstance(result, Answered) and result.remake is not None:
        return f"A remake is planned for {result.remake.on.isoformat()}, asked for by the laboratory."
    return ""


def _things(text: str | None) -> tuple[str, ...]:
    return tuple(part.strip() for part in (text or "").split(SEPARATOR) if part.strip())


def _wide(field: Field[str]) -> Field[str]:
    field.add_class("-wide")
    return field


def _moment_field(screen: StockScreen, label: str, at: datetime | None, name: str) -> Field[datetime]:
    """A moment: a time of today, or a day and a time."""
    work = screen.work

    def read(typed: str) -> datetime:
        day, clock = parse_moment(typed, work.today, work.order, name)
        if clock is None:
            raise BadInput(f"{name}: it names no time of day.", "Type e.g. 14:30, or a day and 14:30.")
        return datetime.combine(day.day, clock)

    text = f"{at:%Y-%m-%d %H:%M}" if at is not None else ""
    return Field(label, read, text=text, needed=False, hint="14:30, or a day and 14:30", id=name)


def pack(screen: StockScreen, parcel: Parcel) -> None:
    """Say what is in it and how it was disinfected."""
    practice = screen.practice

    def show(found: PackChoices) -> None:
        one = found.parcel
        names = [(NONE, "none"), *((each.code, f"{each.name}, {each.minutes} minutes") for each in found.disinfectants)]
        chosen = one.disinfectant or (names[1][0] if len(names) == 2 and one.parcel_id is None else NONE)
        minutes = str(one.contact_minutes) if one.contact_minutes else ""
        fields: list[Field[Any]] = [
            _wide(text_field("In it", text=f"{SEPARATOR} ".join(one.contents), id="contents")),
            ChoiceField("Disinfectant", names, chosen=chosen, needed=False, id="disinfectant"),
            number_field("Minutes", text=minutes, least=1, needed=False, hint="empty: as stated", id="contact-time"),
            _moment_field(screen, "Taken", one.taken_at, "taken"),
        ]  # fmt: skip

        def deed(values: Values, by: str, answer: object) -> Parcel:
            packing = Packing(
                parcel.visit_id, _things(values["contents"]), values["disinfectant"] or "", values["contact-time"],
                values["taken"],
            )  # fmt: skip
            return laboratory.pack(practice, packing, by=by, confirmed=answer is not None)

        what = f"Case {one.case_ref}, {one.case_kind_name}. Put {SEPARATOR} between things."
        _open(
            screen, DeedScreen("Pack the parcel", what, fields, deed, caution=NO_NAMES), "Packed; s says it was sent."
        )

    workers.run(screen, lambda: laboratory.choices(practice, parcel.visit_id), show, name="choices")


def send(screen: StockScreen, parcel: Parcel) -> None:
    """Say that it is on its way, and by what."""
    practice = screen.practice

    def show(found: PackChoices) -> None:
        ways = [(way, way) for way in found.carriers]
        chosen = found.carriers[0] if found.carriers else None
        fields: list[Field[Any]] = [
            ChoiceField("By", ways, chosen=chosen, other=str, hint="courier, post ...", id="sent-by"),
            _moment_field(screen, "Sent at", None, "sent"),
        ]

        def deed(values: Values, by: str, answer: object) -> Parcel:
            return laboratory.send(
                practice, parcel.visit_id, values["sent-by"], by=by, at=values["sent"], confirmed=answer is not None
            )

        pour = f" To be poured by {parcel.pour_by:%Y-%m-%d %H:%M}." if parcel.pour_by else ""
        what = f"Case {parcel.case_ref}: {', '.join(parcel.contents)}.{pour}"
        _open(screen, DeedScreen("Sent to the laboratory", what, fields, deed, caution=NO_NAMES), "It is on its way.")

    workers.run(screen, lambda: laboratory.choices(practice, parcel.visit_id), show, name="choices")


def answer(screen: StockScreen, parcel: Parcel) -> None:
    """Write down what the laboratory said; a rejected parcel may plan its remake."""
    practice, work = screen.practice, screen.work
    answers = [(said, said.value) for said in LaboratoryAnswer]
    fields: list[Field[Any]] = [
        ChoiceField("The laboratory", answers, chosen=LaboratoryAnswer.RECEIVED, hint="received it, or rejected it",
                    id="answer"),
        _wide(text_field("Note", needed=False, hint="why, if it was rejected", id="note")),
        date_field("Remake on", work.today, order=work.order, formats=work.formats, needed=False,
                   hint="if it was rejected: plan the visit again", id="remake"),
    ]  # fmt: skip

    def deed(values: Values, by: str, _: object) -> Answered:
        on: date | None = values["remake"].day if values["remake"] is not None else None
        return laboratory.answer(
            practice, parcel.visit_id, values["answer"], by=by, note=values["note"] or "", remake_on=on
        )

    what = f"Case {parcel.case_ref}, sent by {parcel.carrier}: {', '.join(parcel.contents)}."
    _open(screen, DeedScreen("What the laboratory answered", what, fields, deed, caution=NO_NAMES), "Written down.")


def take_back(screen: StockScreen, parcel: Parcel) -> None:
    """Take the last step back, said by mistake."""
    practice = screen.practice
    last = "the laboratory's answer" if parcel.answered_at else "that it was sent"
    form = DeedScreen(
        "Take back", f"Case {parcel.case_ref}: {last} is taken back.", [reason_field()],
        lambda values, by, _: laboratory.take_back(practice, parcel.visit_id, reason=values["reason"], by=by),
        caution="Old and new stay in the log of changes.",
    )  # fmt: skip
    _open(screen, form, "Taken back.")


def ships(screen: StockScreen, case_kind: str) -> None:
    """Say what this kind of visit usually sends; nothing at all: its visits have no parcels."""
    practice = screen.practice

    def show(found: tuple[Ships, ...]) -> None:
        one = next(each for each in found if each.code == case_kind)
        contents = _wide(text_field("It sends", text=f"{SEPARATOR} ".join(one.contents), needed=False, id="contents"))
        form = DeedScreen(
            "What goes to the laboratory", f"{shown.clean(one.name)}. Put {SEPARATOR} between things.", [contents],
            lambda values, by, _: laboratory.set_ships(practice, case_kind, _things(values["contents"]), by=by),
            caution="Parcels packed already stay as they are. Nothing at all: no parcels for this kind of visit.",
        )  # fmt: skip
        _open(screen, form, "Kept.")

    workers.run(screen, lambda: laboratory.ships(practice), show, name="ships")

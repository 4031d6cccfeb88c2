"""Start a practice by a short guided set-up without screens, and look at or change settings, people and places."""

import argparse
import json
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from inventory import settings
from inventory.errors import BadInput
from tui.commands import base, shapes, words

if TYPE_CHECKING:
    from inventory.domain.catalogue import TrayLine
    from inventory.service.setting_up import PersonDraft, PracticeState, SetUp
    from inventory.service.visit_desk import PlanChoices

ROLES = ("assistant", "dentist", "manager")
PLACE_ROLES = ("store", "chair", "set_aside", "reprocessing", "laboratory")


def add(commands: "base.Commands", common: base.Parser) -> None:
    """Add ``set-up`` and ``settings``."""
    set_up = commands.add_parser(
        "set-up", parents=[common], help="start your own practice: a few questions, or options instead",
        description="Makes an empty store a practice. What no option says is asked, one question a line; with --yes "
        "the usual answer is taken instead. Then bring in your catalogue and stock with 'import'.",
    )  # fmt: skip
    set_up.add_argument("--people", metavar="AB:manager,CD", help="initials with roles; the first is who sets up")
    set_up.add_argument("--operatories", metavar="N", help="how many (2)")
    set_up.add_argument(
        "--tray-line", metavar="'NAME: S M L'", action="append",
        help="sizes of both arches, smallest first, or 'NAME: S M L / S M' for upper / lower",
    )  # fmt: skip
    set_up.add_argument("--time-zone", metavar="AREA/CITY", help="e.g. Europe/Vienna (UTC)")
    set_up.add_argument("--currency", metavar="CODE", help="e.g. EUR")
    set_up.add_argument("--month-first", action="store_true", help="3/12 is March the twelfth")
    set_up.add_argument("--yes", action="store_true", help="ask nothing")
    set_up.set_defaults(run=_set_up)
    shown = commands.add_parser(
        "settings", parents=[common], help="this workstation's settings and the practice's: show, change",
        description="Without a verb: everything that is set, who works here, places, tray lines and case kinds.",
    )  # fmt: skip
    base.reading(shown)
    shown.set_defaults(run=_show)
    verbs = shown.add_subparsers(metavar="VERB", parser_class=base.Parser)
    change = verbs.add_parser("set", parents=[common], help="change a setting")
    change.add_argument("key", metavar="KEY", help="database, by or theme of this workstation, or one of the practice")
    change.add_argument("value", metavar="VALUE", help="'' forgets one of this workstation; - asks for it unseen")
    base.writing(change)
    change.set_defaults(run=_set)
    person = verbs.add_parser("person", parents=[common], help="add somebody, change a role, take out or back in")
    person.add_argument("initials", metavar="INITIALS", help="never a full name")
    person.add_argument("--role", choices=ROLES, default="assistant", help="assistant where nothing is said")
    person.add_argument("--out", action="store_true", help="does not work here any more")
    person.set_defaults(run=_person)
    place = verbs.add_parser("place", parents=[common], help="add a place, change its role, take out or back in")
    place.add_argument("name", metavar="NAME", help="e.g. 'operatory 3'")
    place.add_argument("--role", choices=PLACE_ROLES, default="chair", help="chair where nothing is said")
    place.add_argument("--out", action="store_true", help="not in use any more; it must be empty")
    place.set_defaults(run=_place)


def _set_up(context: base.Context) -> int:
    from inventory.service import setting_up  # noqa: PLC0415

    practice = context.open(create=True)
    if setting_up.is_set_up(practice):
        raise BadInput("This practice is set up already.", "Change it with 'settings', or name another --database.")
    request = _answers(context.args)
    state = setting_up.set_up(practice, request, by=request.people[0].initials)
    base.say(f"Set up in {settings.shown_address(context.database)}.", *_practice_lines(state))
    base.say(f"Next: {base.PROGRAM} import --help brings in your catalogue and stock.")
    return base.OK


def _answers(args: argparse.Namespace) -> "SetUp":
    """The request, from options, answers and the usual."""
    from inventory.service.setting_up import SetUp, default_places  # noqa: PLC0415

    asked = _Asked(quiet=args.yes)
    people = args.people or asked.ask("Your initials and role, then others (e.g. AB:manager, CD)", "")
    operatories = args.operatories or asked.ask("How many operatories", "2")
    lines = args.tray_line or [asked.ask("Tray line with its sizes, smallest first", "Line 1: S M L XL")]
    zone = args.time_zone or asked.ask("Time zone", "UTC")
    currency = args.currency or asked.ask("Currency", "EUR")
    day_first = "no" if args.month_first else asked.ask("Is 3/12 the 3rd of December (yes or no)", "yes")
    number = base.whole_number(operatories, "operatories")
    if not 1 <= number <= 50:
        raise BadInput(f"operatories: {number} can't be.", "Type a number from 1 to 50.")
    return SetUp(
        people=tuple(_person_of(part, first=not place) for place, part in enumerate(people.split(","))),
        places=default_places(number),
        tray_lines=tuple(map(_tray_line, lines)),
        settings={"time_zone": zone, "currency": currency, "day_first": _yes(day_first)},
    )


class _Asked:
    """Questions on the terminal, one a line, with the usual answer in brackets."""

    def __init__(self, *, quiet: bool) -> None:
        self._quiet = quiet

    def ask(self, question: str, usual: str) -> str:
        """The answer, or the usual one where nothing was typed.

        Raises:
            BadInput: nobody can answer, or nothing was typed where there is no usual answer.
        """
        if self._quiet and usual:
            return usual
        typed = ""
        if not self._quiet:
            print(f"{question}{f' [{usual}]' if usual else ''}: ", end="", flush=True)
            typed = sys.stdin.readline()
            if not typed:
                print()
                raise BadInput("The answers ended before the questions.", "Give options instead; see set-up --help.")
        if not (typed.strip() or usual):
            raise BadInput("people: nobody is named.", "Type initials, e.g. AB:manager; see set-up --help.")
        return typed.strip() or usual


def _yes(word: str) -> bool:
    if word.casefold() not in ("yes", "y", "no", "n", "true", "false"):
        raise BadInput(f"{word!r} is neither yes nor no.", "Type yes or no.")
    return word.casefold() in ("yes", "y", "true")


def _person_of(text: str, *, first: bool) -> "PersonDraft":
    from inventory.domain.vocabulary import Role  # noqa: PLC0415
    from inventory.service.setting_up import PersonDraft  # noqa: PLC0415

    initials, _, role = (part.strip() for part in text.partition(":"))
    word = role.casefold() or ("manager" if first else "assistant")
    if word not in ROLES:
        raise BadInput(f"people: there is no role {role!r}.", f"Known are: {', '.join(ROLES)}.")
    return PersonDraft(initials, Role(word))


def _tray_line(text: str) -> "TrayLine":
    from inventory.domain.catalogue import TrayLine  # noqa: PLC0415

    name, colon, sizes = text.partition(":")
    if not colon:
        raise BadInput(f"tray line: {text!r} names no sizes.", "Write e.g. 'Line 1: S M L XL'.")
    upper, slash, lower = sizes.partition("/")
    return TrayLine(name.strip(), tuple(upper.split()), tuple((lower if slash else upper).split()))


def _show(context: base.Context) -> int:
    from inventory.service import setting_up, visit_desk  # noqa: PLC0415

    state = setting_up.practice_state(context.practice)
    choices = visit_desk.plan_choices(context.practice)
    own = {"database": settings.shown_address(context.database), "by": context.by, "theme": context.settings.theme,
           "from_environment": settings.from_environment()}  # fmt: skip
    result = {"workstation": own, "state": state, "settings": [_pair(*one) for one in sorted(state.settings.items())],
              "case_kinds": choices.kinds}  # fmt: skip
    context.show(shapes.SETTINGS, result, _told(own, state, choices))
    return base.OK


def _pair(key: str, value: object) -> dict[str, object]:
    return {"key": key, "value": value}


def _told(own: dict[str, Any], state: "PracticeState", choices: "PlanChoices") -> Iterator[str]:
    yield "This workstation"
    for key in settings.KEYS:
        decided = " (from the environment)" if key in own["from_environment"] else ""
        yield f"  {key}: {own[key] or 'not set'}{decided}"
    yield "The practice"
    yield from (f"  {key}: {json.dumps(value)}" for key, value in sorted(state.settings.items()))
    yield from _practice_lines(state)
    yield from (f"Case kind {kind.code}: {kind.name}" for kind in choices.kinds)


def _practice_lines(state: "PracticeState") -> Iterator[str]:
    for person in state.people:
        yield words.facts(
            f"Person {person.initials}", person.role.value, None if person.active else "not here any more"
        )
    for place in state.places:
        yield words.facts(f"Place {place.name}", place.role.value, None if place.active else "not in use any more")
    for line in state.tray_lines:
        yield f"Tray line {line.name}: upper {' '.join(line.upper) or 'none'}, lower {' '.join(line.lower) or 'none'}"
    yield f"{base.number_of(state.items, 'item')} in the catalogue, {base.number_of(state.lots, 'lot')} in the book"


def _set(context: base.Context) -> int:
    from inventory.service import setting_up  # noqa: PLC0415

    key, value = context.args.key, context.args.value
    if value == "-":  # not for the eyes of whoever lists what runs here
        value = _unseen(f"{key}: ")
    elif key == "database":
        base.mind_password(value)
    if key in settings.KEYS:
        settings.remember(**{key: value.strip().upper() if key == "by" else value.strip()})
        base.say(f"{key} of this workstation: {settings.shown_address(value.strip()) or 'forgotten'}")
        return base.OK
    changed = setting_up.change_settings(
        context.practice, {key: _value(value)}, by=context.by, reason=context.args.reason
    )
    base.say(f"{key}: {json.dumps(changed[key])}")
    return base.OK


def _unseen(question: str) -> str:
    """What somebody types unseen, or what comes on standard input."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().strip()
    from getpass import getpass  # noqa: PLC0415 - rarely needed

    return getpass(question)


def _value(text: str) -> object:
    """A setting's value as typed: yes and no, a number or other JSON, else the text itself."""
    if text.strip().casefold() in ("yes", "no"):
        return _yes(text.strip())
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return text.strip()


def _person(context: base.Context) -> int:
    from inventory.domain.vocabulary import Role  # noqa: PLC0415
    from inventory.service import setting_up  # noqa: PLC0415

    args = context.args
    draft = setting_up.PersonDraft(args.initials, Role(args.role), active=not args.out)
    made = setting_up.add_person(context.practice, draft, by=context.by)
    base.say(words.facts(f"Person {made.initials}", made.role.value, None if made.active else "not here any more"))
    return base.OK


def _place(context: base.Context) -> int:
    from inventory.domain.vocabulary import PlaceRole  # noqa: PLC0415
    from inventory.service import setting_up  # noqa: PLC0415

    args = context.args
    draft = setting_up.PlaceDraft(args.name, PlaceRole(args.role), active=not args.out)
    made = setting_up.add_place(context.practice, draft, by=context.by)
    base.say(words.facts(f"Place {made.name}", made.role.value, None if made.active else "not in use any more"))
    return base.OK

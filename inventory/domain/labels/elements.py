"""GS1 element strings: pairs of an identifier and a value, one behind the other (GS1 General Specifications 3 and 7.8).

Values of a predefined length end by themselves; all others end at a separator or at the end of the text. A separator
too many (doubled, at the end, behind a value of predefined length) is tolerated by the standard; one too few is not
seen by anyone but the person who compares the lot with what is printed. Hence two checks of our own: a value longer
than its field is an error, and a lot whose end looks like the next field gets a question.
"""

import re
from calendar import monthrange
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING, NamedTuple

from inventory.domain.catalogue import check_digit
from inventory.domain.dates import full_year
from inventory.domain.labels.label import CodeKind, Label, unreadable
from inventory.domain.use_by import last_day_of_month
from inventory.domain.vocabulary import UseByReading

if TYPE_CHECKING:
    from biip.gs1_application_identifiers import GS1ApplicationIdentifier

SEPARATOR = re.compile(
    r"[\x1d\u241d\u2194]|\^\]|<(?:GS|FNC1)>|\{(?:GS|FNC1)\}|\[(?:GS|FNC1)\]|\\x1d|\\u001d|[|~^#@]", re.IGNORECASE
)
"""ASCII 29, and what scanners are set to send in its place. None of these signs may occur in an element (GS1's set of
82 signs lacks them); ``<GS>`` could be in a lot, and never is. Which substitutes are common is from memory; ``↔`` is
how an old code page shows ASCII 29."""

OWN, OWN_LOT = "91", "92"
"""Of the elements for company internal information (91 to 99): on our shelf labels the item's code, and the number
that a lot has in the book."""

_BRACKETS = re.compile(r"\((\d{2,4})\)")
_WORDS = {
    "00": "shipping container", "01": "article number (GTIN)", "02": "article number of the content (GTIN)",
    "10": "lot", "11": "production date", "13": "packaging date", "15": "best-before date", "16": "sell-by date",
    "17": "use-by date", "20": "variant", "21": "serial number", "30": "count", "37": "count", "7003": "use-by date",
}  # fmt: skip
_CHECKED = ("00", "01", "02", "03", "410", "411", "412", "413", "414", "415", "416", "417")
_DATES = {
    **{ai: ai for ai in ("11", "12", "13", "15", "16", "17")},
    "7003": "17",
}  # 7003: use-by with an hour behind it


class Element(NamedTuple):
    """An identifier with its value, and where the value begins in the text."""

    ai: str
    value: str
    at: int


def scanned(text: str, at: int) -> list[Element]:
    """The elements of a string as a scanner sends it, from a position on.

    Raises:
        BadInput: an unknown identifier, or a value that does not fit; with the position.
    """
    found = []
    for start, end in _runs(text, at):
        position = start
        while position < end:
            element, ends_itself = _element(text, position, end)
            position = element.at + len(element.value)
            found.append(element)
            if position < end and not ends_itself:
                raise _runs_on(element, text[position])
    return found


def _runs(text: str, at: int) -> Iterator[tuple[int, int]]:
    """Where the text between separators begins and ends."""
    for separator in SEPARATOR.finditer(text, at):
        yield at, separator.start()
        at = separator.end()
    yield at, len(text)


def _element(text: str, at: int, end: int) -> tuple[Element, bool]:
    """The element that begins here, and whether it ends without a separator."""
    rest = text[at:end]
    known = _known(rest)
    if rest[0] == " ":
        raise unreadable("a blank stands here", at)
    if known is None:
        raise unreadable(f"no GS1 element begins with {rest[:4]!a}", at)
    match = re.match(known.pattern.removesuffix("$"), rest)
    value_at = at + len(known.ai)
    if match is None or not any(match.groups()):
        raise _misfit(known.ai, rest[len(known.ai) :], value_at)
    return Element(known.ai, match.group()[len(known.ai) :], value_at), not known.separator_required


def _known(text: str) -> "GS1ApplicationIdentifier | None":
    """The identifier that a text begins with; None where GS1 has none like it."""
    from biip import ParseError  # noqa: PLC0415 - takes a while to load, and only scans need it
    from biip.gs1_application_identifiers import GS1ApplicationIdentifier  # noqa: PLC0415

    try:
        return GS1ApplicationIdentifier.extract(text)
    except ParseError:
        return None


def _misfit(ai: str, value: str, at: int) -> Exception:
    what = f"element {ai}, {_WORDS[ai]}" if ai in _WORDS else f"element {ai}"
    if ai in _DATES and re.match(r"[0-9]{6}", value):
        return unreadable(f"{what}: there is no date {value[:6]}", at)
    if not value:
        return unreadable(f"{what}: the label ends here", at)
    return unreadable(f"{what}: {value[:14]!a} does not fit", at)


def _runs_on(element: Element, sign: str) -> Exception:
    at = element.at + len(element.value)
    what = _WORDS.get(element.ai, f"element {element.ai}")
    if sign == " ":
        return unreadable(f"a blank stands in the {what}", at)
    return unreadable(f"the {what} goes on too long; the mark of its end was lost", at)


def printed(text: str, at: int) -> list[Element]:
    """The elements of the printed form, ``(01)09506000134352(10)LOT 7``; blanks around values don't count.

    Brackets may occur in a lot: what looks like an identifier but has no fitting value belongs to the value before.

    Raises:
        BadInput: as `scanned`.
    """
    pieces: list[Element] = []
    brackets = list(_BRACKETS.finditer(text, at))
    ends = [*(bracket.start() for bracket in brackets[1:]), len(text)]
    for bracket, end in zip(brackets, ends, strict=False):
        value = text[bracket.end() : end]
        ai = bracket.group(1)
        wrong = _wrong(ai, value.strip(" "), bracket.end())
        if wrong is None and not any(ai == piece.ai for piece in pieces):
            pieces.append(Element(ai, value.strip(" "), bracket.end()))
        elif pieces and _wrong(pieces[-1].ai, longer := text[pieces[-1].at : end].strip(" "), 0) is None:
            pieces[-1] = pieces[-1]._replace(value=longer)
        else:
            raise wrong or unreadable(f"element {ai} stands there twice", bracket.start())
    if not pieces or brackets[0].start() != at:
        raise unreadable("no GS1 element stands in these brackets", at)
    return pieces


def _wrong(ai: str, value: str, at: int) -> Exception | None:
    """Why a value does not fit its identifier; None where it does."""
    known = _known(ai)
    if known is None or known.ai != ai:
        return unreadable(f"there is no GS1 element {ai}", at - len(ai) - 1)
    return None if value and re.fullmatch(known.pattern, ai + value) else _misfit(ai, value, at)


def label_of(kind: CodeKind, found: Sequence[Element], today: date) -> Label:
    """What the elements say together.

    Raises:
        BadInput: a wrong check digit, an impossible date, a contradiction, or nothing that helps.
    """
    told = _told_once(found)
    for element in found:
        if element.ai in _CHECKED and check_digit(element.value[:-1]) != element.value[-1]:
            what = _WORDS.get(element.ai, f"element {element.ai}")
            at = element.at + len(element.value) - 1
            raise unreadable(f"the last digit of the {what} {element.value} does not fit the others", at)
    dates = {ai: read_date(element, today) for element in found if (ai := _DATES.get(element.ai))}
    use_by, read = dates.get("17") or dates.get("15") or (None, UseByReading.NOT_READ)
    made_on, _ = dates.get("11") or (None, None)
    gtin = told.get("01") or told.get("02")
    count = told.get("30") or told.get("37")
    label = Label(
        kind, gtin=gtin, own=None if gtin else told.get(OWN),
        own_lot=None if gtin else _own_lot(told), lot=told.get("10"), use_by=use_by, use_by_read=read,
        best_before="15" in dates and "17" not in dates, made_on=made_on, serial=told.get("21"),
        variant=told.get("20"), count=int(count) if count else None,
        questions=tuple(_questions(kind, told, use_by, made_on, today)),
    )  # fmt: skip
    if not (label.code or label.lot or label.use_by or label.serial):
        raise unreadable("it names no article, lot or date", found[0].at if found else 0, "Scan the box's other code.")
    return label


def _own_lot(told: dict[str, str]) -> int | None:
    number = told.get(OWN_LOT, "") if OWN in told else ""
    return int(number) if re.fullmatch(r"[0-9]{1,9}", number) else None


def _told_once(found: Iterable[Element]) -> dict[str, str]:
    told: dict[str, str] = {}
    for element in found:
        if told.setdefault(element.ai, element.value) != element.value:
            what = _WORDS.get(element.ai, f"element {element.ai}")
            raise unreadable(f"the {what} stands there twice, and differs", element.at)
    return told


def read_date(element: Element, today: date) -> tuple[date, UseByReading]:
    """The day of a date element; day 00 means the last of the month (GS1 General Specifications 3.4), year by 7.12.

    Raises:
        BadInput: there is no such day.
    """
    digits = element.value[:6]
    if not _is_date(digits, today):
        raise _misfit(element.ai, digits, element.at)
    year, month, day = full_year(int(digits[:2]), today), int(digits[2:4]), int(digits[4:])
    if day == 0:
        return last_day_of_month(year, month), UseByReading.MONTH
    return date(year, month, day), UseByReading.DAY


def _questions(
    kind: CodeKind, told: dict[str, str], use_by: date | None, made_on: date | None, today: date
) -> Iterator[str]:
    if kind is CodeKind.GS1:
        for ai in ("10", "21"):
            if ai in told and (swallowed := _swallowed(told[ai], told, today)):
                yield (
                    f"The {_WORDS[ai]} reads {told[ai]}. Is the end of it the {_WORDS[swallowed]}? "
                    "The mark between them may be missing: compare it with the label."
                )
    if use_by and made_on and use_by < made_on:
        yield f"The {made_on} of its making lies behind its use-by date {use_by}: compare them with the label."


_NEXT = re.compile(
    r"(?P<ai>01|1[1567])(?P<value>(?<=01)[0-9]{14}|(?<!01)[0-9]{6})"
    r"(?:1[1-7][0-9]{6})*(?:(?:10|21|24[01]|30|37|9[1-9]).+)?"
)


def _swallowed(value: str, told: dict[str, str], today: date) -> str:
    """The identifier of the element that the end of a value looks like, among those that the label lacks."""
    lacking = [ai for ai in ("01", "11", *(() if "17" in told else ("15", "16", "17"))) if ai not in told]
    for start in range(1, len(value) - 7):
        match = _NEXT.fullmatch(value, start)
        if match is not None and match["ai"] in lacking and _holds(match["ai"], match["value"], today):
            return match["ai"]
    return ""


def _holds(ai: str, digits: str, today: date) -> bool:
    """Whether digits make sense as the value of an article number or a date."""
    return check_digit(digits[:-1]) == digits[-1] if ai == "01" else _is_date(digits, today)


def _is_date(digits: str, today: date) -> bool:
    year, month, day = full_year(int(digits[:2]), today), int(digits[2:4]), int(digits[4:])
    return 1 <= month <= 12 and day <= monthrange(year, month)[1]

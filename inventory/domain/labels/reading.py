"""From what a scanner typed, or a person pasted, to what the label says.

Scanners send the same label in many forms: with a mark for the symbology before it or without, with the separator of
the standard (ASCII 29) or with whatever they are set to send in its place. So the mark decides where there is one, and
else the text's own beginning: a plus is HIBC, a bracket is the printed form, an address is a Digital Link, digits are
element strings or an article number.

biip (the library for GS1) knows the elements and the rules of Digital Links. Ours is what it lacks or gets wrong:
HIBC, a century that does not depend on the real clock, a wrong check digit inside a message, printed brackets, an
address behind a mark, and fields that run on because their separator was lost.
"""

import re
from dataclasses import replace
from datetime import date

from inventory.domain.catalogue import check_digit
from inventory.domain.labels import elements, hibc, links
from inventory.domain.labels.label import BY_HAND, CodeKind, Label, unreadable
from inventory.errors import BadInput

LONGEST = 500
_MARK = re.compile(r"\][A-Za-z][0-9A-Za-z]")
_GS1_MARKS = frozenset({"]C1", "]d2", "]Q3", "]e0", "]e1", "]e2", "]J1"})
_ARTICLE_MARKS = frozenset({"]E0", "]E4", "]I1"})
_LENGTHS = (8, 12, 13, 14)
_DATED = re.compile(r"1[13567]")
_ADDRESS = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:(?://|[a-z]+:)")


def read_label(text: str, today: date) -> Label:
    """Read one label.

    Args:
        text: what was scanned, pasted or typed; nothing is cut off its right end but a line end, because a blank may
            be the check character of HIBC.
        today: the practice's local date; it decides the century.

    Raises:
        BadInput: it can't be read; the message names the position and what to do.
    """
    text = text.rstrip("\r\n\t")
    start = len(text) - len(text.lstrip())
    if (strange := re.search(r"[^\x1c-\x7e\u2194\u241d]", text[start:])) is not None:
        raise unreadable(
            f"{strange.group()!a} does not belong on a label",
            start + strange.start(),
            "If a scanner sent it, its keyboard layout is not the computer's. Type the lot and the date by hand.",
        )
    if len(text) > LONGEST:
        raise unreadable("it goes on too long", LONGEST)
    mark = _MARK.match(text, start)
    if mark is not None:
        start = mark.end()
    if not text[start:].strip():
        raise unreadable("nothing is there", start)
    return _read(text, start, mark.group() if mark else "", today)


def _read(text: str, at: int, mark: str, today: date) -> Label:
    if text[at] == "+" and mark not in _GS1_MARKS:
        return hibc.read(text, at, today)
    text = text.rstrip(" ")
    if text[at] == "(":
        return elements.label_of(CodeKind.GS1_PRINTED, elements.printed(text, at), today)
    if mark in _GS1_MARKS:
        return elements.label_of(CodeKind.GS1, elements.scanned(text, at), today)
    if _ADDRESS.match(text, at):
        return links.read(text, at, today)
    body = text[at:]
    if mark in _ARTICLE_MARKS or (body.isdigit() and len(body) in _LENGTHS):
        return _article_or_dated(text, at, mark, today)
    if not body[0].isdigit() and not elements.SEPARATOR.match(body):
        raise unreadable(f"no label begins with {body[0]!a}", at, _begins_wrong(body))
    return elements.label_of(CodeKind.GS1, elements.scanned(text, at), today)


def _begins_wrong(body: str) -> str:
    if body[0] == "*":
        return "Leave out the * before and behind it, or type the lot and the date by hand."
    if hibc.fits(f"+{body}"):
        return "Its + is missing: scan it again, or type the lot and the date by hand."
    return BY_HAND


def _article_or_dated(text: str, at: int, mark: str, today: date) -> Label:
    """Bare digits: an article number, unless they read as a date and what belongs to it.

    The digits of a label with nothing but a date and a lot may happen to be an article number too; both are then told.
    """
    body = text[at:]
    fits = body.isdigit() and len(body) in _LENGTHS and check_digit(body[:-1]) == body[-1]
    if not mark and _DATED.match(body):
        try:
            dated = elements.label_of(CodeKind.GS1, elements.scanned(text, at), today)
        except BadInput:
            pass
        else:
            return _either(dated, body) if fits else dated
    if not fits:
        raise unreadable(
            f"the last digit of {body} does not fit the others" if body.isdigit() else "an article number is digits",
            len(text) - 1,
            "Scan it again. If it is a lot number, type it where the lot belongs.",
        )
    return Label(CodeKind.ARTICLE, gtin=body.zfill(14))


def _either(dated: Label, body: str) -> Label:
    question = f"{body} may be an article number as well as a date: compare it with the label."
    return replace(dated, gtin_instead=body.zfill(14), questions=(*dated.questions, question))

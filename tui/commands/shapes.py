"""What ``--json`` prints: a documented shape for each reading command, kept apart from what services return.

A shape is data: a dictionary of keys, a list of one shape, or a word for a simple value. `as_json` copies exactly what
the shape names, so a service may grow without a script noticing; `document` writes the section of DEVELOPERS.md, which
a test holds against it. A key written ``visit=visit_id`` takes its value from another attribute.

Words for simple values, with what they mean behind a colon: text, word (of a closed set), int, qty (a whole number in
the unit that stands beside it), cents, days, bool, date (ISO 8601), instant (ISO 8601 with offset). A ``?`` behind the
word: null where it does not apply.
"""

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from enum import Enum
from typing import Any

Shape = Mapping[str, "Part"]
Part = str | Shape | list[Any]


def as_json(shape: Part, value: Any) -> Any:
    """The parts of a result that a shape names, as JSON data.

    Raises:
        AttributeError: the result has no such part.
    """
    if value is None:
        return None
    if isinstance(shape, str):
        return _simple(value)
    if isinstance(shape, list):
        return [as_json(shape[0], each) for each in value]
    return {key: as_json(part, _part(value, source)) for key, source, part in _keys(shape)}


def _keys(shape: Shape) -> Iterator[tuple[str, str, Part]]:
    for name, part in shape.items():
        key, _, source = name.partition("=")
        yield key, source or key, part


def _part(value: Any, source: str) -> Any:
    """What an attribute (or a key) holds, through further attributes; None as soon as one of them is None."""
    for name in source.split("."):
        if value is None:
            return None
        value = value[name] if isinstance(value, Mapping) else getattr(value, name)
    return value


def _simple(value: Any) -> Any:
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date | datetime):
        return value.isoformat()
    return value


def document() -> str:
    """The shapes as the section of DEVELOPERS.md shows them."""
    return "\n\n".join(_chapter(command, shape) for command, shape in SHAPES.items())


def _chapter(command: str, shape: Part) -> str:
    rows = [f"| `{name}` | {kind} | {meaning} |" for name, kind, meaning in _rows(shape, "")]
    return "\n".join([f"**`{command} --json`**", "", "| key | value | what |", "|---|---|---|", *rows])


def _rows(shape: Part, path: str) -> Iterator[tuple[str, str, str]]:
    if isinstance(shape, str):
        kind, _, meaning = shape.partition(":")
        yield path, kind.strip(), meaning.strip()
    elif isinstance(shape, list):
        yield from _rows(shape[0], f"{path}[]")
    else:
        for key, _, part in _keys(shape):
            yield from _rows(part, f"{path}.{key}" if path else key)


TERM: Shape = {
    "name": "text: what the term is",
    "value": "int: in unit",
    "unit": "word: cml, cg, piece, cents, days, packs ...",
    "op": "word: what it does to the sum so far: + - x / (divided, up to whole) at least, at most; empty: only told",
}
WHY: Shape = {"title": "text", "terms": [TERM], "result": TERM}

WEEK_LINE: Shape = {
    "number": "int: its place in the list, for --why",
    "kind": "word: recalled, expired, opened_too_long, visit_not_ready, visit_not_booked, runs_short, will_expire, "
    "date_not_read, rest_of_no_use, on_hold",
    "subject=line.subject": "text: item, or case reference",
    "where=line.where": "text: lot and place, or the visit's day",
    "what=line.what": "text: what is the matter",
    "todo=line.todo": "text: what to do",
    "due=line.due": "date?: the day that matters",
    "item_id=line.item_id": "int?",
    "lot_id=line.lot_id": "int?",
    "stock=line.holding_id": "int?: stock number, as commands take it",
    "visit=line.visit_id": "int?",
    "qty=line.qty": "qty: concerned",
    "unit=line.base": "word: cml (0.01 mL), cg (0.01 g) or piece",
    "cents=line.cents": "cents: money concerned",
    "why": [WHY],
}
WEEK: Shape = {"today": "date", "lines": [WEEK_LINE]}

VISIT_CARD: Shape = {
    "visit=visit_id": "int: its number",
    "case_ref": "text: case reference, never a name",
    "on": "date",
    "case_kind": "word: the kind's code",
    "case_kind_name": "text",
    "upper": "bool",
    "lower": "bool",
    "upper_size": "text?: tray size, where known",
    "lower_size": "text?",
    "place": "text?",
    "state": "word: planned, done or cancelled",
    "remake_of": "int?: the earlier visit",
    "remake_asked_by": "word?: chair or laboratory",
    "note": "text",
    "booked_by": "text?: initials",
    "booked_at": "instant?",
}
VISITS: Shape = {"visits": [VISIT_CARD]}

FORM_LINE: Shape = {
    "step": "word: code of the step",
    "arch": "word?: maxillary or mandibular",
    "attempt": "int: 1, or 2, 3 ... for retakes",
    "kind": "word: impression, bite, tray, tip or accessory",
    "item_id": "int?: null where no article or size is known",
    "item": "text",
    "qty": "qty: expected, tip volume and purge included",
    "purge_qty": "qty: the part that stays in the tip or is purged",
    "missing": "qty: what can't be served",
    "unit=base": "word: cml, cg or piece",
    "stock=holding_id": "int?: stock number",
    "lot=lot_number": "text",
    "use_by": "date?",
    "use_by_read": "word: day, month, none_stated or not_read",
    "last_day": "date?: last day of use, opened life included",
    "place": "text",
    "opens": "bool: a sealed unit is opened for it",
    "substitute": "bool: stands in for the first choice",
}
EXPECTED: Shape = {"place": "text", "lines": [FORM_LINE], "warnings": ["text"]}
USED_LOT: Shape = {
    "item": "text",
    "lot=lot_number": "text",
    "use_by": "date?",
    "use_by_read": "word: day, month, none_stated or not_read",
    "qty": "qty",
    "unit=base": "word: cml, cg or piece",
    "arch": "word?: maxillary or mandibular",
    "step": "word?",
    "attempt": "int",
    "lot_confirmed": "bool: read or scanned, else assumed",
    "late_reason": "word?: expired, held or recalled, where it was used all the same",
}
VISIT: Shape = {
    "visit": VISIT_CARD,
    "expected": EXPECTED,
    "used": [USED_LOT],
    "trays": [
        {"arch": "word", "item": "text", "outcome": "word: fitted, laid_out_unused, tried_reprocess, tried_thrown"}
    ],
    "entries": [
        {"document=document_id": "int", "at": "instant", "by": "text: initials", "what": "text", "reason": "text"}
    ],
}
LAY_OUT: Shape = {
    "visits": [{"visit": VISIT_CARD, "place": "text", "lines": [FORM_LINE], "warnings": ["text"]}],
}

FORM: Shape = {
    "visit=filling.form.visit": VISIT_CARD,
    "place=filling.form.place": "text",
    "lines=filling.lines": [
        {
            "step=form.step": "word",
            "arch=form.arch": "word?: maxillary or mandibular",
            "attempt=form.attempt": "int",
            "item=article.name": "text?: null where no article or size is known",
            "expected_qty=form.qty": "qty",
            "qty": "qty: used, tip volume and purge included",
            "purge_qty": "qty",
            "left": "qty?: what its unit holds after all lines",
            "unit=base": "word: cml, cg or piece",
            "stock=lot.holding_id": "int?: stock number",
            "lot=lot_number": "text",
            "lot_confirmed=confirmed": "bool",
            "opens=fresh": "int: which freshly opened unit of the lot; 0: none",
            "dropped": "bool: was not done",
        }
    ],
    "questions": ["text: to be answered before it can be booked"],
    "doubts": ["text: unusual but possible"],
}
BOOKED: Shape = {
    "visit": VISIT_CARD,
    "documents": ["int: number in the history"],
    "used=lots": [USED_LOT],
    "warnings": ["text"],
    "again": "bool: it had been posted before, nothing more was posted",
}

SHAPES: dict[str, Part] = {
    "week": WEEK,
    "week --why N": WEEK_LINE,
    "visits": VISITS,
    "visits show": VISIT,
    "lay-out": LAY_OUT,
    "book-out --show": FORM,
    "book-out": BOOKED,
}

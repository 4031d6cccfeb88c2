"""Which of our columns a foreign file's columns are: by their names, by what a person says, by what was said before.

A name that differs in capitals, blanks, hyphens or underscores alone is ours. For any other a person says once which
one it is, or that it is left out; the practice remembers that for files of this kind with this header.
"""

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from inventory.errors import BadInput
from inventory.service.practice import Desk
from inventory.store.tables import Setting

SETTING = "import_columns"
LEFT_OUT = "-"
MOST_HEADERS = 20  # remembered for each kind; the oldest gives way


@dataclass(frozen=True, slots=True)
class NamedColumn:
    """A column under the file's own name, and which of ours it is; ``-`` where it is left out."""

    theirs: str
    ours: str


def fold(name: str) -> str:
    """A column's name as it is compared."""
    return "".join(sign for sign in name.casefold() if sign not in " _-\t\n\r")


def typed(text: str) -> dict[str, str]:
    """What a person says of columns: ``their name=our column, other name=-``; a name with a comma in quotation marks.

    Raises:
        BadInput: it can't be read.
    """
    found: dict[str, str] = {}
    for part in next(csv.reader([text], skipinitialspace=True), []):
        theirs, sign, ours = (piece.strip() for piece in part.rpartition("="))
        if not part.strip():
            continue
        if not (theirs and sign and ours):
            raise BadInput(
                f"columns: {part.strip()!r} can't be read.", "Write 'their name=our column', or '=-' for none."
            )
        found[theirs] = ours
    return found


def names(header: Sequence[str], columns: Iterable[str], said: Mapping[str, str]) -> list[str]:
    """Our name for each column of a header, `LEFT_OUT` for none; a name that is none of ours comes back folded.

    Raises:
        BadInput: what was said names a column that the file or that we haven't got.
    """
    ours = {fold(column): column for column in columns}
    there = {fold(cell) for cell in header}
    meant: dict[str, str] = {}
    for theirs, column in said.items():
        if fold(theirs) not in there:
            told = ", ".join(cell.strip() for cell in header if cell.strip())
            raise BadInput(f"columns: the file has no column {theirs!r}.", f"It has: {told}.")
        if column != LEFT_OUT and fold(column) not in ours:
            raise BadInput(f"columns: there is no column {column!r} here.", f"Known are: {', '.join(ours.values())}.")
        meant[fold(theirs)] = ours.get(fold(column), LEFT_OUT)
    return [meant.get(fold(cell)) or ours.get(fold(cell)) or fold(cell) for cell in header]


def advice(theirs: str, columns: Sequence[str], free: Sequence[str]) -> str:
    """What can be done about a column that is none of ours, the nearest of those not there yet first."""
    near = {fold(column): column for column in free}
    like = [near[found] for found in get_close_matches(fold(theirs), near, n=1, cutoff=0.6)]
    guess = f"is it {like[0]!r}? " if like else ""
    return (
        f"there is no such column; {guess}say which one it is ('{theirs.strip()}={(like or ['our column'])[0]}' under "
        f"columns) or leave it out ('{theirs.strip()}=-'); known are {', '.join(columns)}"
    )


def remembered(desk: Desk, kind: str, header: Sequence[str], columns: Iterable[str]) -> dict[str, str]:
    """What was said of files of this kind with this header; what is no column of ours any more is forgotten."""
    known = {LEFT_OUT, *columns}
    said: Mapping[str, str] = desk.settings[SETTING].get(kind, {}).get(_key(header), {})
    return {theirs: ours for theirs, ours in said.items() if ours in known}


def remember(desk: Desk, person_id: int, kind: str, header: Sequence[str], said: Sequence[NamedColumn]) -> None:
    """Keep what is known of files of this kind with this header."""
    before: dict[str, Any] = desk.settings[SETTING]
    headers = {**before.get(kind, {})}
    headers.pop(_key(header), None)
    headers[_key(header)] = {fold(one.theirs): one.ours for one in said}
    after = {**before, kind: dict(list(headers.items())[-MOST_HEADERS:])}
    if after != before:
        desk.session.merge(Setting(key=SETTING, value=after))
        desk.log_change(person_id, "setting", SETTING, {kind: (before.get(kind), after[kind])})


def _key(header: Sequence[str]) -> str:
    return "|".join(map(fold, header))

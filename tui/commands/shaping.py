"""How a documented shape is taken from what a service returns, and how it is written down for developers.

A shape is data: a dictionary of keys, a list of one shape, or a word for a simple value. `as_json` copies exactly what
the shape names, so a service may grow without a script noticing; `document` writes the section of DEVELOPERS.md, which
a test holds against it. A key written ``visit=visit_id`` takes its value from another attribute.
"""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime
from enum import Enum
from itertools import groupby
from textwrap import fill
from typing import Any

WIDTH = 120
Shape = Mapping[str, "Part"]
Part = str | Shape | list[Any]
Row = tuple[str, str, str]


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
    return {key: as_json(part, _part(value, source)) for key, source, part in keys(shape)}


def keys(shape: Shape) -> Iterator[tuple[str, str, Part]]:
    """Each key with the attribute it is taken from and its own shape."""
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


def document(shapes: Mapping[str, Part], parts: Mapping[str, Part]) -> str:
    """The shapes of all commands in Markdown, after the parts that several of them have in common."""
    names = {id(shape): name for name, shape in parts.items()}
    common = (_paragraph(f"*{name}*", _rows(shape, "", names, top=True)) for name, shape in parts.items())
    commands = (_paragraph(f"**`{command}`**", _rows(shape, "", names)) for command, shape in shapes.items())
    return "\n\n".join((*common, *commands))


def _paragraph(title: str, rows: Iterable[Row]) -> str:
    """``*visit*: `visit` int (its number); `upper`, `lower` bool ...``: keys in order, alike ones together."""
    told = []
    for (kind, meaning), group in groupby(rows, key=lambda row: row[1:]):
        paths = ", ".join(f"`{path}` " for path, *_ in group if path).replace(" ,", ",")
        told.append(f"{paths}{kind}{f' ({meaning})' if meaning else ''}")
    return fill(f"{title}: {'; '.join(told)}.", WIDTH, break_long_words=False, break_on_hyphens=False)


def _rows(shape: Part, path: str, names: Mapping[int, str], *, top: bool = False) -> Iterator[Row]:
    """Each key by its path, with its kind of value and what it means."""
    if not top and id(shape) in names:
        yield path, f"*{names[id(shape)]}*", ""
    elif isinstance(shape, str):
        kind, _, meaning = shape.partition(":")
        yield path, kind.strip(), meaning.strip()
    elif isinstance(shape, list):
        yield from _rows(shape[0], f"{path}[]", names)
    else:
        for key, _, part in keys(shape):
            yield from _rows(part, f"{path}.{key}" if path else key, names)

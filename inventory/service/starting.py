"""What a new practice can begin its catalogue with: common materials, tips and accessories, and a tray of every size.

Nobody likes an empty catalogue on the first day. The list is the invented demo practice's, under the plain names of
the trade; what depends on a maker's leaflet (days an opened unit keeps) or on the practice (lowest and highest stock)
is left out, and everything can be changed afterwards.
"""

import csv
import io
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from inventory.domain.catalogue import TrayLine
from inventory.domain.vocabulary import Arch, ItemKind
from inventory.errors import BadInput
from inventory.service import catalogue, importing
from inventory.service.defaults import read_seed
from inventory.service.practice import Practice

OF_A_LEAFLET = ("opened_days", "opened_days_source", "min", "max")
ARCHES = {Arch.MAXILLARY: ("upper", "U"), Arch.MANDIBULAR: ("lower", "L")}


@dataclass(frozen=True, slots=True)
class StartItem:
    """An item to begin with; ``unit`` as people say it, e.g. ``50 mL cartridge``."""

    code: str
    name: str
    kind: ItemKind
    unit: str


@dataclass(frozen=True, slots=True)
class Started:
    """How many items were taken in, of them trays, and what is still missed."""

    items: int
    trays: int
    warnings: tuple[str, ...]


def choice() -> tuple[StartItem, ...]:
    """The items to choose from, trays apart: these follow from the practice's own sizes."""
    return tuple(
        StartItem(row["code"], row["name"], ItemKind(row["kind"]), _unit(row))
        for row in _rows("items.csv")
        if row["kind"] != ItemKind.TRAY
    )


def take_in(practice: Practice, codes: Collection[str], *, by: str, trays: bool = True) -> Started:
    """Add the chosen items with what fits what, and a single-use tray of each of the practice's sizes.

    Args:
        practice: a practice that is set up.
        codes: of `choice`.
        by: initials.
        trays: whether to add a tray of each size.

    Raises:
        BadInput: nothing was chosen.
        RowErrors: an item with such a code is there already; nothing was taken in.
    """
    rows = [{**row, **dict.fromkeys(OF_A_LEAFLET, "")} for row in _rows("items.csv") if row["code"] in codes]
    sizes = list(_trays(catalogue.tray_lines(practice))) if trays else []
    if not rows and not sizes:
        raise BadInput("Nothing was chosen.", "Choose what the practice works with.")
    fits = [row for row in _rows("fits.csv") if row["fitting"] in codes and row["material"] in codes]
    sheets = [("items", _csv([*rows, *sizes])), *([("fits", _csv(fits))] if fits else [])]
    added = importing.import_together(practice, sheets, by=by)[0].added
    return Started(added, len(sizes), catalogue.warnings(practice))


def _trays(lines: Iterable[TrayLine]) -> Iterator[dict[str, str]]:
    for number, line in enumerate(lines, 1):
        for arch, sizes in ((Arch.MAXILLARY, line.upper), (Arch.MANDIBULAR, line.lower)):
            word, letter = ARCHES[arch]
            for size in sizes:
                yield {
                    "code": f"TRAY{number}-{letter}-{size}", "name": f"Tray {line.name}, {word} {size}", "kind": "tray",
                    "unit_name": "tray", "tray_line": line.name, "arch": word, "tray_size": size, "reusable": "no",
                    "has_lots": "yes", "criticality": "essential",
                }  # fmt: skip


def _rows(name: str) -> Iterator[dict[str, str]]:
    """The rows of a file of the demo practice."""
    yield from csv.DictReader(read_seed("demo", name).splitlines())


def _csv(rows: list[dict[str, str]]) -> bytes:
    columns = dict.fromkeys(column for row in rows for column in row)
    written = io.StringIO()
    writer = csv.DictWriter(written, list(columns), restval="")
    writer.writeheader()
    writer.writerows(rows)
    return written.getvalue().encode()


def _unit(row: dict[str, str]) -> str:
    return f"{row['content']} {row['unit']} {row['unit_name']}" if row["content"] else row["unit_name"]

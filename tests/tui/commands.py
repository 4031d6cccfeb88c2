"""Commands as tests give them: in this process, with what they print; and shapes held against what was printed."""

import io
import json
from collections.abc import Callable, Mapping
from contextlib import closing, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from unittest.mock import patch

from inventory.domain.catalogue import SupplierDraft, SupplyDraft
from inventory.service import booking, catalogue, filling_in, laboratory, notices, ordering, places, setting_up
from inventory.store.engine import Store, open_store
from tests.little_practice import TODAY, LittlePractice
from tui.__main__ import main
from tui.commands.shaping import Part, keys


@dataclass(frozen=True)
class Ran:
    """How a command ended, and what it printed."""

    status: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        return json.loads(self.out)

    @property
    def lines(self) -> list[str]:
        return self.out.splitlines()


def run(*arguments: object, typed: str = "") -> Ran:
    """Run one command in this process."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err), patch("sys.stdin", io.TextIOWrapper(io.BytesIO(typed.encode()))):
        status = main([str(argument) for argument in arguments])
    return Ran(status, out.getvalue(), err.getvalue())


def unlike(shape: Part, data: Any, path: str = "") -> list[str]:
    """Where printed JSON differs from its documented shape; empty where it is as documented."""
    if isinstance(shape, str):
        return _unlike_value(shape.partition(":")[0].strip(), data, path)
    if isinstance(shape, list):
        if not isinstance(data, list):
            return [f"{path} is no list"]
        return [fault for place, each in enumerate(data) for fault in unlike(shape[0], each, f"{path}[{place}]")]
    if data is None:  # a whole part that does not apply
        return []
    assert isinstance(shape, Mapping)
    names = {key: part for key, _, part in keys(shape)}
    if not isinstance(data, dict) or set(data) != set(names):
        return [f"{path} has other keys: {sorted(data)}"]
    return [fault for key, part in names.items() for fault in unlike(part, data[key], f"{path}.{key}")]


def _unlike_value(kind: str, value: Any, path: str) -> list[str]:
    if value is None:
        return [] if kind.endswith("?") or kind == "any" else [f"{path} is null"]
    word = kind.removesuffix("?")
    checks: dict[str, Callable[[], bool]] = {
        "text": lambda: isinstance(value, str),
        "word": lambda: isinstance(value, str) and "\n" not in value,
        "bool": lambda: isinstance(value, bool),
        "date": lambda: date.fromisoformat(value).isoformat() == value,
        "instant": lambda: datetime.fromisoformat(value).tzinfo is not None,
        "any": lambda: True,
        **dict.fromkeys(("int", "qty", "cents"), lambda: type(value) is int),
    }
    return [] if checks[word]() else [f"{path}: {value!r} is no {word}"]


def stocked(folder: Path) -> Path:
    """A file with a practice for commands to work on; copied for each test."""
    path = folder / "stocked.db"
    with closing(open_store(str(path))) as store:
        stock_up(store)
    return path


def stock_up(store: Store) -> None:
    """Full shelves, something of each trouble, a visit done and three planned."""
    little = LittlePractice(store)
    little.full_shelves()
    little.opened("LIGHT", "LIGHT-0", 1500)
    little.stock("LIGHT", "LIGHT-OLD", 1, use_by=TODAY - timedelta(days=1))
    little.stock("LIGHT-2", "OTHER-1", 2, "operatory 2")
    practice = little.practice
    setting_up.change_settings(practice, {"calendar_kinds": {"Reline": "reline"}}, by="MN")
    catalogue.add_supplier(practice, SupplierDraft(name="Supplier North", lead_days=3), by="MN")
    supply = SupplyDraft(item="LIGHT", supplier="Supplier North", catalogue_no="N-1", units_per_pack=4, pack_cents=6000)
    catalogue.save_supply(practice, supply, by="MN")
    ordering.draft(practice, "Supplier North", [ordering.Wanted("LIGHT", 2)], by="MN")
    done = filling_in.begin(practice, little.visit("C-0"))
    booking.book_out(practice, filling_in.book_out(done), by="AB", request_key=little.key())
    parcel = laboratory.Packing(done.form.visit.visit_id, ("impressions",))
    laboratory.pack(practice, parcel, by="AB")
    laboratory.send(practice, parcel.visit_id, "courier", by="AB")
    notice = notices.NoticeDraft("N-0", TODAY, (notices.ScopeDraft(lot_from="GONE-1"),))
    notices.enter(practice, notice, by="MN")
    notices.close(practice, "N-0", by="MN")
    places.set_level(practice, "operatory 1", "LIGHT", 2, by="AB")
    little.visit("C-1")
    little.visit("C-2", on=TODAY + timedelta(days=1))
    little.visit("C-3", lower_size=None)

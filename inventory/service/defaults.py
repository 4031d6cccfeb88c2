"""What a new practice starts from: case kinds, expected use and size shares, read from the seed data.

The files are package data, so an installed copy finds them too. Their README says where each figure comes from. They
are only a start: each practice changes its own copy in its store, and what it books sharpens the figures.
"""

import csv
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from inventory.domain.quantity import PER_SIGN, parse_decimal
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, SettingSpeed, Technique, Viscosity

UNITS = {"mL": BaseUnit.CML, "g": BaseUnit.CG, "piece": BaseUnit.PIECE}


@dataclass(frozen=True, slots=True)
class Figure:
    """What one attempt is expected to take, net of what stays in the tip and is purged; quantities in base units.

    ``weight`` says how many observed cases the figure counts for when it is sharpened.
    """

    name: str
    arch: Arch | None
    base: BaseUnit
    mean_qty: int
    sd_qty: int
    retake_ppm: int
    weight: int
    source: str


@dataclass(frozen=True, slots=True)
class NeedDefault:
    kind: ItemKind
    viscosity: Viscosity | None
    setting_speed: SettingSpeed | None
    optional: bool
    figure: str


@dataclass(frozen=True, slots=True)
class StepDefault:
    code: str
    name: str
    by_arch: bool
    needs: tuple[NeedDefault, ...]

    @property
    def arches(self) -> tuple[Arch | None, ...]:
        """The arches it happens for; once without an arch where it is done per visit."""
        return tuple(Arch) if self.by_arch else (None,)


@dataclass(frozen=True, slots=True)
class CaseKindDefault:
    code: str
    name: str
    technique: Technique
    ships: tuple[str, ...]
    steps: tuple[StepDefault, ...]


def read_seed(*path: str) -> str:
    """The text of a file of the seed data."""
    return files("seed_data").joinpath(*path).read_text(encoding="utf-8")


@cache
def case_kinds() -> tuple[CaseKindDefault, ...]:
    """The case kinds with their steps and needs, in the order in which they are offered."""
    return tuple(_case_kind(data) for data in tomllib.loads(read_seed("defaults", "case_kinds.toml"))["case_kind"])


@cache
def figures() -> dict[tuple[str, Arch | None], Figure]:
    """The expected use by figure name and arch."""
    rows = csv.DictReader(read_seed("defaults", "estimates.csv").splitlines())
    return {(made.name, made.arch): made for made in map(_figure, rows)}


@cache
def size_shares() -> tuple[int, ...]:
    """Shares of the sizes of a run of four, in parts per million."""
    rows = csv.DictReader(read_seed("defaults", "size_shares.csv").splitlines())
    return tuple(parse_decimal(row["share"], 1_000_000, "share") for row in rows)


def _case_kind(data: dict[str, Any]) -> CaseKindDefault:
    return CaseKindDefault(
        data["code"],
        data["name"],
        Technique(data["technique"]),
        tuple(data["ships"]),
        tuple(_step(step) for step in data["steps"]),
    )


def _step(data: dict[str, Any]) -> StepDefault:
    return StepDefault(
        data["code"], data["name"], data.get("by_arch", False), tuple(_need(need) for need in data["needs"])
    )


def _need(data: dict[str, Any]) -> NeedDefault:
    return NeedDefault(
        ItemKind(data["kind"]),
        Viscosity(data["viscosity"]) if "viscosity" in data else None,
        SettingSpeed(data["setting_speed"]) if "setting_speed" in data else None,
        data.get("optional", False),
        data["figure"],
    )


def _figure(row: dict[str, str]) -> Figure:
    base = UNITS[row["unit"]]
    return Figure(
        name=row["figure"],
        arch=Arch(row["arch"]) if row["arch"] else None,
        base=base,
        mean_qty=parse_decimal(row["mean"], PER_SIGN[base], "mean"),
        sd_qty=parse_decimal(row["sd"], PER_SIGN[base], "sd"),
        retake_ppm=parse_decimal(row["retake"], 1_000_000, "retake"),
        weight=int(row["weight"]),
        source=row["source"],
    )

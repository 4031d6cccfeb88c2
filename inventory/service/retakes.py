"""Retakes: how many by arch and what they cost, and the lots whose impressions were taken again most often.

An impression counts as taken again when a further attempt at the same step and arch of the same visit follows it. A lot
with many of them may be the reason or not: the figures say how many, judging is the dentist's.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from dateutil.relativedelta import relativedelta

from inventory.domain.vocabulary import Arch, ItemKind
from inventory.service.practice import Practice
from inventory.store.queries import attempts as query
from inventory.store.queries import planning
from inventory.store.queries.attempts import Attempt

MONTHS = 12
Impression = tuple[int, str, Arch | None, int]  # visit, step, arch, attempt


@dataclass(frozen=True, slots=True)
class ArchRetakes:
    """Impressions of one arch, how many of them were retakes, and what the retakes cost in all they took."""

    arch: Arch
    impressions: int
    retakes: int
    cents: int


@dataclass(frozen=True, slots=True)
class LotRetakes:
    """Impressions from one lot, and how many of them were taken again."""

    item: str
    name: str
    lot: str
    impressions: int
    again: int


@dataclass(frozen=True, slots=True)
class Retakes:
    """By arch, and by lot those first of which most was taken again; lots without any are left out."""

    today: date
    since: date
    arches: tuple[ArchRetakes, ...]
    lots: tuple[LotRetakes, ...]


def retakes(practice: Practice, since: date | None = None) -> Retakes:
    """What was taken again since a day; a year back where none is given."""
    with practice.reading() as desk:
        begin = since or desk.today - relativedelta(months=MONTHS)
        seen = query.attempts(desk.session, begin)
        costs = planning.unit_costs(desk.session)
        today = desk.today
    cents: dict[Arch, float] = defaultdict(float)
    for one in seen:
        if one.attempt > 1 and one.arch is not None and one.lot_id in costs:
            pack_cents, units = costs[one.lot_id]
            cents[one.arch] += one.qty * pack_cents / (units * one.unit_qty)
    materials = [one for one in seen if one.kind is ItemKind.IMPRESSION]
    return Retakes(
        today, begin, tuple(_arch(arch, materials, round(cents[arch])) for arch in Arch), tuple(_lots(materials))
    )


def _arch(arch: Arch, seen: Iterable[Attempt], cents: int) -> ArchRetakes:
    taken = {_impression(one) for one in seen if one.arch is arch}
    return ArchRetakes(arch, len(taken), sum(attempt > 1 for *_, attempt in taken), cents)


def _lots(seen: list[Attempt]) -> list[LotRetakes]:
    taken = {_impression(one) for one in seen}
    of_lot: dict[tuple[str, str, str], set[Impression]] = defaultdict(set)
    for one in seen:
        of_lot[one.item, one.name, one.lot].add(_impression(one))
    found = [
        LotRetakes(*lot, len(impressions), sum((*which, number + 1) in taken for *which, number in impressions))
        for lot, impressions in of_lot.items()
    ]
    return sorted((lot for lot in found if lot.again), key=lambda lot: (-lot.again, lot.impressions, lot.item, lot.lot))


def _impression(one: Attempt) -> Impression:
    return one.visit_id, one.step, one.arch, one.attempt

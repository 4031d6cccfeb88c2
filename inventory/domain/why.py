"""Why a number is what it is: its arithmetic as data, printed line by line on any screen.

A manager acts on a figure only if she can check it. So every proposal and every alert carries *derivations*: named
terms with whole-number values in base units, each saying what it does to the sum so far. Values are exact integers:
what was estimated as a fraction is rounded once, where it becomes a term, and everything after that is computed from
what is shown. So the lines always add up to the figure below them, to the last unit.
"""

import operator
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from inventory.domain.quantity import ceil_div, show, show_money
from inventory.domain.vocabulary import BaseUnit

CENTS = "cents"
DAYS = "days"
PACKS = "packs"
_BASE = {unit.value: unit for unit in BaseUnit}


class Op(StrEnum):
    """What a term does to the sum so far."""

    PLUS = "+"
    MINUS = "-"
    TIMES = "x"
    IN_PACKS_OF = "/"  # divided, rounded up to whole packs
    AT_LEAST = "at least"
    AT_MOST = "at most"
    TOLD = ""  # said beside the sum, not part of it


_DOES: dict[Op, Callable[[int, int], int]] = {
    Op.PLUS: operator.add,
    Op.MINUS: operator.sub,
    Op.TIMES: operator.mul,
    Op.IN_PACKS_OF: ceil_div,
    Op.AT_LEAST: max,
    Op.AT_MOST: min,
    Op.TOLD: lambda total, _: total,
}


@dataclass(frozen=True)
class Term:
    """One line: a name, a whole value in its unit (a base unit, ``cents``, ``days``, ``packs`` ...), what it does."""

    name: str
    value: int
    unit: str
    op: Op = Op.PLUS

    def shown(self) -> str:
        """The value as people read it: ``12.35 mL``, ``4 packs``, ``12.50``."""
        if self.unit in _BASE:
            return show(self.value, _BASE[self.unit])
        if self.unit == CENTS:
            return show_money(self.value)
        unit = self.unit[:-1] if self.value == 1 and self.unit in (DAYS, PACKS) else self.unit
        return f"{self.value} {unit}".strip()


@dataclass(frozen=True)
class Derivation:
    """A titled sum: the terms in order and what they come to."""

    title: str
    terms: tuple[Term, ...]
    result: Term

    def adds_up(self) -> bool:
        """Whether the terms shown really come to the result shown."""
        return fold(self.terms) == self.result.value

    def lines(self) -> list[str]:
        """Plain text: the title, one line a term, the result; values aligned at the right."""
        rows = [(str(term.op), term.name, term.shown()) for term in self.terms]
        rows.append(("=", self.result.name, self.result.shown()))
        names = max(len(_left(op, name)) for op, name, _ in rows)
        values = max(len(value) for _, _, value in rows)
        return [self.title, *(f"  {_left(op, name):<{names}}  {value:>{values}}" for op, name, value in rows)]

    def as_data(self) -> dict[str, Any]:
        """Plain dictionaries and lists for JSON; `from_data` reads them back."""
        return {
            "title": self.title,
            "terms": [_term_data(term) for term in self.terms],
            "result": _term_data(self.result),
        }


def derive(title: str, terms: Iterable[Term], name: str, unit: str) -> Derivation:
    """A derivation whose result is what its terms come to.

    Args:
        title: what is worked out.
        terms: in order; the first counted one starts the sum.
        name: the result's name.
        unit: the result's unit (another than the terms' after `Op.TIMES` or `Op.IN_PACKS_OF`).
    """
    kept = tuple(terms)
    return Derivation(title, kept, Term(name, fold(kept), unit))


def fold(terms: Iterable[Term]) -> int:
    """What the terms come to, from nothing, in order."""
    total = 0
    for term in terms:
        total = _DOES[term.op](total, term.value)
    return total


def text(derivations: Sequence[Derivation]) -> list[str]:
    """The lines of several derivations, one under the other."""
    return [line for derivation in derivations for line in derivation.lines()]


def chained(derivations: Sequence[Derivation]) -> bool:
    """Whether every sum adds up and every earlier result that is named again later comes with the same value."""
    seen: dict[tuple[str, str], int] = {}
    for derivation in derivations:
        if not derivation.adds_up():
            return False
        if any(seen.get((term.name, term.unit), term.value) != term.value for term in derivation.terms):
            return False
        seen[derivation.result.name, derivation.result.unit] = derivation.result.value
    return True


def from_data(data: Mapping[str, Any]) -> Derivation:
    """Read back what `Derivation.as_data` wrote.

    Raises:
        KeyError, ValueError: the data is not a derivation.
    """
    return Derivation(data["title"], tuple(_term(row) for row in data["terms"]), _term(data["result"]))


def _left(op: str, name: str) -> str:
    return f"{op or ' '} {name}"


def _term_data(term: Term) -> dict[str, Any]:
    return {"name": term.name, "value": term.value, "unit": term.unit, "op": term.op.value}


def _term(row: Mapping[str, Any]) -> Term:
    return Term(str(row["name"]), int(row["value"]), str(row["unit"]), Op(row["op"]))

"""How long reading a label takes beside the GS1 library's own parse, and whether damaged ones ever break it.

    python -m tests.benchmarks.label_speed --out speed.json
    python -m tests.benchmarks.label_speed --strings 100000

Each GS1 label is read by both in turn, in one interleaved run; the ratio of their medians is shown, and its median over
the rounds. HIBC, which the library does not know, is shown by itself. Strings are made of the published ones by
damaging them: signs dropped, doubled, swapped and put in, two labels cut and joined, or nothing but chance. Never a
test of time.
"""

import argparse
import json
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from pathlib import Path
from random import Random
from statistics import median

import biip

from inventory.domain.labels.label import Label
from inventory.domain.labels.reading import read_label
from inventory.errors import BadInput

TODAY = date(2026, 11, 25)
MOST = 1.5
GS1 = (
    "010950600013435215210526100329",
    "0109506000134352100329\x1d15210526",
    "]d20109506000134352\x1d1727123110LOT9",
    "01095060001343521727123110lot-9/a",
    "0109506000134352112501011727123121SN-77\x1d10LOT9\x1d3024",
    "https://id.gs1.org/01/09521234543213/10/ABC123?17=261231",
    "9506000134352",
)
HIBC = (
    "+A123BJC5D6E71G",
    "+$$52001510X3GD",
    "+A123BJC5D6E71/$$52001510X3C",
    "+A99912345/$$902345710X3/16D20111212/14D20200906/S77DEFG45F",
    "+$$52001510X3+ ",
)
PRINTED = ("(01)09506000134352(17)271231(10)LOT(7)9", "(10)123(17)221231")
SEEDS = (*GS1, *HIBC, *PRINTED)
SIGNS = [*map(chr, range(128)), "\u241d", "\u2194", "\u00df", "\u0663", "\ud800", "\U0001f9b7"]


def strings(number: int, seed: int) -> Iterator[str]:
    """So many strings by chance, most of them damaged labels; the same for the same seed."""
    chance = Random(seed)  # noqa: S311 - nothing secret
    for _ in range(number):
        if chance.random() < 0.1:
            yield "".join(chance.choices(SIGNS, k=chance.randrange(60)))
            continue
        text = chance.choice(SEEDS)
        for _ in range(chance.randrange(1, 4)):
            text = chance.choice(DAMAGES)(text, chance)
        yield text


def _dropped(text: str, chance: Random) -> str:
    at = chance.randrange(len(text) + 1)
    return text[:at] + text[at + chance.randrange(1, 4) :]


def _put_in(text: str, chance: Random) -> str:
    at = chance.randrange(len(text) + 1)
    return text[:at] + chance.choice(SIGNS) + text[at:]


def _changed(text: str, chance: Random) -> str:
    at = chance.randrange(len(text) + 1)
    return text[:at] + chance.choice("0123456789ABZ+$/()%") + text[at + 1 :]


def _swapped(text: str, chance: Random) -> str:
    at = chance.randrange(len(text) + 1)
    return text[:at] + text[at + 1 : at + 2] + text[at : at + 1] + text[at + 2 :]


def _joined(text: str, chance: Random) -> str:
    other = chance.choice(SEEDS)
    return text[: chance.randrange(len(text) + 1)] + other[chance.randrange(len(other)) :]


def _cut(text: str, chance: Random) -> str:
    return text[: chance.randrange(len(text) + 1)]


DAMAGES: tuple[Callable[[str, Random], str], ...] = (_dropped, _put_in, _changed, _swapped, _joined, _cut)


def outcome(text: str) -> Label | BadInput:
    """A label, or why it is none; any other exception goes through."""
    try:
        return read_label(text, TODAY)
    except BadInput as error:
        return error


def microseconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return 1e6 * (time.perf_counter() - start)


def measure(rounds: int) -> dict[str, float]:
    """Medians in microseconds, and the median over the rounds of the ratio of the medians within each."""
    rows = []
    for _ in range(rounds):
        times: dict[str, list[float]] = {"ours": [], "library": [], "hibc": []}
        for text in GS1 * 10:
            times["ours"].append(microseconds(lambda text=text: read_label(text, TODAY)))  # type: ignore[misc]
            times["library"].append(microseconds(lambda text=text: biip.parse(text)))  # type: ignore[misc]
        for text in HIBC * 10:
            times["hibc"].append(microseconds(lambda text=text: read_label(text, TODAY)))  # type: ignore[misc]
        rows.append({name: median(each) for name, each in times.items()})
    found = {name: median(row[name] for row in rows) for name in rows[0]}
    return {**found, "ours / library": median(row["ours"] / row["library"] for row in rows)}


def survive(number: int) -> dict[str, float]:
    """Read so many damaged strings; how many were labels, and how long it took."""
    start = time.perf_counter()
    labels = sum(isinstance(outcome(text), Label) for text in strings(number, seed=number))
    return {"strings": number, "labels": labels, "seconds": time.perf_counter() - start}


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, print, write."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=30)
    parser.add_argument("--strings", type=int, default=0, help="read so many damaged strings instead")
    parser.add_argument("--out", type=Path, help="where to write the figures as JSON")
    told = parser.parse_args(arguments)
    figures = survive(told.strings) if told.strings else measure(told.rounds)
    for name, value in figures.items():
        sys.stdout.write(f"{name:16s} {value:10.2f}\n")
    if not told.strings:
        sys.stdout.write(f"asked: at most {MOST} times the library's own parse\n")
    if told.out:
        told.out.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

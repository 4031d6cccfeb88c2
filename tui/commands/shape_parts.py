"""Parts that the shapes of many commands have in common."""

from tui.commands.shaping import Shape

TERM: Shape = {
    "name": "text: what the term is",
    "value": "int: in unit",
    "unit": "word: cml, cg, piece, cents, days, packs ...",
    "op": "word: what it does to the sum so far: + - x / (divided, up to whole) at least, at most; empty: only told",
}
WHY: Shape = {"title": "text", "terms": [TERM], "result": TERM}

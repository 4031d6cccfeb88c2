"""What ``--json`` prints where people ask; written as in `shapes`."""

from tui.commands.shaping import Part, Shape

ITEM: Shape = {
    "item=code": "text: code",
    "name": "text",
    "unit=base": "word: cml, cg or piece",
    "usable": "qty",
}
GOES_WITH: Shape = {
    "item=item.code": "text: code",
    "name=item.name": "text",
    "fits": [ITEM],
    "instead": [ITEM],
    "like": [ITEM],
}
RETAKES: Shape = {
    "today": "date",
    "since": "date",
    "arches": [
        {
            "arch": "word: maxillary or mandibular",
            "impressions": "int: attempts at a step, retakes included",
            "retakes": "int",
            "cents": "cents: of all that the retakes took",
        }
    ],
    "lots": [
        {
            "item": "text: code",
            "name": "text",
            "lot": "text: lot number",
            "impressions": "int",
            "again": "int: of them that were taken again",
        }
    ],
}
QUESTIONS: Shape = {
    "questions": [{"user": "text", "question": "text", "screen": "text: place, then keys", "command": "text"}]
}

SHAPES: dict[str, Part] = {"fits": GOES_WITH, "retakes": RETAKES, "questions": QUESTIONS}
PARTS: dict[str, Part] = {"item with what is usable": ITEM}

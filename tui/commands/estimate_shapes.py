"""What the command of estimates prints with ``--json``."""

from tui.commands.shape_parts import WHY
from tui.commands.shaping import Part, Shape

FIGURE: Shape = {"qty": "qty: net use of one attempt", "sd": "qty: its spread from case to case"}
ESTIMATE: Shape = {
    "number=use.need_id": "int: its number, as accept, pin and reset take it",
    "case_kind=use.case_kind": "word: the kind's code",
    "case_kind_name=use.case_kind_name": "text",
    "step=use.step": "word: code of the step",
    "step_name=use.step_name": "text",
    "arch=use.arch": "word?: maxillary or mandibular",
    "kind=use.kind": "word: impression or bite",
    "viscosity=use.viscosity": "int?: 0 putty, 1 heavy, 2 medium, 3 light",
    "unit=use.base": "word: cml or cg; of every amount here",
    "default=use.default": FIGURE,
    "current=use.current": FIGURE,
    "source=use.source": "word: of the current figure: default, learned or pinned",
    "learned=use.learned": FIGURE,
    "low=use.low": "qty: the learned use is at least this with 95 of 100",
    "high=use.high": "qty: and at most this with 95 of 100",
    "observations=use.observations": "int: behind it: counts and entered",
    "counts=use.counts": "int: stretches between two counts behind it",
    "attempts=use.attempts": "int: attempts in those stretches",
    "entered=use.entered": "int: amounts entered behind it",
    "weight=use.weight": "int: observed cases that the learned figure counts for",
    "identified=use.identified": "bool: observed, and not only in sum with others",
    "together=use.together": {
        "numbers=needs": ["int: known only in sum with each other"],
        "rests": "bool: what is left in cartridges thrown away is in the sum too, once",
        "qty": "qty: one attempt of each",
        "low": "qty",
        "high": "qty",
    },
    "to_accept=use.to_accept": "bool: another than the current figure, and nothing is pinned",
    "left_out=use.left_out": [
        {
            "visit=visit_id": "int",
            "case_ref": "text",
            "on": "date",
            "qty": "qty: entered",
            "expected": "qty: as all others say",
        }
    ],
    "far_counts=use.far_counts": [
        {
            "item": "text",
            "since": "date: of the first count",
            "until": "date: of the second one",
            "gone": "qty: as they say; below 0 where more was there than before",
            "expected": "qty: gone as all others say",
        }
    ],
    "why": [WHY],
}
SHAPES: dict[str, Part] = {"estimates": {"estimates": [ESTIMATE]}}
PARTS: dict[str, Part] = {"mean and spread": FIGURE}

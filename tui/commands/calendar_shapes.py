"""What the commands of the calendar print with ``--json``."""

from tui.commands.shaping import Part, Shape

CALENDAR_IN: Shape = {
    "dry_run": "bool: nothing was kept",
    "files": "int",
    "events": "int: read",
    "passed_over": "int: events of no kind of visit",
    "damaged": "int: events with lines that can't be read",
    "past": "int: days before today, not planned",
    "unchanged": "int: visits that stand as the calendar has them",
    "visits": [
        {
            "visit=visit_id": "int: its number; of a planned one in a dry run, no number that stays",
            "case_ref": "text",
            "on": "date",
            "case_kind": "word: code",
            "outcome": "word: planned, changed, cancelled or left",
            "why": "text: what changed, or why it was left; may be empty",
        }
    ],
}
CALENDAR_OUT: Shape = {
    "days": [
        {
            "uid": "text: stays the same for the same lot, order or supplier",
            "on": "date",
            "title": "text",
            "text": "text: lines",
            "kind": "word: use-by, delivery or order",
        }
    ],
}
SHAPES: dict[str, Part] = {"calendar in": CALENDAR_IN, "calendar out": CALENDAR_OUT}

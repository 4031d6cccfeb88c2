"""What the commands that keep the whole practice safe print with ``--json``."""

from tui.commands.shaping import Part, Shape

BACKUP: Shape = {
    "file": "text: the backup",
    "rows=made.rows": "int: in all tables together",
    "bytes=made.size": "int",
    "clean=made.verified.clean": "bool: the check found nothing",
    "faults": "int: what it found; 'verify' lists them",
    "removed=made.removed": ["text: older backup that went"],
}
RESTORED: Shape = {
    "rows=restored.rows": "int: in all tables together",
    "documents=restored.verified.documents": "int",
    "movements=restored.verified.movements": "int",
    "holdings=restored.verified.holdings": "int",
    "kept": "text?: where the store is now that stood there",
}
EXPORTED: Shape = {
    "path": "text",
    "rows": "int: in all tables together",
    "tables": [{"table": "word", "rows": "int"}],
}

SHAPES: dict[str, Part] = {"backup": BACKUP, "restore": RESTORED, "export": EXPORTED}

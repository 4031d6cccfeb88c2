"""What the commands about scanned labels print with ``--json``; words as in `shapes`."""

from tui.commands.shaping import Shape

SCANNED: Shape = {
    "text": "text: as it came",
    "kind=label.kind": "word?: gs1, gs1_printed, digital_link, article, hibc_primary, hibc_secondary or hibc; null for "
    "a lot number",
    "gtin=label.gtin": "text?: padded to 14 digits",
    "hibc=label.hibc": "text?: labeler, product, unit of measure",
    "own=label.own": "text?: of a shelf label",
    "lot=lot_number": "text",
    "use_by=label.use_by": "date?: of the label",
    "use_by_read=label.use_by_read": "word?: day, month or not_read",
    "best_before=label.best_before": "bool?: the date is a best-before date",
    "made_on=label.made_on": "date?",
    "serial=label.serial": "text?",
    "count=label.count": "int?: what the label says is in it",
    "item_id=item.item_id": "int?: null where nobody has said yet which item it is",
    "item=item.code": "text?: code",
    "item_name=item.name": "text?",
    "units=item.units": "int?: in one such package",
    "lots": [
        {
            "lot_id": "int",
            "lot=number": "text",
            "item=item_code": "text: code",
            "use_by": "date?",
            "use_by_read": "word: day, month, none_stated or not_read",
            "on_hand": "qty",
            "unit=base": "word: cml, cg or piece",
            "places": ["text"],
            "late": "word?: expired, held or recalled",
        }
    ],
    "warnings": ["text"],
    "questions": ["text: may have been read wrongly"],
}
SCANS: Shape = {"scans": [SCANNED]}
PACKAGES: Shape = {
    "packages": [
        {
            "scheme": "word: gtin, hibc or own",
            "code": "text",
            "item=item_code": "text: code",
            "item_name": "text",
            "units": "int: in one such package",
        }
    ]
}

"""What the commands of the laboratory and of a case's record print with ``--json``."""

from tui.commands.shaping import Part, Shape

PARCEL: Shape = {
    "visit=visit_id": "int",
    "case_ref": "text",
    "on": "date: of the visit",
    "case_kind": "word: code",
    "case_kind_name": "text",
    "state": "word: to pack, packed, sent, received or rejected",
    "contents": ["text: what is in it; while nothing is packed, what its kind of visit usually sends"],
    "disinfectant": "text?: the item's code",
    "contact_minutes": "int?",
    "taken_at": "instant?: when the impression was taken",
    "pour_by": "instant?: null where no leaflet states a time",
    "late": "bool: not sent, and to be poured before now",
    "carrier": "text: by what it was sent",
    "sent_at": "instant?",
    "sent_by": "text?: initials",
    "answered_at": "instant?",
    "note": "text: what the laboratory said",
    "remake": "int?: the visit that does this one again",
}
STEP: Shape = {"parcel": PARCEL, "remake": "int?: the visit planned because it was rejected"}
SHIPS: Shape = {"case_kind=code": "word: code", "name": "text", "contents": ["text"]}
RECORD: Shape = {
    "case_ref": "text",
    "made": "instant",
    "visits": [
        {
            "visit=visit_id": "int",
            "on": "date",
            "title": "text: day, kind of visit, arches with tray sizes",
            "about": "text: place, who booked it out, whether it is a remake",
            "lines": [
                {
                    "step": "text: step and arch, and which attempt",
                    "item": "text",
                    "amount": "text",
                    "lot": "text",
                    "use_by": "text",
                    "read": "word: read or assumed",
                    "mind": "text: why the lot should not have been used, or what was found since; else empty",
                }
            ],
            "facts": [{"name": "text: trays, retakes, disinfected, sent ...", "words": "text"}],
        }
    ],
    "cautions": ["text"],
}

SHAPES: dict[str, Part] = {
    "laboratory": {"now": "instant", "parcels": [PARCEL], "more": "bool: there are more"},
    "laboratory ships": {"case_kinds": [SHIPS]},
    **dict.fromkeys(("laboratory pack", "laboratory sent", "laboratory answer", "laboratory take-back"), STEP),
    "case-record": RECORD,
}
PARTS: dict[str, Part] = {"parcel": PARCEL, "step of a parcel": STEP}

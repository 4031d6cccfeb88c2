"""Hold lots against the recall notices in the book: when a notice comes, when a lot comes, when a lot's number changes.

Whoever makes a lot, receives more of one or puts its number right asks `hold_named` in the same unit of work, so that
between the notice and the hold there is no moment in which somebody could be offered the lot. What is only perhaps
named is held too, and the words say that a person has to compare the package.

A notice that is closed still names its lots: what comes later is held, and the notice is open again. Only its lines
that have no end (every lot of an article, whatever comes from some day on) end when it is closed, or a maker's new and
sound lots would be held for ever.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from inventory.domain.notices import LotFacts, Match, ScopeLine, items_of_code, line_names
from inventory.service import holding
from inventory.service.practice import Desk
from inventory.store.queries import history
from inventory.store.queries import notices as query
from inventory.store.queries.notices import Membership
from inventory.store.tables import Notice, NoticeScope

HELD_FOR = "named by recall notice {}"
PERHAPS_HELD_FOR = "perhaps named by recall notice {}: compare the package"


@dataclass(frozen=True, slots=True)
class Standing:
    """A line of a notice that was not withdrawn, its code resolved."""

    notice: Notice
    line: ScopeLine


def resolved(desk: Desk, rows: Iterable[NoticeScope]) -> dict[int, ScopeLine]:
    """Lines of notices by number, with the articles that their codes mean today."""
    rows = list(rows)
    codes = query.known_codes(desk.session) if any(row.code for row in rows) else []
    found: dict[int, ScopeLine] = {}
    for row in rows:
        items: Mapping[int, Match] | None = items_of_code(row.code, codes) if row.code else None
        if row.item_id is not None:
            items = {**(items or {}), row.item_id: Match.SURE}
        found[row.id or 0] = ScopeLine(items, row.lot_from, row.lot_to, row.received_from, row.received_to)
    return found


def candidates(desk: Desk, lines: Collection[ScopeLine]) -> list[int]:
    """Lots that lines may name: those of the articles they name, or of all where one of them names none known here."""
    if any(not line.items for line in lines):
        return query.lots_of_items(desk.session, None)
    items = {item_id for line in lines for item_id in line.items or ()}
    return query.lots_of_items(desk.session, items) if items else []


def hold_named(
    desk: Desk, person_id: int, lot_ids: Collection[int], *, came_on: date | None = None, changed: bool = False
) -> dict[int, tuple[str, ...]]:
    """Put on hold what the notices in the book name of some lots.

    Args:
        desk: the unit of work that made, received or changed the lots.
        person_id: who did so.
        lot_ids: the lots.
        came_on: the day on which a delivery, being posted, brings some of each of them.
        changed: number or date of the lots changed, so an earlier "not concerned" does not count any more.

    Returns:
        For each lot that a notice names, what to tell, in words.
    """
    standing = _standing(desk)
    if not standing or not lot_ids:
        return {}
    facts = query.facts(desk.session, lot_ids)
    if came_on is not None:
        facts = {number: _with_delivery(one, came_on) for number, one in facts.items()}
    named = {lot_id: found for lot_id, one in facts.items() if (found := _named(standing, one))}
    before = query.memberships(desk.session, lot_ids=list(named)) if named else []
    return {
        lot_id: tuple(_held(desk, person_id, lot_id, found, before, changed=changed)) for lot_id, found in named.items()
    }


def look_again(desk: Desk, person_id: int, item_ids: Collection[int]) -> None:
    """Hold the lots of articles against the notices once more: a code in the catalogue means one of them now."""
    if any(line.code for _, line in query.standing_lines(desk.session)):
        hold_named(desk, person_id, query.lots_of_items(desk.session, item_ids))


def foretold(desk: Desk, lots: Sequence[tuple[int | None, LotFacts]]) -> list[tuple[str, ...]]:
    """What `hold_named` would tell of lots, each as a delivery is about to bring it; those in the book by number."""
    standing = _standing(desk)
    if not standing:
        return [()] * len(lots)
    known = query.facts(desk.session, {lot_id for lot_id, _ in lots if lot_id is not None})
    told = []
    for lot_id, facts in lots:
        before = known.get(lot_id) if lot_id is not None else None
        whole = _with_delivery(before, facts.came[0]) if before else facts
        told.append(tuple(_words(notice, match) for notice, match in _named(standing, whole)))
    return told


def hold_for(
    desk: Desk, person_id: int, notice: Notice, matches: Mapping[int, Match], before: Iterable[Membership] = ()
) -> list[int]:
    """Put lots on hold for one notice, those apart that are so already.

    Returns:
        The lots put on hold now.
    """
    known = {one.lot_id for one in before if one.notice_id == notice.id and one.released_at is None}
    wanted = [lot_id for lot_id, match in matches.items() if match is not Match.NO and lot_id not in known]
    held = {one.lot_id for one in history.open_holds(desk.session, wanted)}
    for lot_id in wanted:
        why = reason(notice, matches[lot_id])
        holding.put_on_hold(desk, person_id, lot_id, why, notice, held=lot_id in held)
    if wanted:
        holding.open_again(desk, person_id, notice, "it names a lot that is in the book now")
    return wanted


def reason(notice: Notice, match: Match) -> str:
    """Why a lot is on hold for a notice, in words."""
    return (HELD_FOR if match is Match.SURE else PERHAPS_HELD_FOR).format(notice.reference)


def _with_delivery(lot: LotFacts, on: date) -> LotFacts:
    """A lot with a delivery that is not in the book yet; what was first there that day came with it."""
    first_seen = lot.there_by if lot.there_by is not None and lot.there_by < on else None
    return replace(lot, came=(*lot.came, on), there_by=first_seen)


def _standing(desk: Desk) -> list[Standing]:
    rows = query.standing_lines(desk.session)
    lines = resolved(desk, [row for _, row in rows])
    return [
        Standing(notice, lines[row.id or 0])
        for notice, row in rows
        if notice.state == "open" or row.lot_from is not None or row.received_to is not None
    ]


def _named(standing: Iterable[Standing], facts: LotFacts) -> list[tuple[Notice, Match]]:
    """The notices that name a lot, each with its certainty."""
    found: dict[int, tuple[Notice, Match]] = {}
    for one in standing:
        match = line_names(one.line, facts)
        number = one.notice.id or 0
        if match is not Match.NO and match > found.get(number, (one.notice, Match.NO))[1]:
            found[number] = (one.notice, match)
    return list(found.values())


def _held(
    desk: Desk, person_id: int, lot_id: int, named: list[tuple[Notice, Match]], before: Sequence[Membership], *,
    changed: bool,
) -> Iterator[str]:  # fmt: skip
    for notice, match in named:
        own = [one for one in before if (one.notice_id, one.lot_id) == (notice.id, lot_id)]
        is_held = any(one.released_at is None for one in own)
        if own and not is_held and not changed:
            yield f"recall notice {notice.reference} names it; released: {own[-1].release_reason}"
            continue
        if is_held:
            holding.open_again(desk, person_id, notice, "more of a lot came that it names")
        else:
            hold_for(desk, person_id, notice, {lot_id: match})
        yield _words(notice, match)


def _words(notice: Notice, match: Match) -> str:
    return f"{reason(notice, match)}; it is on hold, set it aside"

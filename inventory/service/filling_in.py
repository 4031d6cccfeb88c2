"""Filling in a visit's form: from what the visit was expected to use to what it really used.

The form proposes; the person who stood at the chair corrects it line by line: another amount, another lot, a step taken
again, an arch not done, a tray tried in vain. Screens and commands both work on a `Filling`, an immutable value: each
function here returns a new one, and `book_out` turns the last one into the request that is posted. Nothing is written.

Only what a person said is kept; everything else follows from the form, line by line in its order:

* A lot that nobody chose stays the form's, as long as its cartridge can still give the amount; else the first lot in
  issue order that can takes its place, for one load comes from one cartridge.
* Lines that draw from the same sealed lot share freshly opened units as far as these go.
* An amount is what left the cartridge, tip volume and purge included. The part that stayed in tip and purge is the
  form's, and never more than the amount.
* "left 4t" is what the cartridge holds when the form is filled in: this line takes what the other lines did not.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, time
from typing import Any

from inventory.domain.catalogue import TrayLine
from inventory.domain.quantity import SIGNS, parse_amount, show
from inventory.domain.vocabulary import Arch, BaseUnit, ItemKind, TrialOutcome
from inventory.errors import BadInput, NotFound
from inventory.service import laying_out
from inventory.service.booking import BookOut, FoundLot, UsedLine, UsedTray
from inventory.service.filling import Article, Edit, Filling, Line, Retakes, Tried, doubts, open_questions
from inventory.service.laying_out import Form, FormLine, LotChoice
from inventory.service.practice import Practice
from inventory.store.queries import catalogue, planning
from inventory.store.queries import visits as query

__all__ = [
    "Article", "Edit", "Filling", "FoundLot", "Line", "LotChoice", "Tried", "add", "also_from", "ask_again",
    "begin", "book_out", "choose_lot", "choose_tray", "confirm", "confirm_all", "doubts", "drop", "keep",
    "lot_read", "lots_for", "meant_for", "not_in_book", "not_tried", "on_day", "only", "open_questions", "retake",
    "set_amount", "set_qty", "sizes", "tried",
]  # fmt: skip

# asking for the form


def begin(practice: Practice, visit_id: int, *, place: str | None = None) -> Filling:
    """The form of a visit, ready to be filled in.

    Raises:
        NotFound: no such visit or place.
    """
    return _ask(practice, visit_id, place, ())


def retake(practice: Practice, filling: Filling, step: str, arch: Arch | None) -> Filling:
    """One more attempt of a step: material, tip and purge again; what was said so far stays.

    Raises:
        BadInput: the form has no such step.
    """
    return ask_again(practice, filling, retakes=(*filling.retakes, (step, arch)))


def ask_again(
    practice: Practice,
    filling: Filling,
    *,
    place: str | None = None,
    retakes: Retakes | None = None,
) -> Filling:
    """The form from the present stock, at another place or with other retakes; what was said so far stays."""
    wanted = filling.retakes if retakes is None else retakes
    new = _ask(practice, filling.form.visit.visit_id, place or filling.form.place, wanted)
    return replace(
        new, edits=_carried(filling.edits, new.form, filling.further), further=filling.further, tried=filling.tried,
        on=filling.on, at=filling.at,
    )  # fmt: skip


def _ask(practice: Practice, visit_id: int, place: str | None, retakes: Retakes) -> Filling:
    form = laying_out.form(practice, visit_id, place=place, retakes=retakes)
    with practice.reading() as desk:
        articles = {
            number: Article(
                number, row.code, row.name, row.kind, row.base, row.unit_qty, row.unit_name, row.family or "",
                row.reusable, row.arch, row.tray_line, row.tray_size, row.viscosity,
            )
            for number, row in planning.items(desk.session).items()
        }  # fmt: skip
        runs = {(line.name, arch): sizes for line in catalogue.tray_lines(desk.session) for arch, sizes in _runs(line)}
        visit = query.visit(desk.session, visit_id)
        needs = query.needs(desk.session, [visit.case_kind_id] if visit else []).values()
    rows = [need for group in needs for need in group]
    wanted = {(need.tray_line, need.arch) for need in rows if need.kind is ItemKind.TRAY}
    trays = [one for one in articles.values() if one.tray_line and (one.tray_line, one.arch) in wanted]
    return Filling(
        form=form,
        articles=articles,
        lots=laying_out.choices(practice, form.place, articles.keys()),
        ranks={need.need_id: need.articles for need in rows},
        trays=tuple(sorted(trays, key=lambda tray: _place_in_run(tray, runs))),
        retakes=retakes,
        wanted={need.need_id: (need.kind, need.viscosity) for need in rows},
    )


def _runs(line: TrayLine) -> tuple[tuple[Arch, tuple[str, ...]], ...]:
    return (Arch.MAXILLARY, line.upper), (Arch.MANDIBULAR, line.lower)


def _place_in_run(tray: Article, runs: Mapping[tuple[str, Arch], tuple[str, ...]]) -> tuple[str, str, int, str]:
    """Trays in the practice's order: by line and arch, smallest size first, a size given up last."""
    line, size = tray.tray_line or "", tray.tray_size or ""
    run = runs.get((line, tray.arch), ()) if tray.arch else ()
    return line, tray.arch or "", run.index(size) if size in run else len(run), size


def _carried(edits: Mapping[str, Edit], form: Form, further: Iterable[FormLine]) -> dict[str, Edit]:
    """Edits of lines that are still there, or of the first line that now serves the same attempt."""
    keys = [line.key for line in (*form.lines, *further)]
    firsts = {_group(key): key for key in reversed(keys)}
    kept = {key: edit for key, edit in edits.items() if key in keys}
    for key, edit in edits.items():
        if key not in keys and _group(key) in firsts:
            kept.setdefault(firsts[_group(key)], edit)
    return kept


def _group(key: str) -> str:
    return key.rpartition("/")[0]


# what a person says about a line


def set_amount(filling: Filling, key: str, typed: str) -> Filling:
    """What was used as typed: ``12.5`` mL or g, ``3t`` tenths of a unit, ``left 4t``, or a number of pieces.

    Raises:
        BadInput: unreadable, another unit than the article's, or more left than there could be.
    """
    line = filling.line(key)
    before = line.left + line.qty if line.left is not None and line.base is not BaseUnit.PIECE else None
    return set_qty(filling, key, parse_amount(typed, line.base, line.unit_qty, before))


def set_qty(filling: Filling, key: str, qty: int) -> Filling:
    """What was used, in base units, tip volume and purge included; it was done after all where it had been dropped.

    Raises:
        BadInput: less than nothing, or more than one unit holds.
    """
    line = filling.line(key)
    if qty < 0:
        raise BadInput(f"{line.name}: the amount is negative.", "Type 0 or more.")
    if line.is_tray:
        raise BadInput(f"{line.name}: a tray is one piece.", "Choose its size, or leave the line out.")
    if line.base is not BaseUnit.PIECE and qty > line.unit_qty:
        raise BadInput(
            f"{line.name}: {show(qty, line.base)} is more than one {line.unit_name} holds.",
            "Enter what came from this one, and the rest from another lot.",
        )
    return _edited(filling, key, qty=qty, dropped=False)


def choose_lot(filling: Filling, key: str, holding_id: int, *, confirmed: bool = True) -> Filling:
    """Another lot, also of another article of the same unit (a substitute, another viscosity).

    Args:
        filling: the form so far.
        key: the line.
        holding_id: the stock number of the lot, sealed or opened.
        confirmed: it was read from the package or scanned.

    Raises:
        NotFound: no such line or lot.
        BadInput: an article of another kind of unit, or a tray of the other arch.
    """
    line, lot = filling.line(key), filling.lot(holding_id)
    article = filling.articles[lot.item_id]
    if article.base is not line.base:
        raise BadInput(
            f"{line.name}: {article.name} is counted in {SIGNS[article.base]}, this line in {SIGNS[line.base]}.",
            "Leave this line out and add what was used as a line of its own.",
        )
    if line.is_tray != (article.kind is ItemKind.TRAY) or (line.is_tray and article.arch is not line.form.arch):
        raise BadInput(f"{line.name}: {article.name} does not belong here.", "Choose another lot.")
    return _edited(filling, key, holding_id=holding_id, found=None, confirmed=confirmed, dropped=False)


def not_in_book(filling: Filling, key: str, found: FoundLot) -> Filling:
    """The lot that was used is not in the book; booking it records it as found.

    Raises:
        BadInput: no article is known for this line.
    """
    line = filling.line(key)
    if line.article is None:
        raise BadInput(f"{line.name}: no article is chosen.", "Receive the lot first, then choose it.")
    return _edited(filling, key, found=found, holding_id=None, confirmed=True, dropped=False)


def confirm(filling: Filling, key: str, *, read: bool = True) -> Filling:
    """The lot was read from the package (or, after all, was not)."""
    line = filling.line(key)
    if line.lot is None and line.found is None:
        raise BadInput(f"{line.name}: no lot is chosen.", "Choose the lot that was used.")
    if line.found is not None:
        return _edited(filling, key, confirmed=read)
    return _edited(filling, key, holding_id=line.lot.holding_id if line.lot else None, confirmed=read)


def lot_read(filling: Filling, number: str) -> Filling:
    """A lot number was read from a package or scanned: every line of that article came from it.

    Lines whose lot was confirmed before keep it; where a line's own lot has another number it changes.

    Raises:
        NotFound: no such lot stands in a usable place, or no line takes its article.
    """
    lots = [lot for lot in filling.lots if lot.lot_number.casefold() == number.strip().casefold()]
    if not lots:
        raise NotFound(f"Lot {number!r} is not in an operatory or the store room.", "Check the number, or receive it.")
    changed = filling
    for line in filling.lines:
        same = [lot for lot in lots if line.article and lot.item_id == line.article.item_id]
        if not same or line.dropped or line.confirmed:
            continue
        own = line.lot if line.lot in same else same[0]
        changed = choose_lot(changed, line.key, own.holding_id if own else same[0].holding_id)
    if changed is filling and not any(line.lot in lots and line.confirmed for line in filling.lines):
        raise NotFound(f"No line of this form takes {lots[0].item}.", "Choose the lot on its line, or add a line.")
    return changed


def confirm_all(filling: Filling) -> Filling:
    """Every lot was read from its package."""
    for line in filling.lines:
        if not line.dropped and (line.lot or line.found):
            filling = confirm(filling, line.key)
    return filling


def drop(filling: Filling, key: str) -> Filling:
    """Leave a line out, because it was not done; a load takes its mixing tips with it."""
    return _dropped(filling, key, dropped=True)


def keep(filling: Filling, key: str) -> Filling:
    """Put a line back that was left out, a load with its mixing tips."""
    return _dropped(filling, key, dropped=False)


def _dropped(filling: Filling, key: str, *, dropped: bool) -> Filling:
    line = filling.line(key)
    whole = "/main/" in key and "/also" not in key
    together = [other.key for other in filling.lines if whole and _same_attempt(other, line)]
    for one in together or [key]:
        filling = _edited(filling, one, dropped=dropped)
    return filling


def only(filling: Filling, arch: Arch) -> Filling:
    """Only one arch was done: every line of the other one is left out.

    Raises:
        BadInput: the visit has no line for this arch.
    """
    if not any(line.form.arch is arch for line in filling.lines):
        raise BadInput(f"The form has no line for the {_word(arch)} arch.", "Check the visit's arches.")
    for line in filling.lines:
        if line.form.arch not in (None, arch):
            filling = _edited(filling, line.key, dropped=True)
    return filling


def also_from(filling: Filling, key: str, holding_id: int, qty: int, *, confirmed: bool = True) -> Filling:
    """The cartridge ran out halfway: the rest of a load came from another lot, with a tip and a purge of its own.

    Args:
        filling: the form so far.
        key: the line whose load it finishes; its own amount stays as it is.
        holding_id: the stock number of the second lot.
        qty: what came from it, in base units.
        confirmed: it was read or scanned.
    """
    line = filling.line(key)
    number = sum(other.key.startswith(f"{key}/also") for other in filling.further) + 1
    added = replace(line.form, key=f"{key}/also{number}", qty=0, missing=0, holding_id=None, fresh=None, opens=False)
    filling = replace(filling, further=(*filling.further, added))
    filling = set_qty(choose_lot(filling, added.key, holding_id, confirmed=confirmed), added.key, qty)
    for tip in filling.lines:
        if "/tip/" in tip.key and _same_attempt(tip, line) and not tip.dropped:
            return set_qty(filling, tip.key, tip.qty + 1)
    return filling


def add(filling: Filling, holding_id: int, typed: str, *, arch: Arch | None = None, confirmed: bool = True) -> Filling:
    """Something that the form does not expect was used too.

    Raises:
        NotFound: no such lot.
        BadInput: a tray, or an amount that can't be read.
    """
    lot = filling.lot(holding_id)
    article = filling.articles[lot.item_id]
    if article.kind is ItemKind.TRAY:
        raise BadInput(f"{article.name} is a tray.", "Choose the size on its line, or note it as tried.")
    key = f"further/{len(filling.further) + 1}"
    added = FormLine(
        key=key, need_id=0, step="further", step_name="Further use", arch=arch, attempt=1, kind=article.kind,
        item_id=article.item_id, item=article.name, item_code=article.code, base=article.base,
        unit_qty=article.unit_qty, unit_name=article.unit_name, qty=0,
    )  # fmt: skip
    filling = choose_lot(replace(filling, further=(*filling.further, added)), key, holding_id, confirmed=confirmed)
    return set_amount(filling, key, typed)


def on_day(filling: Filling, day: date | None, at: time | None = None) -> Filling:
    """The visit took place on another day than today, or at a certain time, where its shelf was counted that day."""
    return replace(filling, on=day, at=at)


# trays


def sizes(filling: Filling, arch: Arch) -> tuple[Article, ...]:
    """The trays of an arch that this visit could take, smallest size first."""
    return tuple(tray for tray in filling.trays if tray.arch is arch)


def choose_tray(filling: Filling, arch: Arch, size: str, *, attempt: int | None = None) -> Filling:
    """Which size fitted; the lot is the first in issue order until somebody chooses another.

    Args:
        filling: the form so far.
        arch: upper or lower.
        size: its label.
        attempt: of which attempt; None: of the last.

    Raises:
        BadInput: this visit takes no stock tray for the arch, or none of this size is in the book.
        NotFound: no such size.
    """
    lines = [line for line in filling.lines if line.is_tray and line.form.arch is arch and not line.dropped]
    lines = [line for line in lines if attempt in (None, line.form.attempt)]
    if not lines:
        raise BadInput(f"This visit takes no {_word(arch)} stock tray.", "Leave the size out.")
    tray = _tray(filling, arch, size)
    lot = next((lot for lot in filling.lots if lot.item_id == tray.item_id), None)
    if lot is None:
        raise BadInput(
            f"The book has no {tray.name} in an operatory or the store room.",
            "Receive it, bring it there, or correct the count first.",
        )
    return _edited(filling, lines[-1].key, holding_id=lot.holding_id, confirmed=False)


def tried(filling: Filling, arch: Arch, size: str) -> Filling:
    """A tray was in the mouth and did not fit: single-use ones are thrown away, reusable ones go to reprocessing.

    Raises:
        NotFound: no such size.
        BadInput: none of this size is in the book.
    """
    tray = _tray(filling, arch, size)
    lot = next((lot for lot in filling.lots if lot.item_id == tray.item_id), None)
    if lot is None:
        raise BadInput(f"The book has no {tray.name} in an operatory or the store room.", "Correct the count first.")
    return replace(filling, tried=(*filling.tried, Tried(arch, tray, lot)))


def not_tried(filling: Filling, number: int) -> Filling:
    """Take back what was noted as tried (its place in `Filling.tried`, from 0)."""
    return replace(filling, tried=tuple(one for place, one in enumerate(filling.tried) if place != number))


def _tray(filling: Filling, arch: Arch, size: str) -> Article:
    trays = sizes(filling, arch)
    for tray in trays:
        if (tray.tray_size or "").casefold() == size.strip().casefold():
            return tray
    known = ", ".join(tray.tray_size or "" for tray in trays)
    raise NotFound(
        f"There is no {_word(arch)} tray of size {size!r} for this visit.",
        f"Known are: {known}." if known else "This kind of visit uses no stock tray.",
    )


# what can be chosen, what is posted


def lots_for(filling: Filling, key: str) -> tuple[LotChoice, ...]:
    """Every lot that a line could come from: its article's in issue order, substitutes', then others of its kind.

    ``goes_first`` marks the first usable one of each article.
    """
    line = filling.line(key)
    rank = {number: place for place, number in enumerate(_articles(filling, line))}
    found = [lot for lot in filling.lots if lot.item_id in rank or _alike(filling.articles[lot.item_id], line)]
    found.sort(key=lambda lot: (rank.get(lot.item_id, len(rank)), lot.late is not None))
    firsts = {lot.item_id: lot.holding_id for lot in reversed(found) if lot.late is None}
    return tuple(replace(lot, goes_first=firsts.get(lot.item_id) == lot.holding_id) for lot in found)


def meant_for(filling: Filling, key: str) -> tuple[LotChoice, ...]:
    """The lots that a line may come from: of its article and substitutes, none that should not be used."""
    articles = _articles(filling, filling.line(key))
    return tuple(lot for lot in lots_for(filling, key) if lot.late is None and lot.item_id in articles)


def _articles(filling: Filling, line: Line) -> tuple[int, ...]:
    """The articles that a line is meant to take, first choice first."""
    own = [line.form.item_id] if line.form.item_id is not None else []
    ranked = () if "/tip/" in line.key else filling.ranks.get(line.form.need_id, ())
    return tuple(dict.fromkeys([*own, *ranked]))


def _alike(article: Article, line: Line) -> bool:
    return article.kind is line.form.kind and article.base is line.base and article.arch in (None, line.form.arch)


def book_out(filling: Filling) -> BookOut:
    """The request that `booking.book_out` posts.

    Raises:
        BadInput: a lot is not chosen yet; the message names every such line.
    """
    if questions := open_questions(filling):
        raise BadInput("\n".join(questions), "Say it, or leave the line out.")
    used = [line for line in filling.lines if not line.dropped and (line.lot or line.found)]
    return BookOut(
        visit_id=filling.form.visit.visit_id,
        version=filling.form.visit.version,
        place=filling.form.place,
        lines=tuple(_used(line) for line in used if not line.is_tray),
        trays=(*(_fitted(line) for line in used if line.is_tray), *map(_tried, filling.tried)),
        happened_on=filling.on,
        at=filling.at,
    )


def _used(line: Line) -> UsedLine:
    return UsedLine(
        item_id=_item_id(line), qty=line.qty, purge_qty=line.purge_qty,
        holding_id=line.lot.holding_id if line.lot else None, fresh=line.fresh or 1, found=line.found,
        need_id=line.form.need_id or None, step=line.form.step, arch=line.form.arch, attempt=line.form.attempt,
        expected_qty=line.form.qty, lot_confirmed=line.confirmed,
    )  # fmt: skip


def _fitted(line: Line) -> UsedTray:
    if line.form.arch is None:
        raise BadInput(f"{line.name}: a tray belongs to an arch.", "Correct the steps of this case kind.")
    return UsedTray(
        arch=line.form.arch, item_id=_item_id(line), outcome=TrialOutcome.FITTED,
        holding_id=line.lot.holding_id if line.lot else None, attempt=line.form.attempt, lot_confirmed=line.confirmed,
        need_id=line.form.need_id, step=line.form.step, found=line.found,
    )  # fmt: skip


def _tried(one: Tried) -> UsedTray:
    outcome = TrialOutcome.TRIED_REPROCESS if one.article.reusable else TrialOutcome.TRIED_THROWN
    return UsedTray(one.arch, one.article.item_id, outcome, one.lot.holding_id if one.lot else None)


def _item_id(line: Line) -> int:
    if line.article is None:
        raise BadInput(f"{line.name}: no article is chosen.", "Choose the lot that was used.")
    return line.article.item_id


def _edited(filling: Filling, key: str, **said: Any) -> Filling:
    edit = replace(filling.edits.get(key, Edit()), **said)
    return replace(filling, edits={**filling.edits, key: edit})


def _same_attempt(one: Line, other: Line) -> bool:
    return (one.form.need_id, one.form.attempt) == (other.form.need_id, other.form.attempt)


def _word(arch: Arch) -> str:
    return "upper" if arch is Arch.MAXILLARY else "lower"

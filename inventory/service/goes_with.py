"""What goes with an item, and what may take its place: what fits it, and the articles named for the same step."""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.errors import NotFound
from inventory.service import stock_views
from inventory.service.practice import Practice
from inventory.service.stock_views import ItemLine
from inventory.store.queries import planning
from inventory.store.queries import visits as visit_queries


@dataclass(frozen=True, slots=True)
class GoesWith:
    """An item's company.

    Attributes:
        fits: tips and adhesives for a material; the materials for a tip or an adhesive.
        instead: articles that the practice names for the same steps, in the order in which they serve.
        like: of the same kind and body, named for none of its steps: not approved to take its place.
    """

    item: ItemLine
    fits: tuple[ItemLine, ...]
    instead: tuple[ItemLine, ...]
    like: tuple[ItemLine, ...]


def goes_with(practice: Practice, item: str) -> GoesWith:
    """What fits an item, and what may take its place.

    Raises:
        NotFound: no such item.
    """
    lines = {line.item_id: line for line in stock_views.items(practice).lines if line.active}
    with practice.reading() as desk:
        rows = planning.items(desk.session)
        number = next((number for number, row in rows.items() if row.code == item.strip().upper()), None)
        if number is None or number not in lines:
            raise NotFound(f"There is no item {item!r}.", "Look it up with 'items'.")
        fits = planning.fits(desk.session)
        needs = [need for of_kind in visit_queries.needs(desk.session).values() for need in of_kind]
        body = {other: (row.kind, row.viscosity) for other, row in rows.items() if row.viscosity is not None}
    fitting = [*fits.get(number, ()), *(material for material, with_it in fits.items() if number in with_it)]
    named = [other for need in needs if number in need.articles for other in need.articles]
    alike = [other for other in body if number in body and body[other] == body[number] and other not in named]

    def others(numbers: Iterable[int]) -> tuple[ItemLine, ...]:
        return tuple(lines[other] for other in dict.fromkeys(numbers) if other != number and other in lines)

    return GoesWith(lines[number], others(fitting), others(named), others(alike))

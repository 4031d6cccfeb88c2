"""Little practices on each store, for the services that change and show stock."""

from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from itertools import count

import pytest

from inventory.service.clock import Clock
from inventory.service.practice import Practice
from inventory.store.engine import Store, open_store
from tests.clinic import Clinic
from tests.service.catalogue_samples import NOW, TODAY, new_clock, new_practice, stocked_practice
from tests.shelves import Shelves
from tests.stores import NewStores


@pytest.fixture
def shelves(store: Store) -> Shelves:
    return Shelves(store)


@contextmanager
def copied(new_stores: NewStores, name: str, build: Callable[[Store], object]) -> Iterator[Store]:
    """A copy of what ``build`` makes of a fresh store, once in a run: most of a test's time would go into it."""
    with closing(open_store(new_stores.make_from(name, build))) as store:
        yield store


@pytest.fixture
def clinic(new_stores: NewStores) -> Iterator[Clinic]:
    """Give a stocked practice with everything a final-impression visit needs."""
    with copied(new_stores, "clinic", Clinic.stocked) as store:
        yield Clinic(Practice(store, Clock(lambda: NOW)), count(1000))


@pytest.fixture
def newly_set_up(new_stores: NewStores) -> Iterator[Practice]:
    """Give a practice that is set up and has nothing yet."""
    with copied(new_stores, "new", new_practice) as store:
        yield Practice(store, new_clock(TODAY))


@pytest.fixture
def stocked(new_stores: NewStores) -> Iterator[Practice]:
    """Give a practice with items and a supplier."""
    with copied(new_stores, "stocked", stocked_practice) as store:
        yield Practice(store, new_clock(TODAY))

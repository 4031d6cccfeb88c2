"""Little practices on each store, for the services that change and show stock."""

from collections.abc import Iterator
from contextlib import closing
from itertools import count

import pytest

from inventory.service.clock import Clock
from inventory.service.practice import Practice
from inventory.store.engine import Store, open_store
from tests.clinic import Clinic
from tests.service.catalogue_samples import NOW
from tests.shelves import Shelves
from tests.stores import NewStores


@pytest.fixture
def shelves(store: Store) -> Shelves:
    return Shelves(store)


@pytest.fixture
def clinic(new_stores: NewStores) -> Iterator[Clinic]:
    """Give a stocked practice with everything a final-impression visit needs."""
    with closing(open_store(new_stores.make_from("clinic", Clinic.stocked))) as store:
        yield Clinic(Practice(store, Clock(lambda: NOW)), count(1000))

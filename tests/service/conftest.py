"""A little practice on each store, for the services that change and show stock."""

import pytest

from inventory.store.engine import Store
from tests.shelves import Shelves


@pytest.fixture
def shelves(store: Store) -> Shelves:
    return Shelves(store)

"""Notice what other workstations post."""

from inventory.service.practice import Practice
from inventory.store.watching import Watch

__all__ = ["Watch", "watch"]


def watch(practice: Practice) -> Watch:
    """Begin to watch a practice's store.

    Raises:
        StoreUnreachable: it can't be asked now.
    """
    return Watch(practice.store)

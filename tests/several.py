"""Several programs at once: each in a process of its own, all let go at the same moment."""

from collections.abc import Callable, Sequence
from multiprocessing import get_context
from multiprocessing.queues import Queue
from multiprocessing.synchronize import Barrier
from typing import Any

# One process that has loaded the program already, from which the others branch off: loading is not what is tested.
_context = get_context("forkserver")
_context.set_forkserver_preload(["alembic.command", "alembic.config", "inventory.service.moving", "tests.shelves"])


def at_once(work: Callable[..., Any], each: Sequence[tuple[Any, ...]]) -> list[Any]:
    """Do the work once for each tuple of arguments, side by side; give the results, or raise the first error.

    ``work`` is a function at the top of a module, and its results can be sent between processes.
    """
    barrier, results = _context.Barrier(len(each)), _context.Queue()
    processes = [
        _context.Process(target=_do, args=(barrier, results, work, number, args)) for number, args in enumerate(each)
    ]
    for process in processes:
        process.start()
    got = dict(results.get(timeout=240) for _ in processes)
    for process in processes:
        process.join()
    for result in got.values():
        if isinstance(result, BaseException):
            raise result
    return [got[number] for number in range(len(each))]


def _do(barrier: Barrier, results: "Queue[Any]", work: Callable[..., Any], number: int, args: tuple[Any, ...]) -> None:
    barrier.wait(timeout=120)
    try:
        result = work(*args)
    except BaseException as error:  # noqa: BLE001 - whatever it is, the test has to see it
        result = RuntimeError(f"{type(error).__name__}: {error}")
    results.put((number, result))

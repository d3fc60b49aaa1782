"""Two people at once: each on a thread and a connection of their own, let go at one moment."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from django.db import connection

from registry.errors import Refusal

START_S = 10


def together[T](*calls: Callable[[], T]) -> list[T | Refusal]:
    """Do the calls at the same moment; give what each gave, or how it was refused, in order."""
    start = Barrier(len(calls))

    def do(call: Callable[[], T]) -> T | Refusal:
        try:
            start.wait(timeout=START_S)
            return call()
        except Refusal as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(do, calls))


def at_once(*deeds: Callable[[], object]) -> list[Refusal]:
    """Do deeds at the same moment, and give the refusals."""
    return [ended for ended in together(*deeds) if isinstance(ended, Refusal)]

"""Work on every processor core: the one place where a run's work is shared out."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import islice


def workers() -> int:
    """How many threads to use: the processor cores that this process may run on."""
    return max(1, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1)


def on_all_cores(part: Callable, pieces: Iterable) -> list:
    """`part` of every piece, in the order of the pieces.

    The compiled kernels release the interpreter's lock, so plain threads use all cores and need no
    threading layer of the compiler's.
    """
    with ThreadPoolExecutor(workers()) as pool:
        return list(pool.map(part, pieces))


def in_rounds(part: Callable, pieces: Iterable, at_once: int, between: Callable[[], None] = lambda: None) -> Iterator:
    """`part` of every piece, in the order of the pieces, some at once.

    While a round runs, the next pieces are asked for and the last results taken: for parts that release the interpreter's lock and
    pieces that do not. `between` is called after each round, when no part runs.

    Examples
    --------
    >>> list(in_rounds(abs, [-1, 2, -3], 2))
    [1, 2, 3]
    """
    def finished(running: list) -> list:
        results = [one.result() for one in running]
        between()
        return results

    pieces = iter(pieces)
    with ThreadPoolExecutor(at_once + 1) as pool:
        ahead, done = list(islice(pieces, at_once)), []
        while ahead or done:
            # `between` is waited for by a thread of the round's own, so that it too runs beside the asking and the taking.
            this_round = pool.submit(finished, [pool.submit(part, piece) for piece in ahead]) if ahead else None
            ahead = list(islice(pieces, at_once))
            yield from done
            done = this_round.result() if this_round else []

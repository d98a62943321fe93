"""Work on every processor core: the one place where a run's work is shared out."""

from __future__ import annotations

import os
from collections import deque
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


def in_turn(part: Callable, pieces: Iterable, at_once: int) -> Iterator:
    """`part` of every piece, in the order of the pieces, some at once.

    While parts run, the next piece is asked for and results are taken: for parts that release the interpreter's lock and pieces
    that do not.

    Examples
    --------
    >>> list(in_turn(abs, [-1, 2, -3], 2))
    [1, 2, 3]
    """
    pieces = iter(pieces)
    pool = ThreadPoolExecutor(at_once)
    try:
        # One more than can run, so that no core waits while a result is taken.
        asked = deque(pool.submit(part, piece) for piece in islice(pieces, at_once + 1))
        while asked:
            done = asked.popleft().result()
            asked.extend(pool.submit(part, piece) for piece in islice(pieces, 1))
            yield done
    finally:
        pool.shutdown(cancel_futures=True)

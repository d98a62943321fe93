"""Work on every processor core: the one place where a run's work is shared out."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor


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

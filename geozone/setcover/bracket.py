"""The fewest columns between a bound and a cover: each is driven towards the other until they meet or time is up."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from .problem import Problem
from .relaxation import Relaxed
from .search import Search

# A search that finds nothing in so many steps is left.
_MOST_STEPS = 100_000


@dataclass(frozen=True)
class Bracket:
    """What is known about the fewest columns.

    Attributes
    ----------
    cover
        The smallest that was found: columns (k, width), or what `find` made of them.
    lower_bound : int
        No cover has fewer columns.
    relaxed : Relaxed
        The best of the relaxed bounds.
    settled_by : str
        "weights" if the relaxed problem proves the bound, "search" if an exact search does.
    out_of_time : bool
        True if the time limit ended the search before it had found or ruled out all that it looks for.
    """

    cover: Any
    lower_bound: int
    relaxed: Relaxed
    settled_by: str
    out_of_time: bool

    @property
    def proved(self) -> bool:
        """True if no smaller cover exists."""
        return len(self.cover) == self.lower_bound


def fewest_columns(search: Search, problem: Problem, seconds: float, find: Callable | None = None,
                   otherwise: Callable | None = None) -> Bracket:
    """A smallest cover, or the best found with a bound.

    Parameters
    ----------
    search : Search
    problem : Problem
    seconds : float
        The time limit counts from the call; some 85 % of it are used.
    find : callable, optional
        ``find(relaxed, most, deadline, steps)`` as `Search.cover`, for those who want more of a cover than the problem says:
        (cover or None, settled). A cover has a length. Left out: the problem's own covers.
    otherwise : callable, optional
        Makes a cover where `find` found none at all.

    Raises
    ------
    ValueError
        If some row is in no column.
    """
    begun = time.monotonic()
    end = begun + 0.85 * seconds
    if find is None:
        def find(relaxed, most, deadline, steps):
            return search.cover(problem, relaxed, most, deadline, steps)
    relaxed = search.bound(problem, begun + 0.2 * seconds)
    lower, settled_by = relaxed.lower_bound, "weights"
    cover = find(relaxed, None, begun + 0.8 * seconds, 3000)[0]
    if cover is None:
        cover = otherwise()
    steps, ended = 24_000, False
    # A turn on a large problem overruns its deadline by some seconds: none is begun shortly before it.
    while len(cover) > lower and time.monotonic() < begun + 0.75 * seconds:
        if search.impossible(problem, len(cover) - 1, relaxed, end):
            lower, settled_by = len(cover), "search"
            break
        # Half of what is left for the bound, the rest for a cover with one column fewer.
        half = time.monotonic() + 0.5 * (end - time.monotonic())
        further = search.bound(problem, half, enough=len(cover), patience=12)
        if further.value > relaxed.value:
            relaxed, lower = further, max(lower, further.lower_bound)
        if len(cover) <= lower:
            break
        better, settled = find(relaxed, len(cover) - 1, end, steps)
        if better is not None:
            cover = better
        elif settled:
            # There is no smaller cover; what is left is what the wide columns cannot rule out.
            ended = True
            break
        elif steps > _MOST_STEPS:
            break
        steps *= 2
    lower = min(lower, len(cover))
    return Bracket(cover, lower, relaxed, settled_by, len(cover) > lower and not ended)

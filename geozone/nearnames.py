"""The known name that somebody meant, said one way everywhere."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def did_you_mean(name: object, known: Iterable[str], otherwise: str | None = None, *, cutoff: float = 0.5) -> str | None:
    """"did you mean ...?" with the nearest of the known names; `otherwise` where none is near.

    Parameters
    ----------
    name : object
        What was written.
    known : iterable of str
    otherwise : str, optional
    cutoff : float
        How near, 0 to 1, as `difflib.get_close_matches` counts.

    Examples
    --------
    >>> did_you_mean("Tues", ["mon", "tue", "wed"])
    'did you mean tue?'
    >>> did_you_mean("xyz", ["mon", "tue", "wed"], "take it out")
    'take it out'
    """
    by_fold = {one.casefold(): one for one in reversed(list(known))}
    near = difflib.get_close_matches(str(name).strip().casefold(), list(by_fold), 1, cutoff)
    return f"did you mean {by_fold[near[0]]}?" if near else otherwise

"""Counts in words, one way everywhere: 1 site, 2 sites, 1,200 sites."""

from __future__ import annotations


def counted(n: float, one: str, several: str | None = None) -> str:
    """A count with its noun; a float keeps one decimal.

    Parameters
    ----------
    n : int or float
    one : str
        The noun for exactly one, and what must agree with it: "site lies".
    several : str, optional
        The same for any other number; left out: `one` with an s.

    Examples
    --------
    >>> counted(1, "site"), counted(1200, "site"), counted(2.5, "minute"), counted(1, "site lies", "sites lie")
    ('1 site', '1,200 sites', '2.5 minutes', '1 site lies')
    """
    text = f"{n:,.1f}" if isinstance(n, float) else f"{n:,}"
    return f"{text} {one if n == 1 else several or one + 's'}"

"""Figures and offsets as the map page words them."""

from __future__ import annotations

import numpy as np


def number(value: float) -> str:
    """A figure without needless noughts: 5 and 7.5, never 5.0."""
    return f"{float(value):.6g}"


def minutes(value: float) -> str:
    """Minutes to one decimal, rounded as the tables round them; "" for NaN."""
    return f"{np.round(value, 1):,.1f}" if np.isfinite(value) else ""


def clock_words(to_key: str, legal_zone: str) -> str:
    """A setting's clock: the standard time and summer-time rule to key, and the legal zone that they are for.

    When a clock is not legal time is left out here: that it is not always so is said.
    """
    keyed, wrong, _ = to_key.partition("; not legal time")
    return f"{keyed}{', not always legal time' if wrong else ''} ({legal_zone})" if to_key else str(legal_zone)


def offset_words(offset_min: int) -> str:
    """An offset in words: positive is later."""
    if offset_min == 0:
        return "no offset"
    return f"{abs(offset_min)} min {'later' if offset_min > 0 else 'earlier'}"


def offset_sign(offset_min: int) -> str:
    """An offset as a column of figures has it, with a true minus sign: +3, −12, 0."""
    return f"{int(offset_min):+d}".replace("-", "\u2212") if offset_min else "0"

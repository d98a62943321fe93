"""What the cells of a column look like: whether they speak against what its heading promises."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from .numerals import as_numbers
from .tables import as_text


#: One number with a decimal comma, 51,5333: it is no pair "51, 5333".
LONE_COMMA = r"\s*[+\-\u2212]?\d{1,3},\d+\s*"


def sample(column: pd.Series) -> pd.Series:
    """The first filled cells as text, enough to judge a column by."""
    text = as_text(column.iloc[:5000]).str.strip()
    return text[text != ""].iloc[:500]


def allows(column: pd.Series, what: str) -> bool:
    """Whether the values do not speak against a meaning; a blank column means nothing."""
    text = sample(column)
    if text.empty:
        return False
    digits = text.str.contains(r"\d").mean()
    if what in ("lat", "lon", "x", "y"):
        return digits > 0.5
    if what == "position":
        return holds_pairs(text)
    if what == "legal_zone":
        return bool(text.str.contains(r"^[A-Za-z_]+(?:/|$)").mean() > 0.5)
    if what == "load_w":
        return digits > 0.5
    return True


def holds_pairs(text: pd.Series) -> bool:
    """Whether most of these texts hold two coordinates, or a geometry."""
    wkt = text.str.contains(r"^(?:SRID=\d+;)?\s*(?:MULTI)?(?:POINT|LINESTRING|POLYGON)", case=False)
    pair = text.str.contains(r"\d[\d.,°'\"′″º\sNSEWO]*[,;|/\s]\s*[+\-\u2212NSEWO]?\s*\d", case=False)
    pair &= ~text.str.fullmatch(LONE_COMMA)
    words = text.str.contains(r"[a-z]{4,}", case=False) & ~wkt
    return bool((wkt | (pair & ~words)).mean() > 0.5)

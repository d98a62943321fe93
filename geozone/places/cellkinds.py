"""What the cells of a column look like: whether they speak against what its heading promises."""

from __future__ import annotations

import pandas as pd

from ..numbers.clock import valid_zone
from .angles import with_signs
from .tables import as_text

#: One number with a decimal comma, 51,5333: it is no pair "51, 5333".
LONE_COMMA = r"\s*[+\-\u2212]?\d{1,3},\d+\s*"


#: A geometry in hexadecimal well-known binary, PostGIS's extended form too: byte order, type, then 16 digits a number.
HEX = r"0[01][0-9A-F]{40,}"
#: A geometry as text: WKT, EWKT, hexadecimal WKB, GeoJSON.
GEOMETRY = (rf"^(?:SRID=\d+;)?\s*(?:MULTI(?:POINT|LINESTRING|POLYGON)|POINT|LINESTRING|POLYGON|GEOMETRYCOLLECTION)|^{HEX}$"
            r'|^\{.*"coordinates"')


def sample(column: pd.Series) -> pd.Series:
    """The first filled cells as text, enough to judge a column by."""
    text = as_text(column.iloc[:5000]).str.strip()
    return text[text != ""].iloc[:500]


def allows(column: pd.Series, what: str, rank: int | None = None) -> bool:
    """Whether the values do not speak against a meaning; a blank column means nothing.

    Where the heading is plain (`rank` 0 of a latitude, longitude or load) odd cells do not count against it: a column
    left unread because half of it is odd would be lost in silence, while odd cells are said row by row.
    """
    text = sample(column)
    if text.empty:
        return False
    digits = text.str.contains(r"\d").mean()
    if rank == 0 and what in ("lat", "lon", "load_w"):
        return digits > 0
    if what in ("lat", "lon", "x", "y"):
        return digits > 0.5
    if what == "position":
        return holds_pairs(text)
    if what == "legal_zone":
        # a heading "legal_zone" says what it is, another needs one name of the tz database to bear it out
        return rank in (0, 1) or any(map(valid_zone, as_text(column).str.strip().unique()))
    if what == "load_w":
        return digits > 0.5
    return True


def holds_pairs(text: pd.Series) -> bool:
    """Whether most of these texts hold two coordinates, or a geometry."""
    wkt = text.str.contains(GEOMETRY, case=False)
    if not all(map(str.isascii, text)):
        text = text.map(with_signs)
    pair = text.str.contains(r"\d[\d.,°'\"′″º\sNSEWO]*[,;|/\s]\s*[+\-\u2212NSEWO]?\s*\d", case=False)
    pair &= ~text.str.fullmatch(LONE_COMMA)
    words = text.str.contains(r"[a-z]{4,}", case=False) & ~wkt
    return bool((wkt | (pair & ~words)).mean() > 0.5)

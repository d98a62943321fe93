"""Numbers as people write them: decimal comma or point, grouped thousands, typographic minus, hidden characters."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

import numpy as np
import pandas as pd

from ..errors import InputError
from .tables import as_text

#: Characters that look like a blank or like nothing: no-break, thin and zero-width spaces, marks, soft hyphen.
_BLANKS = "\u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000\t\r\n"
_NOTHINGS = "\u00ad\u200b\u200c\u200d\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2060\u2066\u2067\u2068\u2069\ufeff"
_MINUSES = "\u2010\u2011\u2012\u2013\u2212\ufe58\ufe63\uff0d"
_HIDDEN = re.compile(f"[{_BLANKS}{_NOTHINGS}{_MINUSES}]")
_TABLE = str.maketrans({**dict.fromkeys(_BLANKS, " "), **dict.fromkeys(_NOTHINGS, None),
                        **dict.fromkeys(_MINUSES, "-")})


#: Digits of every script, and full-width letters and signs, as those of ASCII.
_NARROW = str.maketrans({**{chr(c): chr(c - 0xfee0) for c in range(0xff01, 0xff5f)},
                         **{c: str(unicodedata.digit(c)) for c in map(chr, range(0x660, 0x1fbfa)) if c.isdecimal()},
                         "\u3000": " ", "\u3002": ".", "\uff61": ".", "\u3001": ",", "\u066b": ".", "\u066c": ","})


def narrow(text: str) -> str:
    """A text with full-width digits, letters and signs, and digits of other scripts, as ASCII: "３５．１" is "35.1"."""
    return text if text.isascii() else text.translate(_NARROW)


def clean(text: str) -> str:
    """One text without hidden characters and outer blanks, a typographic minus as "-"."""
    return text.translate(_TABLE).strip() if not text.isascii() or not text.isprintable() else text.strip()


def tidy(column: pd.Series) -> tuple[pd.Series, np.ndarray]:
    """Text without hidden characters and outer blanks, and which cells had a hidden character.

    A typographic minus becomes "-": nothing else looks like it in front of a number.
    """
    text = as_text(column)
    values = text.to_numpy(dtype=object)
    # one search over the joined text: most lists hold no such character and need no look at each cell
    joined = "\x1f".join(values)
    hidden = np.zeros(len(values), dtype=bool)
    if _HIDDEN.search(joined):
        hidden = np.fromiter((bool(_HIDDEN.search(v)) for v in values), dtype=bool, count=len(values))
        values = values.copy()
        values[hidden] = [v.translate(_TABLE) for v in values[hidden]]
    return pd.Series([v.strip() for v in values], index=column.index, dtype="str", name=column.name), hidden


def find_decimal(columns: Iterable[pd.Series]) -> str | None:
    """ "," or "." as the numbers in these columns show it together; None where nothing tells.

    A comma followed by other than three digits, or after more than three, cannot group thousands: it is a
    decimal comma. Two commas in one number, or a point behind a comma, make the comma a grouping mark.
    """
    comma = point = 0
    for column in columns:
        if not isinstance(column.dtype, pd.StringDtype) and column.dtype != object:
            continue
        joined = "\x1f".join(v for v in as_text(column).to_numpy(dtype=object)[:20_000])
        if "," not in joined and "，" not in joined:
            # two points in one number group thousands; one is a decimal point
            grouped = len(re.findall(r"(?<![\d.])\d{1,3}(?:\.\d{3}){2,}(?![\d.])", joined))
            comma += grouped
            point += joined.count(".") - 2 * grouped
            continue
        for value in map(narrow, tidy(column.iloc[:20_000])[0]):
            if re.fullmatch(r"[+-]?\d{1,3}(\.\d{3})+,\d+|[+-]?\d{1,3}(\.\d{3}){2,}|[+-]?\d+,(\d{1,2}|\d{4,})|[+-]?\d{4,},\d+|[+-]?0,\d+",
                            value):
                comma += 1
            elif re.fullmatch(r"[+-]?\d{1,3}(,\d{3})+\.\d*|[+-]?\d{1,3}(,\d{3}){2,}|[+-]?\d+\.(\d{1,2}|\d{4,})", value):
                point += 1
    return "," if comma > point else "." if point else None


def check_decimal(decimal: str | None) -> str | None:
    """The stated decimal mark, "comma" and "point" allowed as words; InputError for anything else."""
    mark = {"comma": ",", "point": ".", "dot": "."}.get(decimal, decimal) if decimal else decimal
    if mark not in (None, ",", "."):
        raise InputError("the decimal mark must be a comma or a point", value=decimal,
                         next_step='[reading] decimal = "," or "."')
    return mark


def as_numbers(column: pd.Series, decimal: str = ".") -> np.ndarray:
    """The cells as float64; NaN where a cell is no plain number. No unit, no degree sign is read here.

    Parameters
    ----------
    column : Series
        Numbers, text, or both.
    decimal : {".", ","}
        Decimal mark of the text cells; the other one and blanks may group thousands. Full-width digits count. A typed cell is a number
        already, whatever the mark.
    """
    if pd.api.types.is_bool_dtype(column.dtype):
        return np.full(len(column), np.nan)
    if pd.api.types.is_numeric_dtype(column.dtype):
        values = column.to_numpy(dtype=float, na_value=np.nan)
        return np.where(np.isfinite(values), values, np.nan)
    if column.dtype == object:
        cells = column.to_numpy(dtype=object)
        typed = np.fromiter((isinstance(c, (int, float)) and not isinstance(c, bool) for c in cells), bool, len(cells))
        values = np.full(len(cells), np.nan)
        values[typed] = cells[typed].astype(float)
        if (~typed).any():
            values[~typed] = as_numbers(as_text(column[~typed]), decimal)
        return np.where(np.isfinite(values), values, np.nan)
    if not isinstance(column.dtype, pd.StringDtype):
        return np.full(len(column), np.nan)  # dates are no numbers
    values = np.full(len(column), np.nan)
    if decimal == ".":  # the common case in one compiled pass; only what it leaves is looked at cell by cell
        values = pd.to_numeric(column, errors="coerce").to_numpy(dtype=float, na_value=np.nan, copy=True)
    unread = np.isnan(values)
    if unread.any():
        group = "." if decimal == "," else ","
        mark = re.escape(decimal)
        pattern = re.compile(rf"[+-]?\d{{1,3}}(?:[ '\u2019{re.escape(group)}]\d{{3}})+(?:{mark}\d*)?"
                             rf"|[+-]?(?:\d+{mark}?\d*|{mark}\d+)(?:[eE][+-]?\d+)?")
        strip = str.maketrans({decimal: ".", group: None, " ": None, "'": None, "\u2019": None})
        values[unread] = [float(c.translate(strip)) if pattern.fullmatch(c) else np.nan
                          for c in map(narrow, tidy(column[unread])[0].to_numpy(dtype=object))]
    return np.where(np.isfinite(values), values, np.nan)

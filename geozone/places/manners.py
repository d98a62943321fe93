"""The manner of a text table: what stands between the cells, the decimal sign, the encoding."""

from __future__ import annotations

from dataclasses import dataclass

from .delimited import SEPARATOR_WORDS


@dataclass(frozen=True)
class Manner:
    """How CSV files are written; the default is what most programs take without being told.

    Attributes
    ----------
    separator : str
        One character.
    decimal : {".", ","}
    encoding : {"utf-8-sig", "utf-8"}
        "utf-8-sig" begins with a byte order mark.
    """

    separator: str = ","
    decimal: str = "."
    encoding: str = "utf-8-sig"

    @property
    def words(self) -> str:
        """Separator and decimal sign for people.

        Examples
        --------
        >>> Manner(";", ",").words
        'semicolons between the cells, decimal comma'
        """
        separator = SEPARATOR_WORDS.get(self.separator)
        between = f"{separator}s" if separator else f'"{self.separator}"'
        return f"{between} between the cells, decimal {'comma' if self.decimal == ',' else 'point'}"

    @property
    def sentence(self) -> str:
        """Everything that a reader of the files must know."""
        mark = "with" if self.encoding == "utf-8-sig" else "without"
        return (f"{self.words[0].upper()}{self.words[1:]}, UTF-8 {mark} a byte order mark; cells that hold the separator stand in quotation "
                "marks; dates are year-month-day, as in 2027-06-21; numbers inside a sentence keep their decimal point.")


PLAIN = Manner()

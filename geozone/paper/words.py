"""The words of the paper, one catalogue a language, and figures and dates in its form."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
import datetime
from functools import lru_cache
from importlib.resources import files
from string import Formatter

from babel import Locale, dates, numbers

from ..errors import InputError, UndeclaredError

_FIGURE = re.compile(r"[+-]?\d+\.\d+")
#: Language that every other catalogue is held against.
FIRST = "en"


@dataclass(frozen=True)
class Words:
    """One language.

    Attributes
    ----------
    language : str
        Its code, ISO 639.
    texts : mapping of str to str
        By key; with {names} to be filled in.
    """

    language: str
    texts: Mapping[str, str]

    def __call__(self, key: str, /, **values) -> str:
        """The text of a key, filled in."""
        if key not in self.texts:
            raise UndeclaredError(f"the paper has no text {key!r} in {self.language}")
        return self.texts[key].format(**values)

    @property
    def locale(self) -> Locale:
        return _locale(self.language)

    @property
    def read_by_a_crew(self) -> bool:
        """False for a translation that no native crew has read yet."""
        return self.texts["checked"] == "yes"

    def number(self, value: float, decimals: int = 0) -> str:
        """A figure with so many decimals, in the language's form."""
        form = "#,##0" + ("." + "0" * decimals if decimals else "")
        return numbers.format_decimal(value, format=form, locale=self.locale)

    def date(self, day: datetime.date, form: str = "long") -> str:
        """A date in the language's form; "long", "medium", or a pattern of Unicode TR 35."""
        return _dated(self.language, day, form)

    def day(self, when: datetime.date, weekday: bool = False) -> str:
        """A day and its month in the language's form, short, with its weekday if asked for: 22 Dec; Wed, 22 Dec."""
        return _day(self.language, when, "MMMEd" if weekday else "MMMd")

    def trimmed(self, value: float) -> str:
        """A figure with a tenth where it has one."""
        return numbers.format_decimal(value, format="#,##0.#", locale=self.locale)

    def figure(self, text: str) -> str:
        """A figure that is text already, such as "34.5", with the language's decimal sign; any other text as it is."""
        return text.replace(".", numbers.get_decimal_symbol(self.locale)) if _FIGURE.fullmatch(text) else text

    def count(self, n: int, key: str) -> str:
        """A number of things: the key's text for one or for many."""
        return self(f"{key}_one" if n == 1 else f"{key}_many", n=self.number(n))


@lru_cache(maxsize=8)
def _locale(language: str) -> Locale:
    # English that is read outside the United States as well: 22 Dec 2027.
    return Locale.parse({"en": "en_GB"}.get(language, language))


@lru_cache(maxsize=4096)
def _dated(language: str, day: datetime.date, form: str) -> str:
    """A date in words: every card of a run names the same ones."""
    return dates.format_date(day, format=form, locale=_locale(language))


@lru_cache(maxsize=4096)
def _day(language: str, day: datetime.date, skeleton: str) -> str:
    return dates.format_skeleton(skeleton, day, locale=_locale(language))


def languages() -> list[str]:
    """Codes of the languages that there is a catalogue of."""
    return sorted(one.name.removesuffix(".toml") for one in (files("geozone.paper") / "words").iterdir() if one.name.endswith(".toml"))


@lru_cache(maxsize=8)
def words_in(language: str = FIRST) -> Words:
    """The catalogue of a language.

    Raises
    ------
    InputError
        If there is none.
    """
    if language not in languages():
        raise InputError("the paper is not written in this language", value=language, rule=f"one of {', '.join(languages())}")
    home = files("geozone.paper")
    texts = tomllib.loads((home / "words" / f"{language}.toml").read_text(encoding="utf-8"))
    # The slips stand in one file for all languages: a new one is worded in one place.
    slips = tomllib.loads((home / "slipwords.toml").read_text(encoding="utf-8"))
    return Words(language, {**texts, **{f"slip_{key}": one[language] for key, one in slips.items() if language in one}})


def placeholders(text: str) -> set[str]:
    """Names that a text wants filled in."""
    return {name for _, name, _, _ in Formatter().parse(text) if name}

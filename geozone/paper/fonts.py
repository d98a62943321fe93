"""The fonts that paper is set in: DejaVu, as matplotlib ships it with its licence; widths of texts, and letters it has not."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from pathlib import Path

import matplotlib
from fontTools.ttLib import TTFont

FAMILY = "DejaVu Sans"
_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}
#: Height of a line over the size of its letters, and of the space under the base line.
LINE, DESCENT = 1.17, 0.24


def font_folder() -> Path:
    """Folder that holds the fonts and, beside them, their licence."""
    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@lru_cache(maxsize=2)
def _metrics(bold: bool) -> tuple[dict[int, str], dict, int]:
    with TTFont(font_folder() / _FILES[bold]) as font:
        return dict(font.getBestCmap()), dict(font["hmtx"].metrics), font["head"].unitsPerEm


def width_mm(text: str, size_mm: float, bold: bool = False) -> float:
    """Width of a line of text [mm], kerning left out, which only makes it wider."""
    cmap, advances, em = _metrics(bold)
    return sum(advances[cmap.get(ord(letter), ".notdef")][0] for letter in text) * size_mm / em


def has_letter(letter: str) -> bool:
    """Whether the fonts can print a character; joiners and spaces need no picture."""
    return ord(letter) in _metrics(False)[0] or letter.isspace() or unicodedata.category(letter) in ("Cf", "Mn", "Cc")


def without_letters(texts) -> dict[str, list[str]]:
    """Letters that the fonts do not have, each with up to three texts that need it."""
    found: dict[str, list[str]] = {}
    for text in map(str, texts):
        for letter in set(text):
            if letter.isprintable() and not has_letter(letter):
                mine = found.setdefault(letter, [])
                if len(mine) < 3 and text not in mine:
                    mine.append(text)
    return dict(sorted(found.items()))

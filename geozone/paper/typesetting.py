"""Typst turns data and a template into PDF, PNG or SVG. No text of a site list is ever markup."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Mapping
from importlib.resources import files

from ..errors import OutputError
from .fonts import font_folder, has_letter

# Characters that would turn the direction of the text that follows, or hide in it.
_UNSEEN = {"\u202a", "\u202b", "\u202c", "\u202d", "\u202e", "\u2066", "\u2067", "\u2068", "\u2069", "\u200e", "\u200f", "\ufeff"}


def printable(text: object) -> str:
    """The text without control characters and marks that turn its direction; line breaks become spaces.

    A letter that the fonts do not have becomes a question mark rather than an empty box; `without_letters` names it.
    """
    text = str(text)
    if text.isascii() and text.isprintable():
        return text
    kept = (" " if letter.isspace() else letter for letter in text)
    kept = (letter for letter in kept if letter not in _UNSEEN and unicodedata.category(letter) not in ("Cc", "Cs", "Cn", "Co"))
    return "".join(letter if has_letter(letter) else "?" for letter in kept)


def cleaned(value: object) -> object:
    """The same data with every text printable, except pictures and keys."""
    if isinstance(value, Mapping):
        return {key: part if key == "svg" else cleaned(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [cleaned(part) for part in value]
    return printable(value) if isinstance(value, str) else value


def has_long_word(value: object, letters: int) -> bool:
    """Whether any text but a picture has a word that long: such words need a rule of the template that is slow."""
    if isinstance(value, Mapping):
        return any(has_long_word(part, letters) for key, part in value.items() if key != "svg")
    if isinstance(value, (list, tuple)):
        return any(has_long_word(part, letters) for part in value)
    return isinstance(value, str) and len(value) >= letters and any(len(word) >= letters for word in value.split())


def typeset(template: str, data: Mapping, kind: str = "pdf", dots_per_inch: float = 300.0) -> bytes:
    """A document of a template in `templates` with its data.

    Parameters
    ----------
    template : str
        Such as "sheet.typ".
    data : mapping
        What the template reads, as JSON.
    kind : {"pdf", "svg", "png"}
        "pdf" is PDF/A-2b, tagged; the others are the first page.
    dots_per_inch : float
        Of a "png".

    Raises
    ------
    OutputError
        If the document cannot be set. A defect of a template, said with the library's own words.
    """
    import typst

    source = (files("geozone.paper") / "templates" / template).read_bytes()
    text = json.dumps(cleaned(data), ensure_ascii=False, allow_nan=False)
    try:
        how = {"pdf": {"pdf_standards": ["a-2b"]}, "png": {"ppi": dots_per_inch}, "svg": {}}[kind]
        made = typst.compile(source, font_paths=[str(font_folder())], ignore_system_fonts=True, format=kind,
                             sys_inputs={"data": text}, **how)
        return made[0] if isinstance(made, list) else made
    except typst.TypstError as error:
        raise OutputError("the paper cannot be set", where=template, value=str(error)[:500]) from error

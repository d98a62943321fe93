"""Typst turns data and a template into PDF or SVG. No text of a site list is ever markup."""

from __future__ import annotations

import io
import json
import re
import unicodedata
from collections.abc import Mapping

from .apart import set_apart
from .fonts import font_folder, has_letter

# Characters that would turn the direction of the text that follows, or hide in it.
_UNSEEN = {"\u202a", "\u202b", "\u202c", "\u202d", "\u202e", "\u2066", "\u2067", "\u2068", "\u2069", "\u200e", "\u200f", "\ufeff"}
# What JSON hides behind a backslash, other than quotes, slashes and backslashes.
_HIDDEN = re.compile(r'\\[^"\\/]')


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


def typeset(template: str, data: Mapping, kind: str = "pdf", tagged: bool = True) -> bytes:
    """A document of a template in `templates` with its data.

    Parameters
    ----------
    template : str
        Such as "sheet.typ".
    data : mapping
        What the template reads, as JSON.
    kind : {"pdf", "svg"}
        "pdf" is PDF/A-2b; "svg" is the first page.
    tagged : bool
        Whether a PDF says what is a heading, a table or a picture.

    Raises
    ------
    OutputError
        If the document cannot be set (a defect of a template, said with the library's own words), or not in a process of its own.
    """
    how = {"format": kind, **({"pdf_standards": ["a-2b"], "pdf_tags": tagged} if kind == "pdf" else {})}
    return set_apart(template, data_text(data), str(font_folder()), how)


def data_text(data: Mapping) -> str:
    """The data as JSON, cleaned."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False)
    # Letters of the whole first: most data have none to clean, and to look at each of thousands of short texts takes far longer.
    # JSON itself hides line breaks and control characters behind a backslash.
    if _HIDDEN.search(text) or any(printable(letter) != letter for letter in set(text)):
        text = json.dumps(cleaned(data), ensure_ascii=False, allow_nan=False)
    return text


def png_of(pdf: bytes, dots_per_inch: float = 300.0) -> bytes:
    """The first page of a PDF as a picture."""
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    try:
        picture = document[0].render(scale=dots_per_inch / 72).to_pil()
    finally:
        document.close()
    target = io.BytesIO()
    picture.save(target, "png", dpi=(dots_per_inch, dots_per_inch))
    return target.getvalue()

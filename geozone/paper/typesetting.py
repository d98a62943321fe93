"""Typst turns data and a template into PDF or SVG. No text of a site list is ever markup."""

from __future__ import annotations

import io
import json
import unicodedata
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files

from ..errors import OutputError
from .fonts import font_folder, has_letter

# Documents that the typesetter remembers.
_KEPT = 10
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
        If the document cannot be set. A defect of a template, said with the library's own words.
    """
    import typst

    source = (files("geozone.paper") / "templates" / template).read_bytes()
    text = json.dumps(cleaned(data), ensure_ascii=False, allow_nan=False)
    try:
        how = {"pdf": {"pdf_standards": ["a-2b"], "pdf_tags": tagged}, "svg": {}}[kind]
        made = typst.compile(source, font_paths=_fonts(), format=kind, sys_inputs={"data": text}, **how)
        return made[0] if isinstance(made, list) else made
    except typst.TypstError as error:
        raise OutputError("the paper cannot be set", where=template, value=str(error)[:500]) from error


@lru_cache(maxsize=1)
def _fonts():
    """The fonts of the paper, read once."""
    import typst

    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(font_folder())])


def forget() -> None:
    """Let the typesetter give back what it keeps of the last documents.

    It keeps the parts of the last ten documents for the case that they come again, some 7 MB a card. Blank ones push them out.
    """
    import typst

    for _ in range(_KEPT + 1):
        typst.compile(b"", font_paths=_fonts(), format="svg")


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

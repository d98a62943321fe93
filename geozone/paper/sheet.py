"""The sheet for a tender document: `sheet.pdf`, and its map frame as `sheet.svg` and `sheet.png`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .inset import inset_picture
from .maplayers import ground_bounds
from .mapview import MapView, projection_for, view_of
from .options import SheetOptions
from .pdfmap import MapPage, finish
from .sheetdata import LABELS, layout, map_sheet, title_fields
from .sheettables import sheet_tables
from .typesetting import printable, typeset
from .words import words_in

if TYPE_CHECKING:
    from ..answers import Answers


def sheet_view(answers: "Answers", options: SheetOptions) -> MapView:
    """What the overview's map frame shows."""
    bounds = ground_bounds(answers)
    return view_of(layout(options)["map"], bounds, projection_for(bounds, options.crs), options.scale)


def sheet_pdf(answers: "Answers", options: SheetOptions) -> bytes:
    """The sheet as PDF/A-2b, tagged, with layers and georeferenced map frames.

    Parameters
    ----------
    answers : Answers
    options : SheetOptions

    Returns
    -------
    bytes
        The same answers and options give the same bytes.

    Raises
    ------
    InputError
        For a scale at which the area has no room, or a projection that is not known.
    """
    words = words_in(options.language)
    view = sheet_view(answers, options)
    title = printable(options.title or answers.title)
    maps = [map_sheet(answers, options, view, words, words("map_sheet"), inset_picture(view, words))]
    versions = words("versions", geozone=answers.versions.get("geozone", ""), tz=answers.versions.get("tz database", ""))
    data = {
        "title": title, "author": options.creator or options.owner or "geozone", "language": options.language, "words": _template_words(words),
        "dated": document_date(answers, options),
        "fields": title_fields(answers, options, words), "maps": maps, "versions": versions,
        "revisions": [[one.index, one.what, one.date, one.by] for one in options.revisions] or [["", "", "", ""]] * 2,
        "cautions": [words(f"caution_{key}") for key in ("horizon", "levels", "supply")],
        "tables": sheet_tables(answers, options, view, words),
    }
    pdf = typeset("sheet.typ", data)
    layers = [*(layer["name"] for layer in maps[0]["map"]["layers"]), LABELS]
    return finish(pdf, [MapPage(page, view, layers) for page in range(len(maps))], title=title, subject=versions)


def document_date(answers: "Answers", options: SheetOptions) -> list[int]:
    """Year, month and day of the document: the date of issue, else the first of the plan's year, so that the bytes stay the same."""
    return [int(part) for part in options.issued.split("-")] if options.issued else [answers.year, 1, 1]


def _template_words(words) -> dict:
    keys = ("owner", "department", "reference", "type", "status", "title", "number", "revision", "language", "creator", "approver", "date",
            "scale", "sheet", "revisions", "cautions")
    return {**{key: words(key) for key in keys},
            "revision_heads": [words(f"revision_{key}") for key in ("index", "what", "date", "by")]}

"""The sheet for a tender document: `sheet.pdf`, and its map frame alone for a report."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..numbers.cores import on_all_cores
from ..places.antimeridian import joined
from .maplayers import ground_bounds
from .mapview import MapView, projection_for, view_of
from .options import SheetOptions
from .pdfmap import MapPage, finish
from .sheetdata import LABELS, layout, map_sheet, title_fields
from .sheettables import sheet_tables
from .typesetting import has_long_word, png_of, printable, typeset
from .words import Words, words_in

if TYPE_CHECKING:
    from ..answers import Answers


def sheet_view(answers: "Answers", options: SheetOptions) -> MapView:
    """What the overview's map frame shows."""
    bounds = ground_bounds(answers)
    return view_of(layout(options)["map"], bounds, projection_for(bounds, options.crs), options.scale)


def sheet_files(answers: "Answers", options: SheetOptions) -> dict[str, bytes]:
    """The sheet as it is written into a run's folder, its map drawn once: "pdf", and the overview's map frame as "svg" and "png".

    Parameters
    ----------
    answers : Answers
    options : SheetOptions

    Returns
    -------
    dict of str to bytes
        "pdf" is PDF/A-2b, tagged, with layers and georeferenced map frames; "png" has 300 dots an inch. The same answers and
        options give the same bytes.

    Raises
    ------
    InputError
        For a scale at which the area has no room, or a projection that is not known.
    """
    words = words_in(options.language)
    views = _views(answers, options, words)
    data = _document(answers, options, words, views)
    frame = {**data, "maps": data["maps"][:1], "frame_only": True, "tables": [], "long": False}
    # The typesetter and the drawing of the picture let other threads go on.
    made = on_all_cores(lambda make: make(), (lambda: _pdf(answers, options, words, views, data), lambda: typeset("sheet.typ", frame, "svg"),
                                              lambda: png_of(typeset("sheet.typ", frame, tagged=False))))
    return dict(zip(("pdf", "svg", "png"), made, strict=True))


def sheet_pdf(answers: "Answers", options: SheetOptions) -> bytes:
    """The sheet alone, as in `sheet_files`."""
    words = words_in(options.language)
    views = _views(answers, options, words)
    return _pdf(answers, options, words, views, _document(answers, options, words, views))


def _views(answers: "Answers", options: SheetOptions, words: Words) -> list[tuple[str, MapView]]:
    overview = sheet_view(answers, options)
    if options.per == "area" and len(answers.areas) > 1:
        return [(words("overview"), overview), *area_views(answers, options)]
    return [(words("map_sheet"), overview)]


def _pdf(answers: "Answers", options: SheetOptions, words: Words, views: list[tuple[str, MapView]], data: dict) -> bytes:
    whole = {**data, "frame_only": False, "tables": sheet_tables(answers, options, views[0][1], words)}
    layers = [*(layer["name"] for layer in data["maps"][0]["map"]["layers"]), LABELS]
    return finish(typeset("sheet.typ", {**whole, "long": has_long_word(whole, 24)}), [MapPage(page, view, layers) for page, (_, view) in enumerate(views)],
                  title=data["title"], subject=data["versions"])


def area_views(answers: "Answers", options: SheetOptions) -> list[tuple[str, MapView]]:
    """A view for each outline, in the order of their names; at the largest round scale at which it has room."""
    box, found = layout(options)["map"], []
    for row in answers.areas.sort_values("area", kind="stable").itertuples():
        west, south, east, north = joined(row.geometry).bounds
        bounds = (float(west), float(south), float(east), float(north))
        found.append((str(row.area), view_of(box, bounds, projection_for(bounds, options.crs))))
    return found


def _document(answers: "Answers", options: SheetOptions, words: Words, views: list[tuple[str, MapView]]) -> dict:
    """The map sheets and what stands on all of them."""
    matches = [match_lines(answers, views, place, words) if len(views) > 1 and place else [] for place in range(len(views))]
    maps = [map_sheet(answers, options, view, words, heading, match)
            for (heading, view), match in zip(views, matches, strict=True)]
    for one in maps:
        one["subtitle"] = one["heading"] if len(maps) > 1 else ""
    return {
        "title": printable(options.title or answers.title), "author": options.creator or options.owner or "geozone",
        "language": options.language, "words": _template_words(words), "dated": document_date(answers, options),
        "fields": title_fields(answers, options, words), "maps": maps,
        "versions": words("versions", geozone=answers.versions.get("geozone", ""), tz=answers.versions.get("tz database", "")),
        "revisions": [[one.index, one.what, one.date, one.by] for one in options.revisions] or [["", "", "", ""]] * 2,
        "cautions": [words(f"caution_{key}") for key in ("horizon", "levels", "supply")],
    }


def match_lines(answers: "Answers", views: list[tuple[str, MapView]], place: int, words: Words) -> list[str]:
    """Which sheets go on beside one outline's: "East: sheet 4, Eastmark"."""
    shapes = {str(row.area): row.geometry for row in answers.areas.itertuples()}
    mine, found = shapes[views[place][0]], []
    near = 0.02 * max(mine.bounds[2] - mine.bounds[0], mine.bounds[3] - mine.bounds[1])
    here = mine.representative_point()
    for sheet, (name, _) in enumerate(views):
        if sheet in (0, place) or shapes[name].distance(mine) > near:
            continue
        there = shapes[name].representative_point()
        east, north = (there.x - here.x) * np.cos(np.radians(here.y)), there.y - here.y
        side = ("side_east" if east > 0 else "side_west") if abs(east) > abs(north) else ("side_north" if north > 0 else "side_south")
        found.append(words("match", side=words(side), sheet=words.number(sheet + 1), name=name))
    return found


def document_date(answers: "Answers", options: SheetOptions) -> list[int]:
    """Year, month and day of the document: the date of issue, else the first of the plan's year, so that the bytes stay the same."""
    return [int(part) for part in options.issued.split("-")] if options.issued else [answers.year, 1, 1]


def _template_words(words: Words) -> dict:
    keys = ("owner", "department", "reference", "type", "status", "title", "number", "revision", "language", "creator", "approver", "date",
            "scale", "sheet", "revisions", "cautions", "hatch", "follows", "continued")
    return {**{key: words(key) for key in keys}, "settings_more": words.texts["settings_more"],
            "revision_heads": [words(f"revision_{key}") for key in ("index", "what", "date", "by")]}

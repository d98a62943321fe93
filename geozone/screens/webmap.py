"""The map as one page: sealed, offline, the same bytes for the same answers."""

from __future__ import annotations

from pathlib import Path

from ..answers import Answers
from .mapdata import page_data
from .mappage import CanvasSites, PageData, PagePart, SealedMap


def draw_map(answers: Answers) -> str:
    """The whole map page as HTML.

    Parameters
    ----------
    answers : Answers
        The finished answers of a run.

    Returns
    -------
    str
        One HTML page that fetches nothing: scripts, styles and data are inside it, and a content security policy with
        their sums keeps it so. The same answers give the same text.
    """
    data = page_data(answers)
    page = SealedMap(title=data["title"], bounds=data["bounds"], programmes="programmes" in data)
    # Later parts are drawn over earlier ones; the labels come last, because they make way for everything else.
    programmes = (PagePart("programmes"),) if "programmes" in data else ()
    groups = () if data["groups"] is None else (PagePart("groups"),)
    zones = () if data["zoning"] is None else (PagePart("zones"),)
    for part in (PageData(data), PagePart("grid"), PagePart("outlines"), *groups, *zones, CanvasSites(), PagePart("parts"),
                 *programmes):
        page.add_child(part)
    return page.page()


def write_map(answers: Answers, path: str | Path) -> None:
    """Write the map page to a file, UTF-8, with the same bytes on every system."""
    Path(path).write_bytes(draw_map(answers).encode("utf-8"))

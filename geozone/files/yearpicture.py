"""A year at a glance: every night a column, the hours from noon to noon upwards, lamps shaded where they burn."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from ..numbers.civil import MIN_PER_DAY, dates
from ..numbers.clock import OffsetSequence, offset_min_at
from ..numbers.sun import nights_of

# Chosen to stay apart in grey print (lightness 100, 89, 47 and 16 of 100); the fourth is hatched as well.
PAPER, DARKNESS, LAMPS, WASTE, INK = "#ffffff", "#d9e0ea", "#a85a0c", "#3c2208", "#22252b"
STYLE: dict[Any, Any] = {
         "font.family": "DejaVu Sans", "font.size": 8, "svg.fonttype": "path", "svg.hashsalt": "geozone",
         "axes.edgecolor": INK, "axes.labelcolor": INK, "xtick.color": INK, "ytick.color": INK, "text.color": INK,
         "hatch.linewidth": 0.6, "hatch.color": "#ffffff"}
_MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()


@dataclass(frozen=True)
class YearPicture:
    """What one picture shows.

    Attributes
    ----------
    title, subtitle : str
        Untrusted text, drawn as it is.
    year : int
    clock : OffsetSequence
        The clock that the hours are read on.
    lit : (2, n) float64
        Starts and stops of lit intervals [minutes since 1 January 00:00 UTC].
    dark : (2, n) float64
        The same for the time in which the sun is below the dark threshold.
    """

    title: str
    subtitle: str
    year: int
    clock: OffsetSequence
    lit: np.ndarray
    dark: np.ndarray


def draw_year(picture: YearPicture, kind: str = "svg") -> bytes:
    """Draw a year at a glance.

    Parameters
    ----------
    picture : YearPicture
    kind : {"svg", "png"}

    Returns
    -------
    bytes
        The same picture gives the same bytes.
    """
    n_night = nights_of(picture.year).size
    with rc_context(STYLE):
        figure = Figure(figsize=(9.0, 4.3), facecolor=PAPER)
        axes = figure.add_axes((0.07, 0.15, 0.91, 0.66))
        axes.set(xlim=(0, n_night), ylim=(720, 2160))
        wasted = left_of(picture.lit, picture.dark)
        for ends, colour, hatch in ((picture.dark, DARKNESS, None), (picture.lit, LAMPS, None), (wasted, WASTE, "////")):
            boxes = night_boxes(ends, picture.clock, n_night)
            if hatch:
                # Slivers of a shifted dusk are no waste worth a hatch.
                boxes = [box for box in boxes if box[2][1] - box[0][1] > 60]
            if len(boxes):
                axes.add_collection(PolyCollection(boxes, facecolor=colour, edgecolor="#ffffff" if hatch else "none",
                                                   linewidth=0, hatch=hatch, antialiased=False))
        _scales(axes, picture.year, n_night)
        _clock_changes(axes, picture, n_night)
        figure.text(0.07, 0.94, shortened(picture.title, 80), fontsize=11.5, fontweight="bold", parse_math=False)
        figure.text(0.07, 0.89, shortened(picture.subtitle, 125), fontsize=8, parse_math=False)
        keys = [Patch(facecolor=PAPER, edgecolor=INK, linewidth=0.5, label="daylight"),
                Patch(facecolor=DARKNESS, label="dark, lamps off"), Patch(facecolor=LAMPS, label="lamps on")]
        if len(boxes):
            keys.append(Patch(facecolor=WASTE, edgecolor="#ffffff", hatch="////", linewidth=0,
                              label="lamps on in daylight, over 1 h"))
        axes.legend(handles=keys, loc="upper center", bbox_to_anchor=(0.5, -0.1), ncol=4, frameon=False, fontsize=8)
        return saved(figure, kind)


def saved(figure: Figure, kind: str) -> bytes:
    """A figure as bytes that depend on nothing but the figure."""
    if kind not in ("svg", "png"):
        raise ValueError(f"kind is 'svg' or 'png', not {kind!r}")
    out = io.BytesIO()
    metadata = {"Date": None, "Creator": "geozone"} if kind == "svg" else {"Software": "geozone"}
    with warnings.catch_warnings():
        # A name in a script that the font lacks is drawn as boxes; that is no reason to fail.
        warnings.filterwarnings("ignore", message=".*Glyph .* missing from font.*")
        with rc_context(STYLE):
            figure.savefig(out, format=kind, dpi=150, metadata=metadata)
    return out.getvalue()


def shortened(text: str, limit: int) -> str:
    """Text on one line, cut to a length."""
    text = " ".join(text.split())
    return text if len(text) <= limit else text[: limit - 1] + "…"


def night_boxes(ends: np.ndarray, clock: OffsetSequence, n_night: int) -> np.ndarray | list:
    """Rectangles (night, wall minute) of intervals: cut where the clock is changed and at noon on it."""
    if ends.shape[1] == 0:
        return []
    start, stop = ends
    for change in clock.start_utc_min[1:]:
        inside = (start < change) & (stop > change)
        start, stop = np.append(start, np.full(inside.sum(), change)), np.append(np.where(inside, change, stop), stop[inside])
    offset = offset_min_at(clock, (start + stop) / 2)
    start, stop = start + offset, stop + offset
    # Noon to noon: the first piece of each interval, then whole columns of those that pass a noon.
    out = []
    night = np.floor(start / MIN_PER_DAY - 0.5)
    while start.size:
        noon = (night + 1.5) * MIN_PER_DAY
        end = np.minimum(stop, noon)
        seen = (night >= 0) & (night < n_night)
        low, high = (start - night * MIN_PER_DAY)[seen], (end - night * MIN_PER_DAY)[seen]
        x = night[seen]
        out.append(np.stack([np.stack([x, low], 1), np.stack([x + 1, low], 1), np.stack([x + 1, high], 1),
                             np.stack([x, high], 1)], axis=1))
        more = stop > noon
        start, stop, night = noon[more], stop[more], night[more] + 1
    return np.concatenate(out)


def left_of(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """The pieces of union `a` outside union `b`."""
    marks = np.unique(np.concatenate([a.ravel(), b.ravel()]))
    if marks.size < 2:
        return np.empty((2, 0))
    middle = (marks[1:] + marks[:-1]) / 2

    def inside(union):
        i = np.searchsorted(union[0], middle, side="right") - 1
        return (i >= 0) & (middle < union[1, np.maximum(i, 0)]) if union.shape[1] else np.zeros(middle.size, bool)

    bare = inside(a) & ~inside(b)
    return np.stack([marks[:-1][bare], marks[1:][bare]])


def _scales(axes, year: int, n_night: int) -> None:
    month = dates(np.arange(n_night), year).astype("datetime64[M]")
    starts = np.flatnonzero(np.append(True, month[1:] != month[:-1]))
    axes.set_xticks(starts, minor=False, labels=[""] * starts.size)
    axes.set_xticks((starts + np.append(starts[1:], n_night)) / 2, labels=_MONTHS, minor=True)
    axes.tick_params(axis="x", which="minor", length=0)
    hours = np.arange(12, 37, 3)
    axes.set_yticks(hours * 60, labels=[f"{h % 24:02d}:00" for h in hours])
    axes.set_title("legal time, noon to noon", loc="left", fontsize=7, pad=3)
    axes.grid(color=INK, linewidth=0.4, alpha=0.25)
    axes.axhline(1440, color=INK, linewidth=0.5, alpha=0.5)
    axes.set_axisbelow(False)


def _clock_changes(axes, picture: YearPicture, n_night: int) -> None:
    clock = picture.clock
    for utc, before, after in zip(clock.start_utc_min[1:], clock.offset_min[:-1], clock.offset_min[1:]):
        night = np.floor((utc + before) / MIN_PER_DAY - 0.5) + 1
        if 0 < night < n_night:
            axes.axvline(night, color=INK, linewidth=1.0, linestyle=(0, (4, 2)))
            change = int(after - before)
            axes.annotate(f"clock {change:+d} min", (night, 2160), xytext=(0, 3), textcoords="offset points",
                          ha="center", va="bottom", fontsize=7)

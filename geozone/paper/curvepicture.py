"""The curve of worst minutes by number of settings, small, as SVG."""

from __future__ import annotations

import io

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure

_INK, _RIM = "#121a3a", "#b9b3a3"


def curve_picture(settings: np.ndarray, worst_min: np.ndarray, chosen: int) -> bytes:
    """The curve as an SVG picture of 80 by 32 mm; the plan's own number of settings is marked by a filled square.

    Text is drawn as outlines: figures of an axis are for the eye, and stand in the table as text.
    """
    with rc_context({"svg.hashsalt": "geozone", "svg.fonttype": "path", "font.size": 6, "font.family": "DejaVu Sans"}):
        figure = Figure(figsize=(80 / 25.4, 32 / 25.4))
        axes = figure.add_axes((0.08, 0.16, 0.89, 0.78))
        axes.plot(settings, worst_min, color=_INK, linewidth=0.9, marker="o", markersize=3, markerfacecolor="white", markeredgewidth=0.8)
        if chosen in settings:
            axes.plot([chosen], worst_min[settings == chosen], marker="s", markersize=5, color=_INK)
        axes.set_ylim(0, None)
        axes.set_xticks(settings)
        axes.grid(axis="y", color=_RIM, linewidth=0.3)
        axes.spines[["top", "right"]].set_visible(False)
        axes.tick_params(length=2, width=0.4)
        target = io.BytesIO()
        figure.savefig(target, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return target.getvalue()

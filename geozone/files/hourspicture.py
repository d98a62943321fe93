"""Operating hours by month, one line of bars for each programme."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib import rc_context
from matplotlib.figure import Figure

from .yearpicture import INK, LAMPS, PAPER, STYLE, saved, shortened

_MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()


def draw_hours(by: pd.DataFrame, title: str, kind: str = "svg") -> bytes:
    """Operating hours of one site by month, a row of bars a programme (or group).

    Parameters
    ----------
    by : DataFrame
        As `hours_by` makes it: index of names (untrusted text), lit_h and lit_01_h .. lit_12_h.
    title : str
    kind : {"svg", "png"}

    Returns
    -------
    bytes
    """
    months = [f"lit_{m:02d}_h" for m in range(1, 13)]
    rows = max(len(by), 1)
    top = max(float(by[months].to_numpy().max()) if len(by) else 1.0, 1.0)
    with rc_context(STYLE):
        figure = Figure(figsize=(9.0, 0.8 + 1.25 * rows), facecolor=PAPER)
        height = figure.get_size_inches()[1]
        figure.text(0.02, 1 - 0.32 / height, shortened(title, 80), fontsize=11.5, fontweight="bold", parse_math=False)
        for i, (name, row) in enumerate(by.iterrows()):
            axes = figure.add_axes((0.26, (0.3 + 1.25 * (rows - 1 - i)) / height, 0.72, 0.95 / height))
            values = row[months].to_numpy(float)
            axes.bar(np.arange(12), values, color=LAMPS, width=0.86, edgecolor=INK, linewidth=0.5)
            for m, value in enumerate(values):
                low = value < 0.25 * top
                axes.text(m, value + top * 0.04 if low else value - top * 0.05, f"{value:.0f}", ha="center",
                          va="bottom" if low else "top", fontsize=7, color=INK if low else PAPER)
            axes.set(xlim=(-0.6, 11.6), ylim=(0, top), yticks=[])
            axes.set_xticks(np.arange(12), labels=_MONTHS if i == rows - 1 else [""] * 12)
            axes.tick_params(length=0)
            for side in ("left", "right", "top"):
                axes.spines[side].set_visible(False)
            figure.text(0.02, (0.3 + 1.25 * (rows - 1 - i) + 0.6) / height, shortened(str(name), 28), fontsize=9.5,
                        fontweight="bold", parse_math=False)
            figure.text(0.02, (0.3 + 1.25 * (rows - 1 - i) + 0.35) / height,
                        f"{row['lit_h']:,.0f} h in the year at one site", fontsize=8)
        return saved(figure, kind)


"""Signs of the sites on the sheet's map: one look each, for the map and for the legend beside it.

Written as SVG by hand: a plotting library takes seconds to describe each of 50,000 signs anew.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..files import looks
from .sizes import Box


@dataclass(frozen=True)
class Mark:
    """How a verdict is drawn: shape and rim tell it without its colour.

    Attributes
    ----------
    shape : {"circle", "diamond", "square"}
    fill, rim : str
        "#rrggbb".
    rim_mm : float
        Width of the rim.
    side_mm : float
        Diameter of a circle, side of a square or of a diamond, which is a square on a corner.
    """

    shape: str
    fill: str
    rim: str
    rim_mm: float
    side_mm: float

    def svg(self, factor: float = 1.0) -> str:
        """The sign around the point 0, 0 [mm], at a part of its full size."""
        side, half = self.side_mm * factor, self.side_mm * factor / 2
        look = f'fill="{self.fill}" stroke="{self.rim}" stroke-width="{self.rim_mm * factor:.4f}"'
        if self.shape == "circle":
            return f'<circle r="{half:.4f}" {look}/>'
        turn = ' transform="rotate(45)"' if self.shape == "diamond" else ""
        return f'<rect x="{-half:.4f}" y="{-half:.4f}" width="{side:.4f}" height="{side:.4f}" {look}{turn}/>'


_INK, _RIM, _LAMP, _CLOCK = map(looks.hexadecimal, (looks.INK, looks.LAMP_RIM, looks.LAMP, looks.CLOCK))
#: By verdict, in the order in which they are drawn: the last lie on top.
MARKS = {"within": Mark("circle", _LAMP, _RIM, 0.25, 1.9), "other clock": Mark("square", "#ffffff", _CLOCK, 0.5, 1.9),
         "beyond": Mark("diamond", _INK, "#ffffff", 0.15, 1.575)}
#: Side of the picture of a sign in the legend [mm]: the largest sign has room in it.
LEGEND_MM = 2.6


def sign_pictures() -> dict[str, str]:
    """Each sign alone in full size, as SVG, for the legend."""
    half = LEGEND_MM / 2
    return {verdict: f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{-half} {-half} {LEGEND_MM} {LEGEND_MM}" width="{LEGEND_MM}mm" '
                     f'height="{LEGEND_MM}mm">{mark.svg()}</svg>' for verdict, mark in MARKS.items()}


def signs_svg(box: Box, x_mm: np.ndarray, y_mm: np.ndarray, verdict: np.ndarray, factor: float) -> bytes:
    """All signs as a picture of the map frame.

    Parameters
    ----------
    box : Box
        The frame [mm on the sheet].
    x_mm, y_mm : (n,) ndarray
        Where the sites lie on the sheet; those without a place on it (not finite) are left out.
    verdict : (n,) ndarray of str
        Keys of `MARKS`.
    factor : float
        Part of the signs' full size.
    """
    parts = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box.x:.4f} {box.y:.4f} {box.width:.4f} {box.height:.4f}" '
             f'width="{box.width:.4f}mm" height="{box.height:.4f}mm"><defs>',
             *(f'<g id="m{place}">{mark.svg(factor)}</g>' for place, mark in enumerate(MARKS.values())),
             f'<clipPath id="f"><rect x="{box.x:.4f}" y="{box.y:.4f}" width="{box.width:.4f}" height="{box.height:.4f}"/></clipPath></defs>',
             '<g clip-path="url(#f)">']
    # A sign that lies outside by more than its own size shows nothing.
    seen = (x_mm > box.x - 3) & (x_mm < box.right + 3) & (y_mm > box.y - 3) & (y_mm < box.bottom + 3)
    for place, code in enumerate(MARKS):
        mine = seen & (verdict == code)
        parts += [f'<use href="#m{place}" x="{x:.3f}" y="{y:.3f}"/>' for x, y in zip(x_mm[mine].tolist(), y_mm[mine].tolist(), strict=True)]
    return ("".join(parts) + "</g></svg>").encode()

"""The sun's height when it counts as dark, as a picture: horizon, twilights, and the threshold that was chosen."""

from __future__ import annotations

import math
from html import escape

from ..errors import InputError
from ..numbers.daylight import HIGHEST_DEG, LOWEST_DEG, TWILIGHT, illuminance_lx
from ..trade.basis import DarkThreshold

_WIDTH, _LEFT, _RIGHT, _DEG_PX, _TOP_DEG, _LOW_DEG, _EDGE = 520, 64, 176, 11.0, 6.0, -19.5, 14.0
# From above the horizon down: name, lower end [degree], colour, whether its words are light.
_BANDS = (("day", TWILIGHT["sunset"], "#fdf3d8", False), ("civil twilight", TWILIGHT["civil"], "#e9b98a", False),
          ("nautical twilight", TWILIGHT["nautical"], "#5f5e96", True),
          ("astronomical twilight", TWILIGHT["astronomical"], "#2c3566", True), ("night", _LOW_DEG, "#0d1430", True))


def threshold_of(kind: str, text: str) -> DarkThreshold | None:
    """The threshold that a form holds; None where that is none."""
    try:
        return DarkThreshold.of(**{kind: text if kind == "twilight" else float(text.replace(",", ".").replace("\u2212", "-"))})
    except (InputError, ValueError, OverflowError, TypeError):
        return None


def words_of(chosen: DarkThreshold) -> str:
    """What the picture shows, in words.

    Examples
    --------
    >>> print(words_of(DarkThreshold(-4.0)))
    Sun 4 degrees below the horizon: about 30 lx on level ground under a clear sky; real skies differ by a factor of several.
    """
    words = chosen.words[0].upper() + chosen.words[1:]
    if chosen.told_by == "illuminance_lx" or not LOWEST_DEG <= chosen.altitude_deg <= HIGHEST_DEG:
        return f"{words}."
    lux = float(illuminance_lx(chosen.altitude_deg))
    digits = max(0, 1 - math.floor(math.log10(lux)))
    return f"{words}: about {round(lux, 1 - math.floor(math.log10(lux))):,.{digits}f} lx on level ground under a clear sky; real skies differ by a factor of several."


def dark_picture(chosen: DarkThreshold | None) -> str:
    """The picture as SVG; without a threshold horizon and twilights alone."""
    low, top = _LOW_DEG, _TOP_DEG
    if chosen is not None:
        low, top = min(low, chosen.altitude_deg - 1.5), max(top, chosen.altitude_deg + 2.0)
    scale = min(_DEG_PX, 420.0 / (top - low))
    height = (top - low) * scale + 2 * _EDGE
    far = _WIDTH - _RIGHT

    def y(deg: float) -> float:
        return round(_EDGE + (top - deg) * scale, 1)

    parts = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height:.0f}" width="{_WIDTH}" height="{height:.0f}" '
             'font-family="sans-serif" font-size="13">',
             f'<rect width="{_WIDTH}" height="{height:.0f}" fill="#fffdf9"/>']
    above = top
    for name, lower, colour, light in _BANDS:
        lower = max(low, lower) if name != "night" else low
        parts.append(f'<rect x="{_LEFT}" y="{y(above)}" width="{far - _LEFT}" height="{y(lower) - y(above):.1f}" fill="{colour}"/>')
        if y(lower) - y(above) >= 16:
            middle = (y(above) + y(lower)) / 2
            if chosen is not None and abs(y(chosen.altitude_deg) - middle) < 12:  # not under the line
                middle = y(above) + 10 if y(lower) - y(above) >= 40 else middle
            parts.append(f'<text x="{_LEFT + 10}" y="{middle + 4.5:.1f}" fill="{"#ffffff" if light else "#121a3a"}">{name}</text>')
        if name != "night":
            parts.append(f'<text x="{_LEFT - 8}" y="{y(lower) + 4.5:.1f}" text-anchor="end" fill="#121a3a">{_deg(lower)}</text>')
        above = lower
    crowded = chosen is not None and abs(chosen.altitude_deg) * scale <= 18
    parts.append(f'<path d="M{_LEFT - 4} {y(0)}H{far}" stroke="#121a3a" stroke-width="1.5" stroke-dasharray="6 3"/>'
                 f'<text x="{far + 8}" y="{y(0) - 12 if crowded else y(0) + 4.5}" fill="#121a3a">flat horizon</text>')
    if chosen is not None:
        at, red = y(chosen.altitude_deg), "#8b1f1f"
        parts.append(f'<path d="M{_LEFT} {at}H{far}" stroke="{red}" stroke-width="2.5"/>'
                     f'<circle cx="{(_LEFT + 2 * far) / 3:.0f}" cy="{at}" r="9" fill="#ffd34d" stroke="{red}" stroke-width="2"/>'
                     f'<text x="{far + 8}" y="{at + 4.5}" fill="{red}" font-weight="bold">counts as dark</text>'
                     f'<text x="{far + 8}" y="{at + 20.5}" fill="{red}">{escape(_deg(chosen.altitude_deg))}</text>')
    return "".join(parts) + "</svg>"


def _deg(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".").replace("-", "\u2212") + "\u00b0"

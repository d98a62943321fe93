"""The sealed page around the map: folium's page with everything inside it and nothing from elsewhere.

Three things that folium and branca do are undone here, each for a reason:

* their default scripts and styles come from other people's servers: `SealedMap` has none, and its own are set into the
  page word for word (a plain branca `Element` would read Leaflet as a template);
* their element names are random: here they are fixed, so that the same answers give the same bytes;
* their pop-ups and tooltips put names into the page as code: here every text of a user travels as JSON and reaches the
  page through ``textContent`` only.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from pathlib import Path

import folium
from branca.element import Element, Figure, MacroElement
from folium.template import Template

HERE = Path(__file__).parent
LEAFLET = HERE / "vendor" / "leaflet"
WEB = HERE / "web"

#: In the order in which they need each other.
SCRIPTS = ("unpack.js", "words.js", "almanac.js", "drifts.js", "trial.js", "scheme.js", "signs.js", "pixels.js", "canvas.js", "sites.js",
           "views.js", "outlines.js", "groups.js", "curve.js", "grid.js", "labels.js", "legend.js", "whatif.js", "night.js", "moment.js",
           "grouplegend.js", "zones.js", "panel.js", "place.js", "cabinets.js", "find.js", "link.js", "paper.js", "page.js")
STYLES = ("page.css", "parts.css", "groups.css", "try.css", "phone.css", "dark.css", "print.css")

#: Added to a page with programmes; no other page carries them.
PROGRAMME_SCRIPTS = ("yearpicture.js", "programmetables.js", "programmes.js")
PROGRAMME_STYLES = ("programmes.css",)

#: With its quotes: neither JSON (\\") nor the escaped title (&quot;) can hold these characters in this order.
_SEAL_HERE = 'content="policy"'


class Verbatim(Element):
    """A piece of the page that is set in word for word, never read as a template."""

    def __init__(self, text: str):
        super().__init__()
        self.text = text

    def render(self, **kwargs) -> str:
        return self.text


class SealedFigure(Figure):
    """The page: language stated, script inside the body."""

    _template = Template((WEB / "figure.html").read_text(encoding="utf-8"))


class SealedMap(folium.Map):
    """folium's map with nothing from elsewhere: no tiles, no default scripts, own page around it.

    Parameters
    ----------
    title : str
        The page's title: untrusted text.
    bounds : list of float
        south, west, north, east [degree] of the first view.
    programmes : bool
        Whether the page shows switching programmes.
    """

    # New lists of this class: folium's own are shared by every map of the process and must not be touched.
    default_js: list = []
    default_css: list = []
    _template = Template((WEB / "page.html").read_text(encoding="utf-8"))

    def __init__(self, *, title: str, bounds: list[float], programmes: bool = False):
        south, west, north, east = bounds
        super().__init__(location=[(south + north) / 2, (west + east) / 2], tiles=None, zoom_start=8, zoom_control="topright",
                         control_scale=True, attribution_control=False, zoom_snap=0.25, zoom_delta=1, min_zoom=2,
                         wheel_px_per_zoom_level=90)
        self.options["maxZoom"] = 19  # folium hands max_zoom to tiles only, and there are none
        self._name, self._id = "map", "geozone"
        figure = SealedFigure(title=html.escape(title))
        self._parent = None
        figure.add_child(self, name="map")
        head = figure.header
        head.add_child(Verbatim(f'<meta http-equiv="Content-Security-Policy" {_SEAL_HERE}>'), name="seal")
        head.add_child(Verbatim('<meta name="viewport" content="width=device-width, initial-scale=1">'), name="viewport")
        head.add_child(Verbatim('<link rel="icon" href="data:,">'), name="icon")
        head.add_child(Verbatim(f"<style>{styles(PROGRAMME_STYLES if programmes else ())}</style>"), name="styles")
        head.add_child(Verbatim(f"<script>{(LEAFLET / 'leaflet.js').read_text(encoding='utf-8')}</script>"), name="leaflet")
        head.add_child(Verbatim(f"<script>{scripts(PROGRAMME_SCRIPTS if programmes else ())}</script>"), name="scripts")

    def page(self) -> str:
        """The whole page, sealed."""
        return sealed(self.get_root().render())


class PageData(MacroElement):
    """The data of the page: JSON in a block that no browser runs."""

    def __init__(self, data: dict):
        super().__init__()
        self._name, self._id = "data", "geozone"
        self.block = f'<script type="application/json" id="geozone-data">{as_json(data)}</script>'

    def render(self, **kwargs) -> None:
        self.get_root().html.add_child(Verbatim(self.block), name="data")


class PagePart(MacroElement):
    """One drawing part of the page, made by a function of ``web/*.js`` of the same name: ``geozone.NAME(map, page)``."""

    _template = Template("{% macro script(this, kwargs) %}"
                         "geozone.{{ this._id }}({{ this._parent.get_name() }}, page);{% endmacro %}")

    def __init__(self, function: str):
        super().__init__()
        self._name, self._id = "part", function


class CanvasSites(PagePart):
    """Every site, drawn on one canvas from columns of integers."""

    def __init__(self):
        super().__init__("sites")


def as_json(data: dict) -> str:
    """JSON that can stand inside a page: no ``<`` that could end its block, no half characters, no NaN."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    text = text.encode("utf-8", errors="replace").decode("utf-8")
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def styles(more: tuple[str, ...] = ()) -> str:
    """All style sheets, and more by name; the images that Leaflet's names are set in as data."""
    def image(match: re.Match) -> str:
        data = base64.b64encode((LEAFLET / match[1]).read_bytes()).decode("ascii")
        return f"url(data:image/png;base64,{data})"

    leaflet = re.sub(r"url\((images/[\w.-]+)\)", image, (LEAFLET / "leaflet.css").read_text(encoding="utf-8"))
    return "\n".join([leaflet, *((WEB / name).read_text(encoding="utf-8") for name in (*STYLES, *more))])


def scripts(more: tuple[str, ...] = ()) -> str:
    """geozone's own scripts, and more by name, one after the other; lines that are only remarks are for those who read the files."""
    texts = ((WEB / name).read_text(encoding="utf-8") for name in (*SCRIPTS, *more))
    return "\n".join(["var geozone = {};", *(re.sub(r"^ *//.*\n", "", text, flags=re.MULTILINE) for text in texts)])


def sealed(page: str) -> str:
    """The page with a content security policy that lets exactly its own scripts and styles run, and nothing be fetched.

    Raises
    ------
    ValueError
        If the place for the policy is not there exactly once: then something else wrote into the page's head.
    """
    # Line ends as the browser will see them: the sums are over the text after the HTML parser has read it.
    page = page.replace("\r\n", "\n").replace("\r", "\n")
    if page.count(_SEAL_HERE) != 1:
        raise ValueError("the page has no single place for its content security policy")
    policy = "; ".join(["default-src 'none'", f"script-src {_sums(page, 'script')}", f"style-src {_sums(page, 'style')}",
                        "img-src data:", "base-uri 'none'", "form-action 'none'"])
    return page.replace(_SEAL_HERE, f'content="{policy}"')


def _sums(page: str, tag: str) -> str:
    """The quoted sha256 sums of the page's inline blocks of one kind; data blocks are not code and have none."""
    blocks = re.findall(rf"<{tag}>(.*?)</{tag}>", page, flags=re.DOTALL)
    sums = [base64.b64encode(hashlib.sha256(block.encode("utf-8")).digest()).decode("ascii") for block in blocks]
    return " ".join(dict.fromkeys(f"'sha256-{one}'" for one in sums)) or "'none'"

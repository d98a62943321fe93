"""The page on paper: on A4 and A3, across and upright, as Chromium prints it; the sheets are read back with PDFium."""

import runpy
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from scipy import ndimage

EXAMPLES = runpy.run_path(str(Path(__file__).parent / "example_answers.py"))
# ISO 216: A5 is 148 x 210, A4 is 210 x 297 mm, A3 297 x 420 mm; in points of 1/72 inch.
SIZES = {"A5": (419.5, 595.3), "A4": (595.3, 841.9), "A3": (841.9, 1190.6)}
PAPERS = [(paper, across) for paper in ("A4", "A3") for across in (True, False)]


@pytest.fixture(scope="module")
def page(open_for_module, full_answers):
    """Dark, so that it shows whether paper is light."""
    return open_for_module("full", full_answers, color_scheme="dark")


def printed(page, paper, across):
    """Text and picture (72 dots to the inch) of each sheet."""
    document = pypdfium2.PdfDocument(page.pdf(format=paper, landscape=across, print_background=True, prefer_css_page_size=True))
    sheets = []
    for sheet in document:
        wanted = SIZES[paper][::-1] if across else SIZES[paper]
        assert np.abs(np.subtract(sheet.get_size(), wanted)).max() < 2, (sheet.get_size(), wanted)
        text = " ".join(sheet.get_textpage().get_text_bounded().split())
        sheets.append((text, np.asarray(sheet.render(scale=1).to_pil().convert("RGB")).astype(int)))
    return sheets


def used(picture):
    """How much of the width and the height the ink spans, without the number of the sheet."""
    ink = (picture.sum(axis=-1) < 600)[: int(picture.shape[0] * 0.955)]
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    return (columns[-1] - columns[0]) / picture.shape[1], (rows[-1] - rows[0]) / picture.shape[0]


@pytest.mark.parametrize("paper, across", PAPERS)
def test_the_sheet_is_filled_numbered_and_light(page, paper, across):
    sheets = printed(page, paper, across)
    assert 2 <= len(sheets) <= 6
    for k, (text, picture) in enumerate(sheets, start=1):
        assert f"Sheet {k} of {len(sheets)}" in text
        assert np.median(picture) == 255, "paper is light, also for a reader of dark screens"
    wide, high = used(sheets[0][1])
    assert wide > 0.88 and high > 0.8, "the paper that the printer has is used"
    first = sheets[0][0]
    for words in ("settings serve all", "a site, in the hue and shape of its group", "a proof site", "Outlines of the groups",
                  "Legal-zone boundary", "Isolate first", "What to key in"):
        assert words in first, words
    everything = " ".join(text for text, _ in sheets)
    for words in ("Why not fewer", "One setting fewer, one more", "What the results rest on", "Programmes"):
        assert words in everything, words
    assert page.evaluate("geozone.scheme") == "dark" and page.locator(".paper-key, .still").count() == 0
    assert page.locator(".folium-map canvas").first.is_visible()


@pytest.mark.parametrize("paper, across", [("A4", True), ("A3", False), ("A5", False)])
def test_the_other_view_has_its_own_key(page, paper, across):
    page.check("input[value=shared]")
    sheets = printed(page, paper, across)
    page.check("input[value=groups]")
    first = sheets[0][0]
    assert used(sheets[0][1])[0] > 0.8
    for words in ("within tolerance", "beyond tolerance", "Tolerance line", "Position keyed in the shared setting"):
        assert words in first, words
    assert "Outlines of the groups" not in first and "Lines of equal dusk" not in first, "only what the map shows"


@pytest.mark.parametrize("paper, across", [("A4", True), ("A4", False)])
def test_printed_signs_stand_where_the_outlines_do(open_page, full_answers, paper, across):
    """A red mark on the canvas of the sites round a blue one of the drawn outlines, at the same place of the map."""
    page = open_page("full", full_answers)
    page.evaluate("""() => { const spots = [[100, 120], [560, 120], [100, 440], [560, 440]], draw = page.siteLayer.paint; let made = false;
        page.siteLayer.paint = function (ctx, bounds) { draw.call(this, ctx, bounds); if (!geozone.printing) return;
          ctx.fillStyle = "#ff0000"; for (const [x, y] of spots) { const p = map_geozone.containerPointToLayerPoint([x, y]); ctx.fillRect(p.x - 11, p.y - 11, 22, 22); } };
        window.addEventListener("beforeprint", () => { for (const spot of spots) L.circleMarker(map_geozone.containerPointToLatLng(spot), {radius: 5, weight: 0,
          fillColor: "#0000ff", fillOpacity: 1, pane: geozone.pane(map_geozone, "setting"), renderer: geozone.settingRenderer}).addTo(map_geozone); }); }""")
    _, picture = printed(page, paper, across)[0]
    red, green, blue = np.moveaxis(picture, -1, 0)
    centres = {}
    for name, of in (("red", (red > 180) & (green < 90)), ("blue", (blue > 180) & (green < 90))):
        marks, n = ndimage.label(of if name == "blue" else ndimage.binary_fill_holes(of))
        big = [k for k in range(1, n + 1) if (marks == k).sum() >= (30 if name == "blue" else 120)]
        centres[name] = np.array([ndimage.center_of_mass(marks == k) for k in big])
    assert len(centres["blue"]) == 4
    # A dot is 0.35 mm; without the still the canvas came out 1.5 to 5 per cent too small, 7 to 20 dots at the far side.
    for spot in centres["blue"]:
        assert np.hypot(*(centres["red"] - spot).T).min() < 1.5, (spot, centres["red"])


def test_many_groups_on_upright_paper(open_page):
    """26 groups run over several sheets; nothing makes Chromium shrink the whole of them."""
    many = EXAMPLES["with_invented_groups"](EXAMPLES["example_answers"](620, 60), 26, lower_bound=24, n_unserved=5)
    sheets = printed(open_page("many paper", many), "A4", False)
    assert used(sheets[0][1])[0] > 0.88 and 2 <= len(sheets) <= 6
    everything = " ".join(text for text, _ in sheets)
    for row in many.groups.settings.itertuples():
        assert f"{row.worst_dark_site}, 21 June" in everything, row.group

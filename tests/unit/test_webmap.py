"""The page as bytes: sealed, the same every time, and nobody's names in its code."""

import base64
import hashlib
import json
import re
import runpy
from pathlib import Path

import folium
import numpy as np
import pandas as pd
import pytest

from geozone.screens import mappage
from geozone.screens.webmap import draw_map, write_map

example_answers = runpy.run_path(str(Path(__file__).parents[1] / "browser" / "example_answers.py"))["example_answers"]

HOSTILE = ["${alert(1)}", "`x`", "</script><script>alert(1)</script>", "<img src=x onerror=alert(1)>", "C:\\1", "{{ 7*7 }}",
           "{% raw %}", "<!--<script>", 'content="policy"', "\u2028\u2029", "a\x00b", "\ud800"]


def hostile_answers():
    n = len(HOSTILE)
    sites = pd.DataFrame({"site_id": [f"{text}#{k}" for k, text in enumerate(HOSTILE)], "name": HOSTILE,
                          "lat_deg": -35.2 + np.arange(n) * 0.01, "lon_deg": 140.3, "load_w": np.nan})
    answers = example_answers(sites=sites, title=HOSTILE[2] + HOSTILE[0] + HOSTILE[5] + HOSTILE[8] + "</title>",
                              notes=tuple(HOSTILE))
    answers.areas["area"] = [f"{HOSTILE[k]}{k}" for k in range(len(answers.areas))]
    answers.drift_lines["label"] = HOSTILE[2]
    return answers


@pytest.fixture(scope="module")
def page():
    return draw_map(example_answers(60, 6))


def blocks(page, tag):
    return re.findall(rf"<{tag}>(.*?)</{tag}>", page, flags=re.DOTALL)


def test_same_answers_same_bytes(page):
    assert draw_map(example_answers(60, 6)) == page


def test_policy_lets_run_exactly_what_is_there(page):
    policy = re.search(r'<meta http-equiv="Content-Security-Policy" content="([^"]*)">', page)[1]
    rules = {rule.split()[0]: rule.split()[1:] for rule in policy.split("; ")}
    assert rules["default-src"] == ["'none'"] and rules["img-src"] == ["data:"]
    for tag in ("script", "style"):
        sums = {"'sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() + "'" for text in blocks(page, tag)}
        assert set(rules[f"{tag}-src"]) == sums and sums
    assert page.index("Content-Security-Policy") < page.index("<style>") < page.index("<script>")


def test_nothing_from_elsewhere(page):
    code = page.replace((mappage.LEAFLET / "leaflet.js").read_text(encoding="utf-8"), "")
    assert not re.search(r"""(src|href)\s*=\s*["']?(?!data:)[\w/.]""", code)
    assert "@import" not in code and not re.search(r"url\((?!data:|#)", code)
    assert " style=" not in re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL)


def test_leaflet_is_inside_word_for_word(page):
    assert (mappage.LEAFLET / "leaflet.js").read_text(encoding="utf-8") in page


def test_foliums_shared_lists_are_untouched(page):
    assert folium.Map.default_js and folium.Map.default_css
    assert mappage.SealedMap.default_js == [] and mappage.SealedMap.default_css == []
    assert any("leaflet" in url for _, url in folium.Map.default_js)


def test_names_are_only_in_the_data_block():
    page = draw_map(hostile_answers())
    start = page.index('<script type="application/json"')
    end = page.index("</script>", start)
    data = page[page.index(">", start) + 1:end]
    rest = page[:start] + page[end:]
    assert "<" not in data
    for text in HOSTILE[:2] + HOSTILE[3:5]:
        assert text not in rest.replace(re.search("<title>.*?</title>", page, re.DOTALL)[0], "")
    read = json.loads(data)
    expected = [text.encode("utf-8", "replace").decode() for text in HOSTILE]
    assert sorted(read["sites"]["name"]) == sorted(expected)
    assert page.count("<script") == 4 and page.count("</script>") == page.count("<script") + blocks_inside(page)


def blocks_inside(page):
    """Closing tags that stand inside our own scripts as text: none is allowed."""
    return sum(text.count("</script") for text in blocks(page, "script"))


def test_title_is_escaped():
    page = draw_map(hostile_answers())
    title = re.search("<title>(.*?)</title>", page, re.DOTALL)[1]
    assert "<" not in title and "{{ 7*7 }}" in title


def test_json_refuses_what_browsers_cannot_read():
    with pytest.raises(ValueError):
        mappage.as_json({"x": float("nan")})


def test_written_file_is_utf8(tmp_path, page):
    write_map(example_answers(60, 6), tmp_path / "map.html")
    assert (tmp_path / "map.html").read_bytes() == page.encode("utf-8")

"""The typesetter in processes of its own: what it is given and gives back, and what is said when it cannot."""

import io
import json
import sys

import pikepdf
import pytest

from geozone.errors import OutputError
from geozone.numbers.cores import in_turn
from geozone.paper import apart
from geozone.paper.fonts import font_folder
from geozone.paper.typesetting import cleaned, data_text, typeset

FOOT = {"title": "A", "author": "B", "language": "en", "dated": [2027, 1, 1], "cautions": ["c"], "remarks": [], "size": "A4", "pages": 3}


def test_a_document_and_the_same_again():
    pdf = typeset("cardfoot.typ", FOOT, tagged=False)
    with pikepdf.open(io.BytesIO(pdf)) as document:
        assert len(document.pages) == 4
    assert typeset("cardfoot.typ", FOOT, tagged=False) == pdf


def test_what_cannot_be_set_is_said_in_the_typesetters_words():
    with pytest.raises(OutputError, match="cardfoot.typ.*pages"):
        typeset("cardfoot.typ", {key: value for key, value in FOOT.items() if key != "pages"})


def test_a_process_that_cannot_be_started_or_dies(monkeypatch, tmp_path):
    monkeypatch.setattr(sys, "executable", str(tmp_path / "none"))
    with pytest.raises(OutputError, match="cannot be started"):
        apart.set_apart("cardfoot.typ", json.dumps(FOOT), str(font_folder()), {"format": "pdf"})
    dying = tmp_path / "dying"
    dying.write_text("#!/bin/sh\nexit 9\n")
    dying.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(dying))
    with pytest.raises(OutputError, match="code 9"):
        apart.set_apart("cardfoot.typ", json.dumps(FOOT), str(font_folder()), {"format": "pdf"})


@pytest.mark.parametrize("text", ["plain", "5° −3 … “a”", 'a "b" \\ c / d', "line\nbreak", "tab\there", "\x00nul", "\x7f", "\u202eright to left", "\ud800half",
                                  "no letter \U0001f4a1", "\u2028"])
def test_data_are_cleaned_whatever_they_hold(text):
    """The short way over the whole of the data gives what the long one over each text gives."""
    data = {"a": [text, {"svg": "<svg>\n</svg>", "n": 1}]}
    assert json.loads(data_text(data)) == json.loads(json.dumps(cleaned(data)))
    assert json.loads(data_text(data))["a"][1]["svg"] == "<svg>\n</svg>"


def test_pieces_come_in_their_order_and_a_failure_ends_all():
    asked = []

    def pieces():
        for i in range(50):
            asked.append(i)
            yield i

    assert list(in_turn(lambda i: i * i, pieces(), 2)) == [i * i for i in range(50)]
    asked.clear()
    with pytest.raises(ZeroDivisionError):
        list(in_turn(lambda i: 1 // (4 - i), pieces(), 2))
    assert len(asked) < 10

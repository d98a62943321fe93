"""Messages show what stands in other people's files; a terminal must show it too, not obey it."""

import unicodedata

import pytest

from geozone.errors import InputError, visible

ORDERS = {"escape sequence": "\x1b[2J\x1b]0;title\x07", "8-bit escape": "\x9b2J", "backspace": "ok\x08\x08bad", "return": "good\rbad",
          "line": "a\nb", "right to left": "\u202egpj.exe", "isolate": "\u2067x\u2069", "mark": "\u200f", "line separator": "\u2028",
          "half a character": "\ud83d", "zero": "\0", "delete": "\x7f"}


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("part", ["what", "where", "value", "rule", "next_step"])
def test_no_part_of_a_message_holds_what_a_terminal_obeys(order, part):
    parts = {"what": "x", "where": "f", "value": "v", "rule": "r", "next_step": "n", part: f"a {ORDERS[order]} b"}
    text = str(InputError(parts.pop("what"), **parts))
    # Unicode's general categories: Cc controls, Cf formats (the direction marks among them), Cs halves, Zl and Zp separators
    obeyed = {c for line in text.split("\n  ") for c in line if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp")}
    assert not obeyed and "a " in text and " b" in text


def test_letters_of_every_script_stay():
    for text in ("Straße", "Łódź", "Ελλάδα", "مدينة", "नई दिल्ली", "東京", "👩‍🔧", "a\u00a0b"):
        assert visible(text) == text


def test_a_value_that_python_does_not_write():
    assert "thousands of digits" in str(InputError("x", value=10**6000))


def test_a_long_value_is_cut():
    assert len(str(InputError("x" * 10**6, value="y" * 10**6, where="z" * 10**6))) < 5000

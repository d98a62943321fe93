"""Words of our own stay in the code: no user has to learn "witness" or "drift" to read a page, a table or the README."""

import json
import re
import sqlite3
from pathlib import Path

import pandas as pd
import pytest
from python_calamine import CalamineWorkbook

from geozone.files.outputs import write_outputs
from geozone.paper.words import words_in
from geozone.schema.tables import TABLES
from geozone.schema.vocabulary import VOCABULARIES
from geozone.screens.console import report

ROOT = Path(__file__).parents[2]
COINED = re.compile(r"\b(?:witness\w*|drift\w*|verdicts?|foolish\w*|cure[sd]?|lattices?|lower bounds?|burn(?:s|t|ing|ed)?|excess|second opinions?"
                    r"|daylight[ -]saving)\b", re.IGNORECASE)
#: Every answer that a run can have: one setting only, groups, rules, programmes, a keypad that cannot show legal time, white
#: nights, nothing served.
RUNS = ("plain", "border", "rules", "programmes", "keypad", "white", "one", "unserved")
# Kinds of plans whose files differ in their words.
WRITTEN = ("rules", "keypad", "white", "unserved")
# All that a reader of the page can see or hear.
SEEN = """() => { document.querySelectorAll("details").forEach(one => { one.open = true; });
  const said = [document.body.innerText, document.title];
  for (const one of document.querySelectorAll("[title], [aria-label], [aria-valuetext], [placeholder], option"))
    said.push(one.title || "", one.getAttribute("aria-label") || "", one.getAttribute("aria-valuetext") || "", one.placeholder || "", one.tagName === "OPTION" ? one.textContent : "");
  return said.join("\\n"); }"""


def coined(text):
    """Coined words of a text. Names of columns, keys and files with an underscore are names, not words."""
    return COINED.findall(re.sub(r"\b\w+_\w+\b", "", text))


def prose(markdown):
    """A document without its code: names of files and columns are looked at, blocks of Python and addresses are not."""
    text = re.sub(r"```(?:toml|sh|bat)\n.*?```", "", markdown, flags=re.DOTALL)
    return re.sub(r"`geozone[^`]*`|\]\([^)]*\)", "", text)


def test_a_coined_word_would_be_seen():
    for text in ("A witness: part of the proof", "lines of equal drift", "Foolish     The lamps", "cures.toml", "burning hours", "5 min excess",
                 "Lower bound", "daylight-saving rule", "by the verdict", "a lattice"):
        assert coined(text), text
    assert not coined("worst_excess_min, excess_min, drift_lines: secure obscure suburb, a proof site")


def test_readme_and_changelog():
    readme = prose((ROOT / "README.md").read_text(encoding="utf-8"))
    assert len(readme) > 10_000 and not coined(readme)
    # Where the changelog says how something was called before, the old name stands in brackets as code.
    changes = re.sub(r"\((?:was )?`[^`]*`\)", "", prose((ROOT / "CHANGELOG.md").read_text(encoding="utf-8")))
    assert len(changes) > 5_000 and not coined(changes)


def test_columns_codes_and_the_words_on_paper():
    for table in TABLES.values():
        assert not coined(f"{table.sentence} " + " ".join(f"{one.heading} {one.sentence} {one.unit}" for one in table.columns)), table.name
    for vocabulary in VOCABULARIES.values():
        assert not coined(" ".join(f"{one.words} {one.sentence} {one.sign}" for one in vocabulary.terms)), vocabulary.name
    words = words_in("en").texts
    assert not coined(re.sub(r"{\w+}", "", json.dumps(list(words.values()))))


def test_job_files():
    """The comments of the jobs that `geozone new` and `geozone demo` write."""
    for path in (ROOT / "data").glob("*/job.toml"):
        assert not coined(re.sub(r'^[# ]*daylight_saving = .*', "", path.read_text(encoding="utf-8"), flags=re.MULTILINE)), path


@pytest.mark.parametrize("name", WRITTEN)
def test_console_and_files(real_run, tmp_path, name):
    answers = real_run(name)
    assert not coined(report(answers, tmp_path)), report(answers, tmp_path)
    folder = tmp_path / "out"
    write_outputs(answers, folder, "")
    book = CalamineWorkbook.from_path(folder / "sites.xlsx")
    for sheet in book.sheet_names:
        text = "\n".join(str(cell) for row in book.get_sheet_by_name(sheet).to_python() for cell in row)
        assert not coined(f"{sheet}\n{text}"), (sheet, coined(text))
    for path in folder.rglob("*"):
        assert not coined(path.name), path.name
    tables = {path.name: pd.read_csv(path, encoding="utf-8-sig", dtype=str, keep_default_na=False) for path in folder.glob("*.csv")}
    # The code of a line that is neither the tolerance nor dusk is the one that GIS files have always had; its words are others.
    for file, table in tables.items():
        text = "\n".join([*table.columns, *table.astype(str).stack()]).replace('"drift"', "")
        assert not coined(text), (file, coined(text))
    for path in folder.glob("*.toml"):
        assert not coined(path.read_text(encoding="utf-8")), path.name
    with sqlite3.connect(folder / "geozone.gpkg") as layers:
        for style, title in layers.execute("SELECT styleQML, description FROM layer_styles"):
            assert not coined(" ".join([title or "", *re.findall(r'label="([^"]*)"', style)])), title


@pytest.mark.parametrize("name", RUNS)
def test_the_page(open_page, real_run, name):
    answers = real_run(name)
    page = open_page(name, answers)
    for view in (["groups", "shared"] if answers.groups else ["shared"]):
        page.evaluate("view => geozone.showView(map_geozone, page, view)", view)
        seen = page.evaluate(SEEN)
        assert len(seen) > 1000 and not coined(seen), coined(seen)
        for row in range(0, len(answers.sites), 6):
            text = page.evaluate("row => { geozone.choose(row); return document.getElementById('panel').innerText; }", row)
            assert not coined(text), (row, text)

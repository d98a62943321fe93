"""Columns and words are declared once, and nothing leaves the program undeclared."""

import pandas as pd
import pytest

from geozone.errors import UndeclaredError
from geozone.places.sites import ADDED, EARLIER, RESERVED
from geozone.schema.column import Column, Table, step_decimals
from geozone.schema.site_columns import SITES
from geozone.schema.tables import TABLES, check_table, glossary, table_named
from geozone.schema.vocabulary import EDGE, VERDICT, VOCABULARIES, Term, Vocabulary
from geozone.sharing.drift import EDGES
from geozone.switching import foolish, sitedrift


def test_every_column_is_explained_in_one_sentence_without_coined_words():
    for table in TABLES.values():
        for column in table.columns:
            words = f"{column.heading} {column.sentence}".lower()
            assert column.sentence[0].isupper() and len(column.sentence) < 160, column
            assert not set(words.replace(",", " ").split()) & {"witness", "drift", "verdict", "foolish", "cure", "lattice", "excess", "burning"}, column
            if column.vocabulary:
                assert column.vocabulary in VOCABULARIES


def test_a_columns_unit_is_that_of_its_name():
    """Names end in their unit; the record says the same."""
    units = {"_deg": "degrees", "_min": "min", "_h": "h", "_w": "W", "_m": "m", "kwh": "kWh", "_weeks": "weeks"}
    for table in TABLES.values():
        for column in table.columns:
            for ending, unit in units.items():
                if column.name.endswith(ending):
                    assert column.unit == unit, (table.name, column)
                    break


@pytest.mark.parametrize("wrong", [
    dict(kind="real"), dict(kind="number"), dict(decimals=2), dict(kind="word"), dict(vocabulary="edge"), dict(sentence="No stop"),
    dict(heading="")])
def test_a_record_that_contradicts_itself_is_refused(wrong):
    with pytest.raises(UndeclaredError):
        Column(**{**dict(name="a", heading="A", sentence="It is a.", kind="text"), **wrong})


def test_one_column_twice_or_one_code_twice_is_refused():
    column = Column("a", "A", "It is a.", "text")
    with pytest.raises(UndeclaredError):
        Table("t", "A row.", (column, column))
    with pytest.raises(UndeclaredError):
        Vocabulary("v", (Term("a", "a", "It is."), Term("a", "a", "It is.")))


def test_what_the_arithmetic_can_say_has_words():
    """Edges of the drift and of programmes, verdicts, kinds of faulty nights: no code without its words."""
    assert set(EDGES) | {"clock"} == set(EDGE.codes)
    assert {sitedrift.WITHIN, sitedrift.BEYOND, sitedrift.OTHER_CLOCK} == set(VERDICT.codes)
    assert set(foolish.KINDS) == set(VOCABULARIES["faulty night"].codes)


def test_what_a_run_adds_to_the_site_table_is_declared():
    """Else the columns' sheet would call it one of the user's own list."""
    inside = {"solar_lon_deg"}  # leaves no run
    assert set(ADDED) - set(EARLIER) - inside <= set(SITES.names) and set(RESERVED) <= set(SITES.names)
    assert set(EARLIER).isdisjoint(SITES.names)


def test_an_unknown_word_or_column_raises():
    with pytest.raises(UndeclaredError, match="'noon' is no edge; declared: dusk"):
        EDGE["noon"]
    with pytest.raises(UndeclaredError):
        table_named("nowhere")
    row = {"site_id": ["a"], "worst_dark_edge": ["clock"], "result": ["within"]}
    check_table("sites", pd.DataFrame(row))
    for wrong in ({"worst_dark_edge": ["noon"]}, {"result": [""]}, {"surprise": [1]}):
        with pytest.raises(UndeclaredError):
            check_table("sites", pd.DataFrame({**row, **wrong}))
    check_table("sites", pd.DataFrame({**row, "surprise": [1], "worst_excess_edge": [""]}), own=["surprise"])


def test_declared_columns_come_first_and_the_lists_own_after_them():
    assert TABLES["rejects"].ordered(["x", "reason", "file", "a"]) == ["file", "reason", "x", "a"]


def test_the_glossary_names_codes_and_the_lists_own_columns():
    rows = glossary([("sites", ["result", "mine"])])
    assert '"other clock": The site keeps another legal clock' in rows[0]["meaning"]
    assert rows[1]["meaning"] == "A column of your own list, as it was read."


@pytest.mark.parametrize("step, places", [(0.1, 1), (1, 0), (0.5, 1), (0.25, 2), (0.001, 3), (1 / 60, 6)])
def test_decimals_of_a_step(step, places):
    assert step_decimals(step) == places

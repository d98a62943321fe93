"""The paper's sentences: in English the same as the tables say, in every language all of what they say."""

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geozone.grouping.grouprules import GroupRules
from geozone.numbers import clock
from geozone.paper.phrases import (
    clock_words,
    event_words,
    headline_words,
    keyed_words,
    line_words,
    programme_words,
    threshold_words,
    wrong_words,
)
from geozone.paper.words import languages, words_in
from geozone.trade.basis import DarkThreshold
from geozone.trade.keyedevents import events_to_key
from geozone.trade.keypad import Keypad
from geozone.trade.programme import Event, Programme, Season, weekdays_text
from geozone.trade.setting import Setting, Tolerance
from geozone.trade.switchclock import SAVING_RULES, ClockKeypad, best_keying

DAYS = st.sets(st.integers(0, 6), min_size=1).map(frozenset)
SEASONS = st.none() | st.builds(Season, *[st.integers(1, 12).flatmap(lambda m: st.integers(1, 28).map(lambda d: 100 * m + d))] * 2)
EVENTS = st.builds(Event, st.sampled_from(["on", "off"]), st.sampled_from(["dusk", "dawn"]), st.integers(-90, 90), DAYS, SEASONS) | \
    st.builds(Event, st.sampled_from(["on", "off"]), st.integers(0, 1440), st.just(0), DAYS, SEASONS)


def plain(text: str) -> str:
    return text.replace("–", "-").replace("\u2212", "-").replace("Sept", "Sep")


@given(EVENTS)
def test_english_says_of_an_event_what_the_tables_say(event):
    assert plain(event_words(event, words_in("en"))) == event.text()


@given(EVENTS, st.integers(-40, 40), st.integers(-40, 40), st.sampled_from([20, 99]))
def test_english_says_of_what_is_keyed_what_the_tables_say(event, dusk, dawn, limit):
    programme, setting = Programme("p", (event,)), Setting(-35.1, 141.0, "Australia/Adelaide", dusk, dawn)
    said = "; ".join(one.text() for one in events_to_key(programme, setting, limit))
    assert plain(keyed_words(programme, setting, Keypad(0.1, limit), words_in("en"))) == said


@pytest.mark.parametrize("language", languages())
def test_every_language_has_every_figure_of_an_event(language):
    words = words_in(language)
    seen = set()
    for turn in ("on", "off"):
        for edge in ("dusk", "dawn"):
            for shift in (-17, 0, 17):
                said = event_words(Event(turn, edge, shift), words)
                assert ("17" in said) == bool(shift)
                seen.add(said)
        said = event_words(Event(turn, 1415, days=frozenset({4, 5}), season=Season(1001, 331)), words)
        # names of weekdays and months: Unicode CLDR, as Babel has them
        names = {"en": ("Fri, Sat", "1 Oct", "31 Mar"), "de": ("Fr, Sa", "1. Okt.", "31. März"), "fr": ("ven., sam.", "1 oct.", "31 mars"),
                 "es": ("vie, sáb", "1 oct", "31 mar")}[language]
        assert all(name in said for name in ("23:35", *names))
        seen.add(said)
    # on and off, dusk and dawn, before and after: no two read the same
    assert len(seen) == 14
    assert programme_words(Programme("p", (Event("on", "dusk"), Event("off", "dawn"))), words).count(";") == 1


def test_runs_of_weekdays_go_over_the_weeks_end():
    assert weekdays_text({6, 0, 1, 2, 3}) == "Sun-Thu" and weekdays_text({5, 6}) == "Sat, Sun" and weekdays_text({0, 1}) == "Mon, Tue"
    assert weekdays_text({0, 2, 4}) == "Mon, Wed, Fri" and weekdays_text({0, 1, 2, 4, 5, 6}) == "Fri-Wed"


@pytest.mark.parametrize("language", languages())
def test_a_keyed_clock_that_is_wrong_says_when_and_which_way(language):
    """A keypad without any summer-time rule is an hour off for half of the year, and it is said for how long and which way."""
    words = words_in(language)
    keying = best_keying(clock.offsets("Australia/Adelaide", 2027), 2027, ClockKeypad(savings=(SAVING_RULES["none"],)))
    said = wrong_words(keying, words)
    assert not keying.exact and said.count("60 min") == len(keying.wrong) > 0 and said in clock_words(keying, words)
    assert words("wrong_behind", first="x", last="y", n="60") != words("wrong_ahead", first="x", last="y", n="60")
    for span in keying.wrong:
        first, last = (words.date(date.fromisoformat(day), "medium") for day in (span.first, span.last))
        assert words("wrong_ahead" if span.fast_min > 0 else "wrong_behind", first=first, last=last, n="60") in said


def test_lines_carry_minutes_and_dusk_in_the_languages_form():
    tolerance = Tolerance(3, 6)
    drift = SimpleNamespace(kind="drift", factor=1.5)
    assert line_words(drift, tolerance, words_in("en")) == "4.5 min unlit / 9 min lit too long"
    assert line_words(drift, tolerance, words_in("de")).startswith("4,5 min")
    assert line_words(SimpleNamespace(kind="tolerance", factor=1.0), Tolerance(5, 5), words_in("en")) == "tolerance: 5 min"
    dusk = SimpleNamespace(kind="dusk", factor=np.nan, dusk="2027-12-22T20:36+10:30")
    assert line_words(dusk, tolerance, words_in("en")) == "20:36 on 22 Dec, UTC+10:30"
    assert line_words(dusk, tolerance, words_in("de")) == "20:36 am 22. Dez., UTC+10:30"


def answer(count, bound, served, left, rules=GroupRules()):
    plan = SimpleNamespace(count=count, lower_bound=bound, group_of_site=np.array(["A"] * served + [""] * left, dtype=object))
    return headline_words(SimpleNamespace(plan=plan, rules=rules), served + left, words_in("en"))


def test_the_answer_says_no_more_than_the_plan():
    assert answer(4, 4, 620, 0) == "4 settings serve all 620 sites. Fewer cannot."
    assert answer(4, 3, 620, 0) == "4 settings serve all 620 sites. At least 3 needed."
    assert answer(1, 1, 1, 0) == "One setting serves the one site."
    assert answer(1, 1, 9, 2) == "One setting serves 9 of 11 sites. 2 sites are in no group."
    assert answer(0, 0, 0, 3) == "No setting was found that serves any site (3)."
    ruled = answer(2, 2, 10, 1, GroupRules("cabinet", "district", False))
    assert ruled == ("2 settings serve 10 of 11 sites. Fewer cannot. Kept to: each “cabinet” stays together, no group leaves its “district”, "
                     "no offsets are keyed. 1 site is in no group.")


@pytest.mark.parametrize("told", [{"altitude_deg": -4.0}, {"altitude_deg": 1.25}, {"twilight": "sunset"}, {"twilight": "civil"},
                                  {"twilight": "nautical"}, {"illuminance_lx": 5}, {"illuminance_lx": 0.5}])
def test_the_dark_threshold_is_said_as_it_was_told(told):
    dark = DarkThreshold.of(**told)
    assert threshold_words(dark, words_in("en")) == dark.words
    said = {language: threshold_words(dark, words_in(language)) for language in languages()}
    assert len(set(said.values())) == len(said)
    degrees = dark.words.split("sun ")[1].split(" ")[0]
    assert all(degrees in text or degrees.replace(".", ",") in text for text in said.values())
    # one of a kind that the catalogue does not know is said by the sun
    assert threshold_words(replace(dark, told_by="new", told="x"), words_in("en")).startswith("sun ")

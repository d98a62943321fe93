"""Switching programmes on the map page, as plain data: events, hours, faulty nights with programme corrections, clocks, pictures."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from ..answers import Answers
from ..switching.foolish import KINDS, Finding
from ..switching.programmeanswers import ProgrammeAnswers
from .mapcolumns import MISSING, tenths
from .mapyears import page_years

#: A list on the page shows so many; faulty.csv and corrections.toml have them all.
MOST_FINDINGS, MOST_SPANS, MOST_SITES = 12, 6, 6

#: Nights with a pause of no more days than this between them are one stretch.
PAUSE_DAYS = 21

#: From so many hours a night on, light after dawn is light all day.
ALL_DAY_H = 8.0

SENTENCES = {
    "on after dawn": "The lamps stay on after dawn",
    "off before on": "The lamps stay on when they should be off",
    "on before off": "The lamps stay off when they should be on",
    "no dusk or dawn": "The sun brings no dusk or dawn, and the light is not what is meant,",
    "left out by the clock": "A switching falls into an hour that the clock leaves out",
    "twice on the clock": "A switching falls into an hour that the clock shows twice",
    "other": "The light is not what is meant",
}
AT_CLOCK_CHANGES = ("left out by the clock", "twice on the clock")

WAYS = {
    "own setting": "each site its own position, these programmes",
    "groups": "the groups of this plan, these programmes",
    "one shared setting": "the one shared setting, these programmes",
    "dusk to dawn": "each site its own position, dusk to dawn everywhere",
}


MORE_FOR_LESS = "More energy for less money is no mistake: it is used in hours with a lower price."


def page_programmes(answers: Answers) -> dict | None:
    """Everything that the page shows of a run's programmes; None if the run has none.

    Returns
    -------
    dict or None
        ``list`` (a row a programme), ``currency``, ``comparison``, ``saved``, ``without_load``, ``foolish``, ``more_foolish``,
        ``foolish_here``, ``foolish_sums``, ``key_events`` (what switches have to do, see `programme_site_columns`), ``keyed_at``, ``cures``, ``clocks``, ``timetable`` (None without one) and ``years`` (see `mapyears.page_years`). Every text in
        it is untrusted and is shown as text only; figures are texts, rounded as people read them.
    """
    found = answers.programmes
    if found is None:
        return None
    stories = foolish_stories(found)
    names = [one.name for one in found.programmes]
    return {
        "list": [programme_row(found, place) for place in range(len(names))],
        "currency": str(found.currency),
        **comparison_rows(found),
        "foolish": [story_row(story, found, answers.year, names) for story in stories[:MOST_FINDINGS]],
        "more_foolish": max(0, len(stories) - MOST_FINDINGS),
        "foolish_here": here_texts(found),
        "key_events": [text.split("; ") for text in key_texts(found)],
        "keyed_at": "at the one switch that commands it" if answers.clock == "master" else "here",
        "foolish_sums": foolish_sums(found, names),
        "cures": [cure_row(found.cures[name], place) for place, name in enumerate(names) if name in found.cures],
        "clocks": clock_rows(found.clocks),
        "timetable": timetable_facts(found.summary.get("timetable")),
        "years": pictures(found, names, answers.year, stories),
    }


def programme_row(found: ProgrammeAnswers, place: int) -> dict:
    """A programme in words and its figures over the year."""
    programme = found.programmes[place]
    hours = found.hours[(found.hours["level"] == "programme") & (found.hours["programme"] == programme.name)].iloc[0]
    priced, loaded = found.hours["cost"].sum() > 0, int(hours["sites_with_load"])
    return {
        "name": str(programme.name),
        "events": [event.text() for event in programme.events],
        "night_rule": programme.night_rule_text,
        "areas": [str(area) for area in programme.areas],
        "sites": int(hours["sites"]),
        "lit_h": tenth(hours["lit_h"]),
        "site_h": whole(hours["site_h"]),
        "loaded": loaded,
        "kwh": whole(hours["kwh"]) if loaded else "",
        "cost": whole(hours["cost"]) if loaded and priced else "",
        "dark_h": tenth(hours["dark_h"]),
        "excess_h": tenth(hours["excess_h"]),
    }


def comparison_rows(found: ProgrammeAnswers) -> dict:
    """Ways to set the switches, a row each, and what the programmes save against dusk to dawn everywhere."""
    table = found.comparison
    loaded, priced = bool(found.sites["kwh"].notna().any()), table["cost"].sum() > 0
    rows = [{"way": str(way), "words": WAYS.get(str(way), str(way)), "dark_h": tenth(row["dark_h"]),
             "excess_h": tenth(row["excess_h"]), "site_h": whole(row["site_h"]), "kwh": whole(row["kwh"]) if loaded else "",
             "cost": whole(row["cost"]) if loaded and priced else ""} for way, row in table.iterrows()]
    saved = None
    if {"own setting", "dusk to dawn"} <= set(table.index):
        less = table.loc["dusk to dawn"] - table.loc["own setting"]
        if less["site_h"] > 0.5:
            saved = {"site_h": whole(less["site_h"]), "share": f"{less['site_h'] / table.loc['dusk to dawn', 'site_h']:.0%}",
                     "kwh": whole(less["kwh"]) if loaded and less["kwh"] > 0.5 else "",
                     "cost": whole(less["cost"]) if loaded and priced and less["cost"] > 0.5 else "",
                     "cost_more": whole(-less["cost"]) if loaded and priced and less["cost"] < -0.5 else ""}
    return {"comparison": rows, "saved": saved, "dearer": dearer_hours(table) if loaded and priced else "", "without_load": int(found.sites["kwh"].isna().sum()) if loaded else 0}


def dearer_hours(table: pd.DataFrame) -> str:
    """Why more energy costs less in one row than in another; "" where it does not."""
    kwh, cost = table["kwh"].to_numpy(float), table["cost"].to_numpy(float)
    more, less = kwh[:, None] - kwh[None, :] > 0.5, cost[:, None] - cost[None, :] < -0.5
    return MORE_FOR_LESS if (more & less).any() else ""


def foolish_stories(found: ProgrammeAnswers) -> list[list[Finding]]:
    """Findings about one event and of one kind belong together, whatever the switch; those that cost most come first."""
    stories: dict[tuple, list[Finding]] = {}
    for finding in found.findings:
        stories.setdefault((finding.programme, finding.event, finding.kind), []).append(finding)
    return sorted(stories.values(), key=lambda story: -_site_hours(story))


def story_row(story: list[Finding], found: ProgrammeAnswers, year: int, names: list[str]) -> dict:
    """A foolishness in words: what, how often, where, when, and how many hours."""
    first = story[0]
    programme = found.programmes[names.index(first.programme)]
    ids = [site for finding in story for site in finding.switch.sites]
    dates = sorted({date for finding in story for date in finding.dates(year)})
    stretches = spans(dates)
    what, often = sentence(story), how_often(story)
    hours = max(finding.hours for finding in story)
    return {
        "programme": names.index(first.programme),
        "kind": first.kind,
        "sentence": f"{what}{often} at {counted(len(ids), 'site')}.",
        "event": programme.events[first.event].text() if first.event >= 0 else "",
        "why": KINDS[first.kind],
        "spans": [] if first.kind == "never happens" else stretches[:MOST_SPANS],
        "more_spans": 0 if first.kind == "never happens" else max(0, len(stretches) - MOST_SPANS),
        "hours": tenth(hours),
        "site_hours": tenth(_site_hours(story)),
        "at_stake": first.kind in AT_CLOCK_CHANGES,
        "several": len(story) > 1,
        "sites": len(ids),
        "site_ids": [str(site) for site in ids[:MOST_SITES]],
        "switches": [str(finding.switch.label) for finding in story],
    }


ALL_DAY = "The lamps stay on all day"


def foolish_sums(found: ProgrammeAnswers, names: list[str]) -> list[str]:
    """By programme the hours of all its foolish nights at all sites, "" where one finding, or none, says it already."""
    said = []
    for name in names:
        mine = [finding for finding in found.findings if finding.programme == name]
        kinds = {(finding.event, finding.kind) for finding in mine if finding.hours > 0}
        total = sum(finding.counted_hours * len(finding.switch.sites) for finding in mine)
        said.append(f"All together: {tenth(total)} hours a year at all sites; a night with several causes counts once."
                    if len(kinds) > 1 else "")
    return said


def sentence(story: list[Finding]) -> str:
    """What is foolish, without how often and where."""
    kind = story[0].kind
    if kind == "never happens":
        return "An event never comes in the year"
    hours, nights = sum(f.hours for f in story), sum(len(f.nights) for f in story)
    if kind == "on after dawn" and hours >= ALL_DAY_H * nights:
        return ALL_DAY
    return SENTENCES[kind]


def how_often(story: list[Finding]) -> str:
    """" on 84 nights", " on up to 84 nights" where switches differ."""
    if story[0].kind == "never happens":
        return ""
    counts = [len(finding.nights) for finding in story]
    word = "day" if story[0].kind in AT_CLOCK_CHANGES else "night"
    # Nights are counted everywhere; what burns all day does so after the night.
    where = "after" if sentence(story) == ALL_DAY else "on"
    return f" {where} {'up to ' if min(counts) != max(counts) else ''}{counted(max(counts), word)}"


def spans(dates: list[str]) -> list[list[str]]:
    """First and last of each stretch of ISO dates, which are in order."""
    days = np.array(dates, dtype="datetime64[D]")
    cuts = np.flatnonzero(np.diff(days).astype(int) > PAUSE_DAYS) + 1
    return [[str(part[0]), str(part[-1])] for part in np.split(days, cuts) if part.size]


def cure_row(cure, place: int) -> dict:
    """A cure in words, and its lines for the job file."""
    return {
        "programme": place,
        "changes": [str(change) for change in cure.changes],
        "verified": bool(cure.verified),
        "left": [str(text) for text in cure.left],
        "events": [event.text() for event in cure.programme.events],
        "before_h": tenth(cure.wrong_before_h),
        "after_h": tenth(cure.wrong_after_h),
        "price": price(cure),
        "sites": int(cure.sites),
        "clock_note": str(cure.clock_note),
        "toml": str(cure.toml),
    }


def price(cure) -> str:
    """What a cure costs in light, in one sentence."""
    if cure.dark_after_h * 60 < 0.05:
        return "No light that was first meant is lost."
    if cure.dark_after_h < 0.05:
        return "The price: less than 0.1 h a year of light that was first meant is lost."
    most = f"{np.ceil(cure.dark_after_min - 1e-9):,.0f} min in a night"
    if cure.sites == 1:
        return f"The price: {tenth(cure.dark_after_h)} h a year of light that was first meant are lost at its one site, at most {most}."
    one = f"at most {tenth(cure.dark_one_h)} h at one of them" if cure.dark_one_h >= 0.05 else "less than 0.1 h at each"
    return (f"The price: {tenth(cure.dark_after_h)} h a year of light that was first meant are lost at its {cure.sites:,} sites together, "
            f"{one} and at most {most}.")


def clock_rows(clocks: pd.DataFrame) -> list[dict]:
    """What is keyed for each clock rule; `exact` false where the keypad cannot keep the legal clock all year."""
    return [{"clock": str(row.clock), "sites": int(row.sites), "keyed": str(row.keyed), "exact": bool(row.exact),
             "wrong_weeks": tenth(row.wrong_weeks), "wrong": str(row.wrong), "dark_h": tenth(row.dark_h), "excess_h": tenth(row.excess_h)}
            for row in clocks.itertuples()]


def timetable_facts(summary: dict | None) -> dict | None:
    """How far the dated timetable is off at worst; None if there is none."""
    if not summary:
        return None
    return {"period": str(summary["period"]), "rounding_min": int(summary["rounding_min"]),
            "dark": tenth(summary["worst_dark_min"]), "excess": tenth(summary["worst_excess_min"]),
            "left_out": int(summary.get("sites_with_foolish_programmes", 0)), "not_kept": int(summary["periods_not_kept"])}


def pictures(found: ProgrammeAnswers, names: list[str], year: int, stories) -> dict:
    """The years at a glance, each with its group in words, its table's hours and whether it has foolish nights."""
    years = page_years(found.years, names, year)
    both = found.hours[found.hours["level"] == "programme and group"].set_index(["programme", "group"])["lit_h"]
    foolish = {(finding.programme, finding.switch.label) for story in stories for finding in story}
    keys = [(one.programme, one.group) for one in found.years]
    for key, picture in zip(keys, years["pictures"], strict=True):
        # One setting on two clocks has two pictures, and its table's mean is that of neither.
        own = key in both.index and keys.count(key) == 1
        picture |= {"said": group_words(key[1]), "lit_h": tenth(both[key]) if own else "", "foolish": key in foolish}
    return years


def programme_site_columns(sites: pd.DataFrame, found: ProgrammeAnswers) -> dict[str, np.ndarray]:
    """Each site's programme, what its switch has to do, burning hours and kilowatt-hours [tenths], and its worst foolish finding.

    Parameters
    ----------
    sites : DataFrame
        The sites in the order of the page, indexed as the run's table is.
    found : ProgrammeAnswers
    """
    mine = found.sites.loc[sites.index]
    place = {programme.name: k for k, programme in enumerate(found.programmes)}
    worst: dict[str, int] = {}
    said, keys = here_texts(found), {text: k for k, text in enumerate(key_texts(found))}
    for story in foolish_stories(found)[:MOST_FINDINGS]:
        for finding in story:
            for site in finding.switch.sites:
                worst.setdefault(str(site), said.index(here_text(story, finding)))
    return {
        "programme": mine["programme"].map(place).to_numpy(),
        "key_events": mine["key_events"].map(keys).to_numpy(),
        "lit": tenths(mine["lit_h"]),
        "kwh": tenths(mine["kwh"]),
        "foolish": np.array([worst.get(str(site), MISSING) for site in sites["site_id"]], dtype=np.int64),
    }


def group_words(label: str) -> str:
    """A setting's label in words."""
    label = str(label)
    return f"group {label}" if re.fullmatch(r"[A-Z]+", label) else "the shared setting" if label == "shared" else label


def here_text(story: list[Finding], finding: Finding) -> str:
    """What is foolish at one switch, and how often there."""
    return f"{sentence(story)}{how_often([finding])}."


def key_texts(found: ProgrammeAnswers) -> list[str]:
    """What switches have to do, each once: a site's column `key_events` points into it."""
    return sorted(set(found.sites["key_events"]))


def here_texts(found: ProgrammeAnswers) -> list[str]:
    """The different sentences of `here_text`, in order: a site's column `foolish` points into it."""
    return list(dict.fromkeys(here_text(story, finding) for story in foolish_stories(found)[:MOST_FINDINGS]
                              for finding in story))


def counted(n: int, word: str) -> str:
    """1 night, 1,200 nights."""
    return f"{n:,} {word}{'' if n == 1 else 's'}"


def whole(value: float) -> str:
    """A figure as a whole number; "" for NaN."""
    return f"{value:,.0f}" if np.isfinite(value) else ""


def tenth(value: float) -> str:
    """A figure to one decimal, rounded as the tables round; "" for NaN."""
    return f"{np.round(float(value), 1):,.1f}" if np.isfinite(value) else ""


def _site_hours(story: list[Finding]) -> float:
    return float(sum(finding.hours * len(finding.switch.sites) for finding in story))

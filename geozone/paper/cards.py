"""The cards for the crew: `cards.pdf`, a card a group."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from ..numbers.clock import offset_text
from ..trade.readings import Display
from ..trade.slips import CLASSES
from ..trade.switchclock import ClockKeypad
from .carddata import (
    FORTNIGHT, ROWS, CardOptions, GroupCard, change_days, clock_text, degrees_minutes, difference_text, digits_text, group_cards,
    joined_slips, reading_days)
from .driving import driving_order
from .sheetdata import position_text
from .typesetting import printable, typeset
from .words import Words, words_in

if TYPE_CHECKING:
    from ..answers import Answers

#: Sites listed on a card; crew.csv has all.
SITES_LISTED = 400


def cards_pdf(answers: "Answers", options: CardOptions, display: Display, clocks: ClockKeypad) -> bytes:
    """The cards as PDF/A-2b.

    Parameters
    ----------
    answers : Answers
    options : CardOptions
    display : Display
    clocks : ClockKeypad
        The clocks that the keypad offers.

    Returns
    -------
    bytes
        The same answers and options give the same bytes.
    """
    words = words_in(options.language)
    cards = group_cards(answers, options, display, clocks)
    first = date(answers.year, 1, 1) + timedelta(options.day_of(answers.year))
    data = {
        "title": printable(answers.title), "author": "geozone", "language": options.language, "size": options.size,
        "dated": [first.year, first.month, first.day],
        "versions": words("versions", geozone=answers.versions.get("geozone", ""), tz=answers.versions.get("tz database", "")),
        "words": _template_words(words), "cautions": [words(f"caution_{key}") for key in ("supply", "unlit", "levels", "horizon")],
        "cards": [card_page(card, answers, options, display, words) for card in cards],
    }
    return typeset("cards.typ", data)


def _template_words(words: Words) -> dict:
    keys = {"key": "card_key", "check": "card_check", "readings": "card_readings", "weekly": "readings_weekly", "mend": "mend",
            "list": "card_list", "year": "card_year", "unseen_head": "unseen_head", "changes": "readings_changes", "check_note": "check_note",
            "else_same": "else_same", "else_opposite": "else_opposite", "else_one": "else_one"}
    return {**{name: words(key) for name, key in keys.items()},
            "else_heads": [words(key) for key in ("else_dusk", "else_dawn", "else_slips", "else_next")],
            "list_heads": [words(key) for key in ("site", "name", "programme", "card_date", "card_name", "card_seen")]}


def card_page(card: GroupCard, answers: "Answers", options: CardOptions, display: Display, words: Words) -> dict:
    """One card as data."""
    year, first_day = answers.year, options.day_of(answers.year)
    mine = card_sites(card, answers)
    first = date(year, 1, 1) + timedelta(first_day)
    heads, columns = _columns(card, year, first_day, display, words)
    changes = change_days(card, year)
    days = len(next(iter(columns)))
    fortnight = range(first_day, min(first_day + FORTNIGHT, days))
    weekly = [day for day in range(first_day + FORTNIGHT, first_day + FORTNIGHT + days - FORTNIGHT, 7)]
    areas = sorted({str(area) for area in mine["area"] if str(area)})
    head = words("card", group=card.name) if card.name else words("settings")
    return {
        "name": card.name, "head": head + (f": {', '.join(card.programmes)}" if card.programmes else ""),
        "count": words.count(len(mine), "card_sites"), "where": ", ".join(areas[:6]) + (" …" if len(areas) > 6 else ""),
        "key": _to_key(card, answers, words), "checks": _checks(display, words),
        "keyed_clock": "" if card.keying.exact else words("readings_clock_keyed", when="; ".join(span.text() for span in card.keying.wrong)),
        "unknown": words("readings_unknown") if display.includes_offsets is None and len(columns) > 2 + (display.dawn is None) else "",
        "heads": heads, "fortnight_head": words("readings_fortnight", date=words.date(first, "medium")),
        "fortnight": [_row(day, columns, year, changes, display, words, "EEE d MMM") for day in fortnight],
        "weekly": [_row(day % days, columns, year, changes, display, words, "d MMM") for day in weekly],
        "starred": any(first_day <= day < first_day + FORTNIGHT or day in {d % days for d in weekly} for day in changes),
        **_something_else(card, display, words), "sites": _sites(mine), "programmes": _programmes(card, answers),
    }


def card_sites(card: GroupCard, answers: "Answers"):
    """The sites of a card in driving order."""
    sites = answers.sites
    if answers.groups is not None:
        sites = sites[sites["group"].astype(str) == card.name]
    if card.programmes:
        sites = sites[sites["programme"].astype(str).isin(card.programmes)]
    return sites.iloc[driving_order(sites["lat_deg"], sites["lon_deg"], sites["area"].astype(str))]


def _columns(card, year, first_day, display, words) -> tuple[list[str], list[np.ndarray]]:
    found = reading_days(card, year, first_day, display)
    names = {"dusk": "readings_dusk", "dawn": "readings_dawn", "coming": "readings_coming"}
    heads, columns = [words("readings_day")], []
    both = any(key.startswith("without_") for key in found)
    for key, times in found.items():
        edge = key.removeprefix("without_")
        mode = "" if not both else " " + words("readings_without" if key != edge else "readings_with")
        heads.append(words(names[edge]) + mode)
        columns.append(times)
    return heads, columns


def _row(day: int, columns, year: int, changes: set[int], display: Display, words: Words, form: str) -> dict:
    when = date(year, 1, 1) + timedelta(day)
    mark = " *" if day in changes else ""
    return {"cells": [words.date(when, form) + mark, *(clock_text(float(times[day]), display, words) for times in columns)]}


def _to_key(card: GroupCard, answers: "Answers", words: Words) -> list[dict]:
    step, setting = answers.keypad.coordinate_step_deg, card.setting
    minutes = ", ".join(f"{degrees_minutes(value)} {side}" for value, side in
                        ((setting.lat_deg, "N" if setting.lat_deg >= 0 else "S"), (setting.lon_deg, "E" if setting.lon_deg >= 0 else "W")))
    digits = f"{digits_text(setting.lat_deg, 90, step)}, {digits_text(setting.lon_deg, 180, step)}"
    clock = card.keying.switch_clock
    rows = [(words("card_position"), position_text(setting, words, step),
             f"{words('card_degrees_minutes')}: {minutes}; {words('card_digits')}: {digits}"),
            (words("card_legal_time"), f"UTC{offset_text(clock.standard_min)}", f"{clock.text().partition(', ')[2]} ({setting.legal_zone})"),
            (words("card_offset_dusk"), _offset(setting.dusk_offset_min, words), ""),
            (words("card_offset_dawn"), _offset(setting.dawn_offset_min, words), "")]
    events = [(programme.name, "; ".join(event.text() for event in programme.events))
              for programme in (answers.programmes.programmes if answers.programmes else ()) if programme.name in card.programmes]
    if not events:
        rows.append((words("card_events"), words("card_events_none"), ""))
    for name, text in events:
        rows.append((words("card_events"), name, text))
    rows.append((words("card_threshold"), answers.threshold_text, ""))
    return [{"name": name, "value": value, "more": more} for name, value, more in rows]


def _offset(minutes: int, words: Words) -> str:
    return words("none") if not minutes else words("later" if minutes > 0 else "earlier", n=abs(int(minutes)))


def _checks(display: Display, words: Words) -> list[str]:
    # A display cuts seconds off or rounds them, on top of what its own sun may be off.
    return [words("check_clock"), words("check_date"), words("check_dusk", n=words.number(np.ceil(display.error_min + 1))), words("check_keyed")]


def _something_else(card: GroupCard, display: Display, words: Words) -> dict:
    table = card.table
    shown = table.rows[:ROWS]
    rows: list[dict] = []
    for likelihood in CLASSES:
        mine = [row for row in shown if row.likelihood == likelihood]
        if mine:
            rows.append({"kind": "class", "text": words(likelihood)})
        for row in mine:
            marks = [words("else_moves")] * row.moves + [words("else_offsets")] * row.needs_offsets
            marks += [words("lamps_right")] * any(slip.right_lamps for slip in row.slips)
            rows.append({"kind": "row", "dusk": difference_text(*row.dusk_min), "dawn": difference_text(*row.dawn_min),
                         "slips": joined_slips(row.slips, words), "next": words(f"about_{row.read_next}"), "mark": "; ".join(marks)})
    by_date: dict = {}
    for one in table.unseen:
        by_date.setdefault(one.first, []).append(one.slip)
    unseen = [words("unseen_from", date=words.date(_day(first), "medium"), slips=joined_slips(by_date[first], words, 8))
              for first in sorted(one for one in by_date if one is not None)]
    if None in by_date:
        unseen.append(words("unseen_never", slips=joined_slips(by_date[None], words, 8)))
    more = len(table.rows) - len(shown)
    return {"else_head": words("card_else", first=words.date(_day(table.first), "medium"), last=words.date(_day(table.last), "medium")),
            "rows": rows, "unseen": unseen, "more": words("else_more", n=more) if more else ""}


def _day(when: np.datetime64) -> date:
    return when.astype("datetime64[D]").item()


def _sites(mine) -> list[dict]:
    programme = mine["programme"].astype(str) if "programme" in mine.columns else [""] * len(mine)
    return [{"id": str(site), "name": str(name) if str(name) != str(site) else "", "programme": str(which)}
            for site, name, which in zip(mine["site_id"].head(SITES_LISTED), mine["name"].head(SITES_LISTED), programme, strict=False)]


def _programmes(card: GroupCard, answers: "Answers") -> list[dict]:
    """Each programme in words with its year as a small picture."""
    if answers.programmes is None:
        return []
    from ..files.programmefiles import year_words
    from ..files.yearpicture import YearPicture, draw_year

    found = []
    years = {(one.programme, one.group): one for one in answers.programmes.years}
    for programme in answers.programmes.programmes:
        one = years.get((programme.name, card.name or "shared"))
        if programme.name in card.programmes:
            svg = "" if one is None else draw_year(YearPicture(programme.name, year_words(one, answers), answers.year, one.clock, one.lit, one.dark), "svg")
            found.append({"name": programme.name, "events": "; ".join(event.text() for event in programme.events),
                          "svg": svg.decode() if isinstance(svg, bytes) else svg})
    return found

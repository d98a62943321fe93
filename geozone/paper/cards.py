"""The cards for the crew: `cards.pdf`, a card a group."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..files.yearpicture import DARKNESS, LAMPS, WASTE
from ..numbers.clock import offset_text
from ..numbers.cores import in_turn
from ..trade.readings import Display
from .carddata import FORTNIGHT, CardOptions, GroupCard, KeyedGroup, cabinets_of, change_days, clock_text, degrees_minutes, digits_text, reading_days, reading_days_of
from .cardslips import other_days, something_else
from .joining import joined
from .phrases import area_words, programme_words, saving_words, threshold_words, wrong_words
from .sheetdata import position_text
from .typesetting import has_long_word, printable, typeset
from .words import Words, words_in
from .yearstrip import month_starts, year_strip

if TYPE_CHECKING:
    from ..answers import Answers

#: Sites listed on a card; crew.csv has all.
SITES_LISTED = 400
#: Cards of a part, and parts set side by side, as two cores are common: the typesetter takes some 7 MB for each card.
AT_ONCE, SIDE_BY_SIDE = 20, 2


def cards_pdf(answers: "Answers", cards: list[GroupCard], options: CardOptions, display: Display, at_once: int = AT_ONCE) -> bytes:
    """The cards as PDF/A-2b, tagged, with a bookmark a card.

    Parameters
    ----------
    answers : Answers
    cards : list of GroupCard
        See `group_cards`.
    options : CardOptions
    display : Display
    at_once : int
        How many cards are set together.

    Returns
    -------
    bytes
        The same answers and options give the same bytes.
    """
    words = words_in(options.language)
    first = date(answers.year, 1, 1) + timedelta(options.day_of(answers.year))
    head = {"title": printable(answers.title), "author": "geozone", "language": options.language, "size": options.size,
            "dated": [first.year, first.month, first.day], "cautions": [words(f"caution_{key}") for key in ("supply", "unlit", "levels", "horizon")],
            "remarks": [] if words.read_by_a_crew else [words("unchecked")]}
    common = {"versions": words("versions", geozone=answers.versions.get("geozone", ""), tz=answers.versions.get("tz database", "")),
              "words": _template_words(words), "months": _months(answers.year, words), "strip": {"lit": LAMPS, "dark": DARKNESS, "waste": WASTE}}
    answers = with_card_columns(answers)

    def contents() -> Iterator[dict]:
        for begin in range(0, max(len(cards), 1), at_once):
            some = cards[begin:begin + at_once]
            pages = [card_page(card, answers, options, display, words, columns)
                     for card, columns in zip(some, reading_days_of(some, answers.year, display), strict=True)]
            data = {**head, **common, "cards": pages, "unserved": _unserved(answers, words) if begin + at_once >= len(cards) else None}
            yield {**data, "long": has_long_word(data, 20)}

    parts = in_turn(lambda data: typeset("cards.typ", data), contents(), SIDE_BY_SIDE)
    return joined(parts, lambda pages: typeset("cardfoot.typ", {**head, "pages": pages}, tagged=False))


def with_card_columns(answers: "Answers") -> "Answers":
    """The answers with those columns of the site table that cards name: taking some rows of all takes as long as setting a card."""
    kept = {"site_id", "name", "area", "group", "programme"}
    if answers.groups is not None and answers.groups.keep_together:
        kept |= {answers.groups.keep_together, f"{answers.groups.keep_together}_given"}
    return replace(answers, sites=pd.DataFrame({name: answers.sites[name] for name in answers.sites.columns if name in kept}))


def _months(year: int, words: Words) -> list[dict]:
    """Months along the picture of a year: name and length [day]."""
    starts = [*month_starts(year), (date(year + 1, 1, 1) - date(year, 1, 1)).days]
    return [{"name": words.date(date(year, month + 1, 1), "LLL"), "days": end - begin} for month, (begin, end) in enumerate(zip(starts, starts[1:]))]


def _template_words(words: Words) -> dict:
    keys = {"key": "card_key", "check": "card_check", "readings": "card_readings", "weekly": "readings_weekly", "mend": "mend",
            "year": "card_year", "unseen_head": "unseen_head", "changes": "readings_changes", "check_note": "check_note",
            "else_same": "else_same", "else_opposite": "else_opposite", "else_one": "else_one", "other_date": "other_date",
            "strip_lit": "strip_lit", "strip_dark": "strip_dark", "strip_day": "strip_day", "strip_waste": "strip_waste"}
    return {**{name: words(key) for name, key in keys.items()},
            "else_heads": [words(key) for key in ("else_dusk", "else_dawn", "else_slips", "else_next", "else_mend")]}


def _unserved(answers: "Answers", words: Words) -> dict | None:
    """Sites of no group, which have no card: said on a page of their own."""
    if answers.groups is None:
        return None
    left = answers.sites[answers.sites["group"].astype(str) == ""]
    if not len(left):
        return None
    more = len(left) - SITES_LISTED
    sites = ", ".join(str(site) for site in left["site_id"].head(SITES_LISTED))
    return {"head": words.count(len(left), "card_unserved"), "sites": sites, "more": words("list_more", n=words.number(more)) if more > 0 else ""}


def card_page(card: GroupCard, answers: "Answers", options: CardOptions, display: Display, words: Words, columns: dict | None = None) -> dict:
    """One card as data; `columns`: its readings where they are known already, as `reading_days` gives them."""
    year, first_day = answers.year, options.day_of(answers.year)
    mine = card_sites(card, answers)
    first = date(year, 1, 1) + timedelta(first_day)
    columns = columns if columns is not None else reading_days(card, year, display)
    changes = change_days(card, year)
    areas = sorted({str(area) for area in mine["area"] if str(area)})
    unknown = display.includes_offsets is None and any(key.startswith("without_") for key in columns)
    return {
        "name": card.name, "head": card_head(card, words),
        "count": words.count(len(mine), "card_sites"), "where": ", ".join(area_words(area, answers.outlined, words) for area in areas[:6]) + (" …" if len(areas) > 6 else ""),
        "master": master_sentence(card, answers, words),
        "key": to_key(card, answers, words), "checks": checks(card, display, words),
        "keyed_clock": "" if card.keying.exact else words("readings_clock_keyed", when=wrong_words(card.keying, words)),
        "unknown": words("readings_unknown") if unknown else "",
        "fortnight_head": words("readings_fortnight", date=words.date(first, "medium")),
        **_readings_tables(columns, year, first_day, changes, other_days(card, year), options, display, words),
        **something_else(card, words),
        **_sites(mine, answers, card, words), "programmes": _programmes(card, answers, words),
    }


def card_head(card: GroupCard, words: Words) -> str:
    """What a card is called."""
    head = words("card", group=card.name) if card.name else words("settings")
    return head + (f": {', '.join(card.programmes)}" if card.programmes else "")


def master_sentence(card: GroupCard | KeyedGroup, answers: "Answers", words: Words) -> str:
    """For one shared setting on a master clock: that there is one switch to key; else nothing."""
    return words("card_master", zone=card.setting.legal_zone) if answers.one_master else ""


def card_sites(card: GroupCard, answers: "Answers"):
    """The sites of a card in driving order."""
    return answers.sites.iloc[list(card.rows)]


def _readings_tables(columns: dict[str, np.ndarray], year: int, first_day: int, changes: set[int], other: list[int],
                     options: CardOptions, display: Display, words: Words) -> dict:
    """Tables of readings: the days in one, and for small paper or a 12-hour face one for each way that a display may count."""
    days = len(next(iter(columns.values())))
    apart = len(columns) > 4 and (options.size != "A4" or display.hours == 12)
    parts = [{k: v for k, v in columns.items() if k.startswith("without_") == without} for without in (False, True)] if apart else [columns]
    fortnight = range(first_day, min(first_day + FORTNIGHT, days))
    # On from the fortnight to the end of the year, then from its beginning: the same year, for which the plan was made.
    weekly = [day % days for day in range(first_day + FORTNIGHT, first_day + days, 7)]
    tables: list[dict] = []
    for part in parts:
        heads = [words("readings_day"), *_heads(part, any(key.startswith("without_") for key in columns), words)]
        tables.append({"heads": heads, "chars": [], "fortnight": [_row(day, part, year, changes, display, words, True) for day in fortnight],
                       "weekly": [_row(day, part, year, changes, display, words, False) for day in weekly],
                       "other": [_row(day, part, year, set(), display, words, False) for day in other]})
    for table in tables:
        # A cell for each of a year's times would make the document ten times as heavy: lines of letters of one width instead.
        table["chars"] = [max(map(len, column)) + 2 for column in zip(*table["weekly"], strict=True)]
        table["lines"] = [row[0].ljust(table["chars"][0]) + "".join(cell.rjust(width) for cell, width in zip(row[1:], table["chars"][1:], strict=True))
                          for row in table["weekly"]]
    return {"tables": tables, "starred": any(day in changes for day in (*fortnight, *weekly))}


def _heads(columns, both: bool, words: Words) -> list[str]:
    names = {"dusk": "readings_dusk", "dawn": "readings_dawn", "coming": "readings_coming"}
    heads = []
    for key in columns:
        edge = key.removeprefix("without_")
        heads.append(words(names[edge]) + ("" if not both else " " + words("readings_without" if key != edge else "readings_with")))
    return heads


def _row(day: int, columns, year: int, changes: set[int], display: Display, words: Words, weekday: bool) -> list[str]:
    when = date(year, 1, 1) + timedelta(day)
    mark = " *" if day in changes else ""
    return [words.day(when, weekday) + mark, *(clock_text(float(times[day]), display, words) for times in columns.values())]


def keyed_texts(card: GroupCard | KeyedGroup, answers: "Answers", words: Words) -> dict[str, str]:
    """What is keyed, in words: position, degrees_minutes, digits, standard_time, summer_time, dusk, dawn."""
    step, setting, clock = answers.keypad.coordinate_step_deg, card.setting, card.keying.switch_clock
    minutes = ", ".join(f"{degrees_minutes(value)} {side}" for value, side in
                        ((setting.lat_deg, "N" if setting.lat_deg >= 0 else "S"), (setting.lon_deg, "E" if setting.lon_deg >= 0 else "W")))
    return {"position": position_text(setting, words, step), "degrees_minutes": minutes,
            "digits": f"{digits_text(setting.lat_deg, 90, step)}, {digits_text(setting.lon_deg, 180, step)}",
            "standard_time": f"UTC{offset_text(clock.standard_min)}", "summer_time": _saving(card, answers.year, words),
            "dusk": _offset(setting.dusk_offset_min, words), "dawn": _offset(setting.dawn_offset_min, words)}


def to_key(card: GroupCard, answers: "Answers", words: Words) -> list[dict]:
    told = keyed_texts(card, answers, words)
    rows = [(words("card_position"), told["position"],
             f"{words('card_degrees_minutes')}: {told['degrees_minutes']}; {words('card_digits')}: {told['digits']}"),
            (words("card_legal_time"), told["standard_time"], told["summer_time"]),
            (words("card_offset_dusk"), told["dusk"], ""), (words("card_offset_dawn"), told["dawn"], "")]
    if not card.programmes:
        rows.append((words("card_events"), words("card_events_none"), ""))
    for name, events in card.events:
        rows.append((words("card_events"), name, events))
    once = keyed_once(card, words)
    rows += [("", "", once)] if once else []
    rows.append((words("card_threshold"), threshold_words(answers.basis.dark, words), ""))
    return [{"name": name, "value": value, "more": more} for name, value, more in rows]


def keyed_once(card: GroupCard | KeyedGroup, words: Words) -> str:
    """For events whose minutes hold the offsets that stand beside them: that each shift is keyed once; else nothing."""
    return words("card_events_once") if card.programmes and (card.setting.dusk_offset_min or card.setting.dawn_offset_min) else ""


def _saving(card: GroupCard | KeyedGroup, year: int, words: Words) -> str:
    """The summer-time rule to key, the days on which it then changes the clock, and the legal zone that it stands for."""
    first = date(year, 1, 1)
    days = [first + timedelta(day) for day in sorted(change_days(card, year))]
    dates = words("saving_changes", year=year, dates=", ".join(words.day(day) for day in days if day.year == year)) if days else ""
    return "; ".join(filter(None, (saving_words(card.keying.switch_clock, words), dates))) + f" ({card.setting.legal_zone})"


def _offset(minutes: int, words: Words) -> str:
    return words("none") if not minutes else words("later" if minutes > 0 else "earlier", n=abs(int(minutes)))


def checks(card: GroupCard, display: Display, words: Words) -> list[str]:
    """What is checked once all is keyed, in the order in which it tells most."""
    watch = words("check_clock", zone=card.setting.legal_zone) if card.keying.exact else words("check_clock_keyed", when=wrong_words(card.keying, words))
    # A display cuts seconds off or rounds them, on top of what its own sun may be off.
    return [watch, words("check_date"), words("check_dusk", n=words.number(np.ceil(display.error_min + 1))), words("check_keyed")]


def _sites(mine, answers: "Answers", card: GroupCard, words: Words) -> dict:
    """The list of a card with its boxes: columns that the sites have, then empty ones. A master clock's card has one row, for its switch."""
    ids = mine["site_id"].astype(str).tolist()
    more = len(ids) - SITES_LISTED
    list_more = words("list_more", n=words.number(more)) if more > 0 else ""
    if answers.one_master:
        commanded = words("card_commands", sites=", ".join(ids[:SITES_LISTED]))
        return {"list_head": words("card_list_master"), "sites": [[""]], "list_known": 1, "list_more": " ".join(filter(None, (commanded, list_more))),
                "list_heads": [words(key) for key in ("card_switch", "card_date", "revision_by", "card_seen")]}
    names = [name if name != site else "" for name, site in zip(mine["name"].astype(str), ids, strict=True)]
    columns = [("site", ids)]
    cabinets = cabinets_of(answers, mine)
    if any(cabinets):
        columns.append(("card_cabinet", cabinets))
    if any(names):
        columns.append(("name", names))
    if len(card.programmes) > 1:
        columns.append(("programme", mine["programme"].astype(str).tolist()))
    boxes = (() if any(cabinets) else ("card_cabinet",)) + ("card_date", "revision_by", "card_seen")
    heads = [words(key) for key in (*(key for key, _ in columns), *boxes)]
    rows = [list(row) for row in zip(*(values[:SITES_LISTED] for _, values in columns), strict=True)]
    return {"list_head": words("card_list"), "sites": rows, "list_heads": heads, "list_known": len(columns), "list_more": list_more}


def _programmes(card: GroupCard, answers: "Answers", words: Words) -> list[dict]:
    """Each programme in words with its year as a small picture."""
    if answers.programmes is None:
        return []
    found = []
    years = {(one.programme, one.group): one for one in answers.programmes.years}
    for programme in answers.programmes.programmes:
        if programme.name not in card.programmes:
            continue
        one = years.get((programme.name, card.name or "shared"))
        svg, wasted = ("", False) if one is None else year_strip(one.lit, one.dark, one.clock, answers.year)
        found.append({"name": programme.name, "events": programme_words(programme, words), "svg": svg, "wasted": wasted})
    return found

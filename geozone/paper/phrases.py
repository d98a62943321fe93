"""What the tables say in English, said in the paper's language: events, clocks, lines, and the answer in a sentence or two."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from ..numbers.civil import clock_text
from ..numbers.clock import offset_text, offsets
from ..places.areas import HULL_NAME
from ..trade.keyedevents import KeyedEvent, events_to_key
from ..trade.programme import ALL_DAYS, Event, Programme, Season, weekdays_text
from ..trade.switchclock import SAVING_RULES, Keying, SwitchClock, best_keying
from .words import Words
from .zonewords import keyed_ground

if TYPE_CHECKING:
    from ..answers import Answers
    from ..grouping.grouptables import GroupAnswers
    from ..trade.basis import DarkThreshold
    from ..trade.keypad import Keypad
    from ..trade.setting import Setting, Tolerance

# Any Monday: weekdays are named by the days from it. A leap year, so that a season may name 29 February.
_MONDAY = date(2024, 1, 1)


def signed(minutes: float) -> str:
    """An offset with its sign, a true minus."""
    return f"{int(minutes):+d}".replace("-", "\u2212") if minutes else "0"


def event_words(event: Event, words: Words) -> str:
    """An event, as `Event.text` says it in English."""
    if not event.by_sun:
        parts = [words(f"event_{event.turn}_at", when=clock_text(event.at))]
    elif event.shift_min:
        side = "after" if event.shift_min > 0 else "before"
        parts = [words(f"event_{event.turn}_{side}_{event.at}", n=words.number(abs(event.shift_min)))]
    else:
        parts = [words(f"event_{event.turn}_{event.at}")]
    if event.days != ALL_DAYS:
        parts.append(weekdays_text(event.days, [words.date(_MONDAY + timedelta(day), "ccc") for day in range(7)], "–"))
    if event.season:
        parts.append(_season(event.season, words))
    return ", ".join(parts)


def _season(season: Season, words: Words) -> str:
    first, last = (words.day(date(_MONDAY.year, value // 100, value % 100)) for value in (season.first, season.last))
    return words("event_season", first=first, last=last)


def programme_words(programme: Programme, words: Words) -> str:
    """The events of a programme as the job has them."""
    return "; ".join(event_words(event, words) for event in programme.events)


def keyed_words(programme: Programme, setting: "Setting", keypad: "Keypad", words: Words) -> str:
    """What a switch has to be told for a programme, offset and shift added."""
    return "; ".join(_keyed(one, words) for one in events_to_key(programme, setting, keypad.offset_limit_min))


def _keyed(one: KeyedEvent, words: Words) -> str:
    parts = [words(f"event_{name}", n=signed(value)) for name, value in (("setting", one.offset_min), ("programme", one.shift_min)) if value]
    parts += [words("event_over", n=words.number(one.over_limit_min))] if one.over_limit_min is not None else []
    parts += [words("event_evening")] if one.evening_days else []
    return event_words(one.event, words) + (f" ({', '.join(parts)})" if parts else "")


def saving_words(clock: SwitchClock, words: Words) -> str:
    """The summer-time rule of a keyed clock; published rules by whose they are, others by their name."""
    name = clock.saving.name
    if name == "none":
        return words("saving_none")
    return words(f"slip_saving_of_{name.replace(' ', '_')}") if name in SAVING_RULES else words("saving_own", name=name)


def clock_words(keying: Keying, words: Words) -> str:
    """The clock to key, and when it is not legal time."""
    wrong = wrong_words(keying, words)
    return f"UTC{offset_text(keying.switch_clock.standard_min)}, {saving_words(keying.switch_clock, words)}" + (f"; {wrong}" if wrong else "")


def area_words(name: str, outlined: bool, words: Words) -> str:
    """Name of an outline; that of the ground round the sites, where none was given, in the paper's language."""
    return words("service_area") if name == HULL_NAME and not outlined else name


def threshold_words(dark: "DarkThreshold", words: Words) -> str:
    """The dark threshold as it was told, and how low the sun is then. A kind that the catalogue does not know is said by the sun."""
    height = f"{abs(dark.altitude_deg):.4g}" if dark.told_by != "illuminance_lx" else f"{abs(dark.altitude_deg):.2f}"
    sun = words("sun_below" if dark.altitude_deg < 0 else "sun_above", n=words.figure(height))
    if dark.told_by == "illuminance_lx":
        return words("threshold_lux", lux=words.figure(dark.told), sun=sun)
    key = f"threshold_{dark.told}"
    return words(key, sun=sun) if dark.told_by == "twilight" and key in words.texts else sun


def clocks_to_key(answers: "Answers", words: Words) -> dict[str, str]:
    """The clock to key by the legal zone of each of the plan's settings."""
    ground = keyed_ground(answers)
    zones = dict.fromkeys(str(zone) for zone in ground[0]["legal_zone"]) if ground else {}
    return clocks_in_words(answers, zones, words)


def clocks_in_words(answers: "Answers", legal_zones, words: Words) -> dict[str, str]:
    """The clock to key by legal zone."""
    zones = dict.fromkeys(map(str, legal_zones))
    return {zone: clock_words(best_keying(offsets(zone, answers.year), answers.year, answers.keypad.clocks), words) for zone in zones}


def wrong_words(keying: Keying, words: Words) -> str:
    """When the keyed clock does not show legal time; "" for one that always does."""
    said = []
    for span in keying.wrong:
        first, last = (words.date(date.fromisoformat(str(day)), "medium") for day in (span.first, span.last))
        said.append(words("wrong_ahead" if span.fast_min > 0 else "wrong_behind", first=first, last=last,
                          n=words.number(abs(span.fast_min), 0 if float(span.fast_min).is_integer() else 1)))
    return "; ".join(said)


def line_words(row, tolerance: "Tolerance", words: Words) -> str:
    """The label of a line on the map: a row of `Answers.drift_lines`."""
    if row.kind == "dusk":
        when = datetime.fromisoformat(str(row.dusk))
        return words("label_dusk", time=f"{when:%H:%M}", date=words.day(when.date()), offset=offset_text(when.utcoffset().total_seconds() / 60))
    dark, excess = (words.trimmed(limit * row.factor) for limit in (tolerance.dark_min, tolerance.excess_min))
    minutes = words("min", n=dark) if dark == excess else words("label_both", dark=dark, excess=excess)
    return words("label_tolerance", minutes=minutes) if row.kind == "tolerance" else minutes


def headline_words(groups: "GroupAnswers", sites: int, words: Words) -> str:
    """The answer in short sentences: settings, whether fewer can do, what was kept to, and sites that are in no group."""
    plan, rules = groups.plan, groups.rules
    left = int((plan.group_of_site == "").sum())
    count, n, served = words.number(plan.count), words.number(sites), words.number(sites - left)
    one = "one" if plan.count == 1 else "many"
    if left >= sites:
        said = [words("headline_none", n=n)]
    elif left:
        said = [words(f"headline_part_{one}", count=count, served=served, n=n)]
    else:
        said = [words("headline_one_site") if sites == 1 else words(f"headline_all_{one}", count=count, n=n)]
    if left < sites and plan.lower_bound < plan.count:
        said.append(words("headline_bound", n=words.number(plan.lower_bound)))
    elif left < sites and plan.count > 1:
        said.append(words("headline_fewer"))
    kept = [words("rule_together", column=rules.keep_together)] if rules.keep_together else []
    kept += [words("rule_within", column=rules.within)] if rules.within else []
    kept += [] if rules.offsets else [words("rule_offsets")]
    if kept:
        said.append(words("headline_rules", rules=", ".join(kept)))
    if 0 < left < sites:
        said.append(words.count(left, "headline_left"))
    return " ".join(said)

"""Foolish nights: where a programme, obeyed event by event, does what its author cannot have meant."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ..numbers import clock
from ..numbers.civil import MIN_PER_DAY, dates, instants
from ..numbers.clock import OffsetSequence
from ..numbers.intervals import CLOCK, DAWN, DUSK
from ..numbers.sun import nights_of
from ..sharing.drift import keyed_times, night_label, unwrapped_lon_deg
from ..trade.duedays import due_days, events_on
from ..trade.latch import NIGHTS_BEFORE, ON, Events
from ..trade.programme import Programme
from ..trade.setting import Setting
from .burning import Union, difference_by_night, expand, noons
from .conditions import Conditions

# Light that differs from what is meant by less than this in a night is no foolish night [minute].
_NOTICED_MIN = 0.5

KINDS = {
    "on after dawn": "dawn has come before this event: the lamps stay on through the day",
    "off before on": "the lamps are switched off before they are on, and then stay on",
    "on before off": "the lamps are switched on before the event that switches them off, and then stay off",
    "no dusk or dawn": "the sun does not pass the dark threshold, and nothing turns the lamps back",
    "never happens": "the event never comes in this year",
    "left out by the clock": "the clock is put forward over this time",
    "twice on the clock": "the clock is put back over this time and shows it twice",
    "other": "the light is not what is meant",
}


@dataclass(frozen=True)
class Switch:
    """Switches that act alike: one setting, one legal clock.

    Attributes
    ----------
    label : str
        Group or site.
    setting : Setting
    legal_zone : str
        What the clock on the wall shows.
    sites : tuple of str
        Site ids.
    wall : OffsetSequence, optional
        What the clock shows where it cannot be keyed to show legal time all year; clock events follow it.
    """

    label: str
    setting: Setting
    legal_zone: str
    sites: tuple[str, ...] = ()
    wall: OffsetSequence | None = field(default=None, compare=False)

    def shown(self, conditions: Conditions) -> OffsetSequence:
        """The clock that its clock events follow."""
        if self.wall is not None:
            return self.wall
        return clock.offsets(self.setting.legal_zone if conditions.switch_clock == "master" else self.legal_zone, conditions.year)


@dataclass(frozen=True)
class Finding:
    """One foolishness at one kind of switch.

    Attributes
    ----------
    kind : str
        A key of `KINDS`.
    programme : str
    event : int
        Index of the event in the programme that a cure has to deal with; -1 for none in particular.
    switch : Switch
    nights : tuple of int
        Indices of the nights; civil days for clock changes.
    hours : float
        Hours of the year, at one switch, in which the light is not what is meant. For a clock change: what is at stake
        if the switch misses, or repeats, the event.
    text : str
        The finding in one plain sentence.
    counted_hours : float
        Hours that add up over the findings of a switch: a night that several findings explain counts in the first of them.
    """

    kind: str
    programme: str
    event: int
    switch: Switch
    nights: tuple[int, ...]
    hours: float
    text: str
    counted_hours: float = 0.0

    @property
    def wrong_light(self) -> bool:
        """Whether the light is really wrong, as the programme stands; a clock change only puts some hours at stake."""
        return self.hours > 0 and self.kind not in ("left out by the clock", "twice on the clock", "never happens")

    @property
    def harmless(self) -> bool:
        """A clock event in a clock change that makes no difference: "off" that comes twice, to lamps that are off."""
        return self.kind in ("left out by the clock", "twice on the clock") and self.hours * 60 <= _NOTICED_MIN

    def dates(self, year: int) -> list[str]:
        """ISO dates of the nights."""
        return [str(d) for d in dates(np.array(self.nights, dtype=int), year)]


@dataclass(frozen=True)
class Year:
    """One programme at one switch over a year: what is meant, what is obeyed, and when each event comes."""

    events: Events
    meant: Union
    obeyed: Union
    noon: np.ndarray
    state: np.ndarray
    at_utc: np.ndarray
    dusk: np.ndarray
    dawn: np.ndarray


def foolish_nights(programme: Programme, switches, conditions: Conditions) -> list[Finding]:
    """Everything foolish that a programme does at the given switches in a year.

    Parameters
    ----------
    programme : Programme
    switches : sequence of Switch
        One for each setting and legal clock of the plan.
    conditions : Conditions
        With the clock "master" the clock events come on the clock of the setting's legal zone.

    Returns
    -------
    list of Finding
        By switch, then by kind. Empty when every night is as meant.
    """
    found = []
    for switch in switches:
        found += _at_switch(programme, switch, conditions)
    return found


def year_at(programme: Programme, switch: Switch, conditions: Conditions, **fold_and_gap) -> Year:
    """A programme at one switch, expanded both ways."""
    year, holidays = conditions.year, conditions.holidays
    wall = switch.shown(conditions)
    keyed = keyed_times(switch.setting, year=year, altitude_deg=conditions.altitude_deg,
                        site_clock=None if conditions.switch_clock == "master" else clock.offsets(switch.legal_zone, year))
    noon = noons(float(unwrapped_lon_deg(switch.setting.lon_deg, switch.setting.legal_zone, year)), year)
    events = events_on(programme, wall, year, holidays, **fold_and_gap)
    sun = {"dusk_utc_min": keyed.dusk_utc_min, "dawn_utc_min": keyed.dawn_utc_min, "state": keyed.state,
           "noon_utc_min": noon}
    n_night = keyed.state.size
    at = np.full((events.kind.size, n_night), np.nan)
    for i, kind in enumerate(events.kind):
        if kind == CLOCK:
            at[i] = events.at_utc[i, NIGHTS_BEFORE:NIGHTS_BEFORE + n_night]
        else:
            at[i] = (keyed.dusk_utc_min if kind == DUSK else keyed.dawn_utc_min) + events.shift[i]
            day = np.arange(n_night)
            if programme.night_rule == "date":
                known = ~np.isnan(at[i])
                day = np.where(known, np.floor((np.where(known, at[i], 0) + clock.offset_min_at(
                    wall, np.where(known, at[i], 0))) / MIN_PER_DAY), day + (kind == DAWN)).astype(int)
            at[i] = np.where(due_days(programme.events[events.line[i]], day, year, holidays), at[i], np.nan)
    return Year(events, expand(events, reading="meant", **sun), expand(events, reading="obeyed", **sun), noon,
                keyed.state, at, keyed.dusk_utc_min, keyed.dawn_utc_min)


def wrong_minutes(found: Year) -> np.ndarray:
    """(n_night,) float64: minutes of each night in which the light is not what is meant."""
    return (difference_by_night(found.meant, found.obeyed, found.noon)
            + difference_by_night(found.obeyed, found.meant, found.noon))


def _at_switch(programme, switch, conditions: Conditions):
    found = year_at(programme, switch, conditions)
    wrong = wrong_minutes(found)
    noticed = wrong > _NOTICED_MIN
    out, explained = [], np.zeros(wrong.size, bool)

    free = noticed.copy()

    def add(kind, event, nights, hours, window):
        if len(nights) == 0:
            return
        mine = free & window
        free[mine] = False
        line = programme.events[event].text() if event >= 0 else programme.name
        span = _span(nights, conditions.year, "dates" if kind in ("left out by the clock", "twice on the clock") else "nights")
        text = f"{programme.name}, {switch.label}: {line}: {KINDS[kind]} ({span}"
        text += f", {hours:.1f} h a switch)" if kind != "never happens" else ")"
        out.append(Finding(kind, programme.name, event, switch, tuple(int(k) for k in nights), float(hours), text,
                           float(wrong[mine].sum()) / 60))

    for (late, early), mask in _reversed_pairs(found).items():
        # What goes wrong in night k shows before its noon or, after it, in the next night.
        hit = mask & (noticed | np.append(noticed[1:], False))
        if not hit.any():
            continue
        window = hit | np.append(False, hit[:-1])
        explained |= window
        on_first = found.events.turn[late] == ON
        kind = ("on after dawn" if found.events.kind[early] == DAWN else "off before on") if on_first else "on before off"
        add(kind, int(found.events.line[late]), np.flatnonzero(hit), wrong[window].sum() / 60, window)
    odd = noticed & ~explained & (found.state != 0)
    odd_window = odd | np.append(False, odd[:-1])
    add("no dusk or dawn", -1, np.flatnonzero(odd), wrong[odd].sum() / 60, odd_window)
    for i in range(found.events.kind.size):
        if np.isnan(found.at_utc[i]).all():
            add("never happens", int(found.events.line[i]), np.arange(wrong.size), 0.0, np.zeros(wrong.size, bool))
    changes = np.zeros(wrong.size, bool)
    for kind, line, days, stake in _clock_changes(programme, switch, found, conditions):
        window = np.zeros(wrong.size, bool)
        window[np.clip(np.concatenate([days - 1, days]), 0, wrong.size - 1).astype(int)] = True
        add(kind, line, days, stake, window)
        changes |= window
    rest = noticed & ~explained & ~odd_window & ~changes
    add("other", -1, np.flatnonzero(rest), wrong[rest].sum() / 60, rest)
    return out


def _reversed_pairs(found: Year) -> dict[tuple[int, int], np.ndarray]:
    """Nights on which an event comes before the one that it is meant to follow: (that one, it) -> (n_night,) bool.

    Events that turn the same way and follow each other in the meant order are one run; an event is meant to follow
    every event of the run before its own.
    """
    due = ~np.isnan(found.at_utc)
    run, turn_now = np.zeros(due.shape, int), np.full(due.shape[1], -1)
    run_now = np.zeros(due.shape[1], int)
    for i, turn in enumerate(found.events.turn):
        run_now = run_now + (due[i] & (turn_now != turn))
        turn_now = np.where(due[i], turn, turn_now)
        run[i] = run_now
    pairs = {}
    for j in range(len(run)):
        for i in range(j):
            if found.events.turn[i] != found.events.turn[j]:
                mask = due[i] & due[j] & (run[j] == run[i] + 1) & (found.at_utc[j] < found.at_utc[i])
                if mask.any():
                    pairs[i, j] = mask
    return pairs


def _clock_changes(programme, switch, found: Year, conditions: Conditions):
    """Clock events in a gap or fold: (kind, line, civil days, hours at stake)."""
    wall = switch.shown(conditions)
    day = np.arange(nights_of(conditions.year).size)
    out = []
    for line, event in enumerate(programme.events):
        if event.by_sun:
            continue
        at = instants(day * MIN_PER_DAY + event.at, wall)
        meant_day = day - 1 if programme.night_rule == "night" and event.at < 720 else day
        due = due_days(event, meant_day, conditions.year, conditions.holidays)
        gap, fold = day[due & at.gap], day[due & ~np.isnan(at.again_utc_min)]
        if gap.size:
            other = year_at(programme, switch, conditions, miss_gap=True)
            out.append(("left out by the clock", line, gap, _between(found, other)))
        if fold.size:
            other = year_at(programme, switch, conditions, once_in_fold=True)
            out.append(("twice on the clock", line, fold, _between(found, other)))
    return out


def _between(a: Year, b: Year) -> float:
    both = difference_by_night(a.obeyed, b.obeyed, a.noon) + difference_by_night(b.obeyed, a.obeyed, a.noon)
    return float(both.sum()) / 60


def _span(nights, year: int, word: str) -> str:
    names = night_label(np.asarray(nights, dtype=int), year)
    if len(names) == 1:
        return f"{word[:-1]} {names[0]}"
    whole = f"{len(names)} {word}"
    breaks = np.flatnonzero(np.diff(nights) > 21)
    first = np.append(0, breaks + 1)
    last = np.append(breaks, len(names) - 1)
    spans = [f"{names[a]} to {names[b]}" if a != b else names[a] for a, b in zip(first, last)]
    return f"{whole}, {', '.join(spans[:4])}{' and more' if len(spans) > 4 else ''}"


def findings_table(findings, programmes, year: int):
    """Findings as a table: one row each, ready to be written.

    Columns: programme, kind, event (in words), place (line of the job file), switch, sites (count), nights (count),
    first, last (ISO dates), hours (of the year at one switch), site_hours (at all its sites), counted_site_h (the same, but a
    night that stands in several rows counts in the first of them: this column can be added).
    """
    import pandas as pd

    by_name = {p.name: p for p in programmes}
    rows = []
    for f in findings:
        event = by_name[f.programme].events[f.event] if f.event >= 0 else None
        named = f.dates(year)
        rows.append({"programme": f.programme, "kind": f.kind, "event": event.text() if event else "",
                     "place": event.place if event else by_name[f.programme].place, "switch": f.switch.label,
                     "sites": len(f.switch.sites), "nights": len(named), "first": named[0], "last": named[-1],
                     "hours": round(f.hours, 2), "site_hours": round(f.hours * len(f.switch.sites), 2),
                     "counted_site_h": round(f.counted_hours * len(f.switch.sites), 2)})
    return pd.DataFrame(rows, columns=["programme", "kind", "event", "place", "switch", "sites", "nights", "first",
                                       "last", "hours", "site_hours", "counted_site_h"])

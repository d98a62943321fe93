"""Cures for foolish programmes: changed events, proposed as lines of the job file and verified by running them."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from ..errors import InputError
from ..numbers.civil import MIN_PER_DAY, clock_text, instants, month_days
from ..numbers.clock import OffsetSequence
from ..numbers.sun import nights_of
from ..trade.duedays import due_days
from ..trade.keypad import check_programme
from ..trade.programme import Event, Holidays, Programme, Season, weekdays_text
from .burning import difference_by_night
from .conditions import Conditions
from .foolish import Finding, foolish_nights, wrong_minutes, year_at

# A suspended event stays away some days longer on either side: the calendar runs up to a day ahead of or behind the sun. Next
# to a clock change, whose date moves by up to a week, the season holds for the year that was asked only.
_MARGIN_DAYS = 2
# Affected nights with shorter pauses than this between them make one season.
_PAUSE_DAYS = 21
_ROUNDS = 6
# Weekdays that go wrong on as many nights, give or take this, share a season.
_ALIKE = 3
# Switches by which the weekdays are chosen, where there are more.
_CHOSEN_BY = 6
_SUSPEND = ("on after dawn", "off before on", "on before off")
_MOVE = ("left out by the clock", "twice on the clock")


@dataclass(frozen=True)
class Cure:
    """A programme that no longer does what was found.

    Attributes
    ----------
    programme : Programme
        The changed programme.
    toml : str
        The same as lines of the job file, each change said in a comment.
    changes : tuple of str
        What was changed, in plain words.
    verified : bool
        True if a run of the changed programme at every switch shows none of the findings that were to be cured.
    sites : int
        Sites that the sums are over: all that the switches stand for.
    wrong_before_h, wrong_after_h : float
        Hours of the year, all sites together, in which the light is not what the first programme meant.
    dark_after_min : float
        The most minutes in one night that the changed programme leaves dark of what the first one meant: the price of
        the days of margin, and of a switch-off that was moved.
    dark_after_h : float
        The same summed over the year, all sites together.
    dark_one_h : float
        The same summed over the year at the one switch where it is most.
    left : tuple of str
        Findings that remain.
    clock_note : str
        For which clock the cure was run, where a switch does not show legal time; else "".
    """

    programme: Programme
    toml: str
    changes: tuple[str, ...]
    verified: bool
    sites: int
    wrong_before_h: float
    wrong_after_h: float
    dark_after_min: float
    dark_after_h: float
    dark_one_h: float
    left: tuple[str, ...]
    clock_note: str = ""


def cure_of(programme: Programme, switches, conditions: Conditions) -> Cure | None:
    """A cure for whatever `foolish_nights` finds; None when it finds nothing that does harm.

    An event that is left behind by the sun is suspended for that season, on all its days or only on the weekdays on which
    that happens; a clock time in a clock change is moved out of it; an event that never happens is taken out. The result
    is run again, up to six times over. Of the ways to part the weekdays the one is taken that cures everything, fits the
    keypad and leaves least light dark that was first meant; then the one with fewest events.

    Parameters
    ----------
    programme, switches, conditions
        As for `foolish_nights`. A cure beyond what the keypad holds is not verified and says so in `left`.
    """
    first = _harmful(foolish_nights(programme, switches, conditions))
    if not first:
        return None
    keys = list(dict.fromkeys(_key(programme.events[f.event]) for f in first if f.kind in _SUSPEND))
    # Where there are many switches, the way is chosen by those where most goes wrong, and then run at all of them.
    wrong = {id(one): sum(f.hours for f in first if f.switch is one) for one in switches} if len(switches) > _CHOSEN_BY else {}
    few = sorted(switches, key=lambda one: -wrong[id(one)])[:_CHOSEN_BY] if wrong else list(switches)
    mine = {id(one) for one in few}
    score = _scorer(programme, few, [f for f in first if id(f.switch) in mine], conditions)
    ways = dict.fromkeys(keys, 0)
    if len(keys) <= 2:
        options = [dict(zip(keys, chosen)) for chosen in itertools.product(range(len(_PARTINGS)), repeat=len(keys))]
        ways = min(options, key=lambda one: score(one)[0])
    else:
        for key in keys:
            ways[key] = min(range(len(_PARTINGS)), key=lambda way: score(ways | {key: way})[0])
    if not wrong:
        return score(ways)[1]
    everywhere = _scorer(programme, switches, first, conditions)
    return min((everywhere(one) for one in (ways, dict.fromkeys(keys, 0))), key=lambda found: found[0])[1]


def _scorer(programme: Programme, switches, first, conditions: Conditions):
    """A function from ways to part the weekdays to (how bad, the cure): what has been run once is not run again."""
    findings: dict[Programme, list[Finding]] = {}
    cures: dict[Programme, Cure] = {}

    def carried_out(ways: dict) -> Cure:
        now, found, changes = programme, first, []
        for _ in range(_ROUNDS):
            changed = _changed(now, found, conditions, switches, changes, ways)
            if changed == now:
                break
            now = changed
            if now not in findings:
                findings[now] = _harmful(foolish_nights(now, switches, conditions))
            found = findings[now]
        if now not in cures:
            cures[now] = _judged(programme, now, tuple(dict.fromkeys(changes)), [f.text for f in found], switches, first, conditions)
        return cures[now]

    def score(ways: dict):
        one = carried_out(ways)
        return (not one.verified, len(one.left), round(one.dark_after_h, 3), len(one.programme.events)), one

    return score


def _judged(programme, now, changes, left: list[str], switches, first, conditions: Conditions) -> Cure:
    """A changed programme as a cure, with its hours."""
    try:
        check_programme(now, conditions.keypad)
    except InputError as error:
        left = [*left, str(error)]
    before_h, after_h, dark, dark_h, one_h = 0.0, 0.0, 0.0, 0.0, 0.0
    # A clock time that was moved on purpose is what is meant from now on.
    wanted = _with_moves(programme, first, conditions, switches)
    for switch in switches:
        sites = max(1, len(switch.sites))
        first_year = year_at(programme, switch, conditions)
        before_h += sites * float(wrong_minutes(first_year).sum()) / 60
        a, b = year_at(wanted, switch, conditions), year_at(now, switch, conditions)
        missing = difference_by_night(a.meant, b.obeyed, a.noon)
        lost = difference_by_night(first_year.meant, b.obeyed, a.noon)
        dark, one_h = max(dark, float(lost.max())), max(one_h, float(lost.sum()) / 60)
        dark_h += sites * float(lost.sum()) / 60
        after_h += sites * float(missing.sum() + difference_by_night(b.obeyed, a.meant, a.noon).sum()) / 60
    verified = not left and after_h <= before_h + 1e-9
    lines = "".join(f"# {_one_line(change)}\n" for change in changes) + now.toml()
    return Cure(now, lines, tuple(changes), verified, sum(max(1, len(one.sites)) for one in switches), before_h, after_h, dark,
                dark_h, one_h, tuple(left))


def _harmful(found: list[Finding]) -> list[Finding]:
    return [one for one in found if not one.harmless]


def _changed(programme: Programme, found: list[Finding], conditions: Conditions, switches, changes: list[str], ways: dict) -> Programme:
    """The programme with every event that was found at fault replaced by none, one or several."""
    events: list[Event] = []
    # Events in a clock change move together, so that their order and the time between them stay.
    step = _step_out([programme.events[i].at for i in {f.event for f in found if f.kind in _MOVE}], switches, conditions)
    for i, event in enumerate(programme.events):
        mine = [f for f in found if f.event == i]
        kinds = {f.kind for f in mine}
        never = [f for f in mine if f.kind == "never happens"]
        if never and len(never) == len(switches):
            changes.append(f"taken out, as it never happens: {event.text()}")
        elif kinds & set(_SUSPEND):
            # A day on which the event does harm at any switch of the programme.
            nights = np.unique(np.concatenate([f.nights for f in mine if f.kind in _SUSPEND])).astype(int)
            for days, hit in _parted(event, programme, nights, conditions, ways.get(_key(event), 0)):
                part = replace(event, days=days)
                if not hit.size:
                    events.append(part)
                    continue
                kept = _suspended(part, programme, hit, conditions.year, _change_days(switches, conditions))
                named = event.text() if days == event.days else f"{event.text()} (only {weekdays_text(days)})"
                changes.append(f"suspended in the season in which it comes at the wrong time: {named}" if kept else
                               f"taken out, as it comes at the wrong time all year: {named}")
                events += kept
        elif kinds & set(_MOVE) and not event.by_sun:
            moved = event.at + step
            if step == 0:
                events.append(event)
            else:
                changes.append(f"moved out of the clock change, {clock_text(event.at)} to {clock_text(moved)}: {event.text()}")
                events.append(replace(event, at=moved))
        else:
            events.append(event)
    if not events:
        return programme
    return programme.with_events(events)


def _with_moves(programme: Programme, found, conditions, switches) -> Programme:
    return _changed(programme, [f for f in found if f.kind in _MOVE], conditions, switches, [], {})


def _key(event: Event) -> tuple:
    """What stays of an event when its days and season are changed."""
    return event.turn, event.at, event.shift_min


def _parted(event: Event, programme: Programme, nights: np.ndarray, conditions, way: int) -> list[tuple[frozenset, np.ndarray]]:
    """Weekdays of an event that get a season of their own, each with its nights: [(days, nights)]."""
    if way == 0:
        return [(event.days, nights)]
    days = nights + 1 if programme.night_rule == "date" and _morning(event) else nights
    mine = {day: nights[due_days(replace(event, days=frozenset((day,)), season=None), days, conditions.year, conditions.holidays)]
            for day in sorted(event.days)}
    count = {day: hit.size for day, hit in mine.items()}
    blocks = _PARTINGS[way](count)
    return [(frozenset(block), np.unique(np.concatenate([mine[day] for day in block]))) for block in blocks if block]


def _wrong_apart(count: dict) -> list[list[int]]:
    return [[day for day in count if count[day]], [day for day in count if not count[day]]]


def _alike(count: dict) -> list[list[int]]:
    """Weekdays that are wrong about as often; a season has a day of one weekday more or less than of another."""
    blocks: list[list[int]] = []
    for day in sorted(count, key=lambda one: (-count[one], one)):
        if blocks and abs(count[blocks[-1][0]] - count[day]) <= _ALIKE and bool(count[day]) == bool(count[blocks[-1][0]]):
            blocks[-1].append(day)
        else:
            blocks.append([day])
    return blocks


def _in_two(count: dict) -> list[list[int]]:
    """Two blocks, parted where the counts are farthest apart."""
    order = sorted(count, key=lambda one: (-count[one], one))
    gaps = [count[a] - count[b] for a, b in zip(order, order[1:])]
    if not gaps or max(gaps) <= _ALIKE:
        return [order]
    cut = gaps.index(max(gaps)) + 1
    return [order[:cut], order[cut:]]


# The first leaves the weekdays together.
_PARTINGS = (None, _wrong_apart, _in_two, _alike)


def _morning(event: Event) -> bool:
    return event.at == "dawn" or (not event.by_sun and event.at < 720)


def _suspended(event: Event, programme: Programme, nights: np.ndarray, year: int, change_days) -> list[Event]:
    """The event without the season round some nights: one event for each stretch of the year that remains."""
    n = nights_of(year).size
    morning = _morning(event)
    days = nights + 1 if programme.night_rule == "date" and morning else nights
    away = np.zeros(n, bool)
    away[days % n] = True
    # Close short pauses round the year, then add the margin.
    marks = np.flatnonzero(away)
    for a, b in zip(marks, np.append(marks[1:], marks[0] + n)):
        if 1 < b - a <= _PAUSE_DAYS:
            away[np.arange(a, b) % n] = True
    # The margin stops at a clock change: beyond it the clock time falls an hour elsewhere in the sun's day.
    fresh = np.zeros(n, bool)
    fresh[(np.array(sorted(change_days), dtype=int) - (1 if morning and programme.night_rule == "night" else 0)) % n] = True
    wide = away.copy()
    for _ in range(_MARGIN_DAYS):
        wide = wide | (np.roll(wide, 1) & ~fresh) | (np.roll(wide, -1) & ~np.roll(fresh, -1))
    if programme.night_rule == "date" and event.at == "dusk":
        wide |= np.roll(wide, 1)  # dusk may fall after midnight
    seasonal = due_days(replace(event, days=frozenset(range(7))), np.arange(n), year, Holidays())
    keep = seasonal & ~wide
    if not keep.any():
        return []
    if keep.all():
        return [event]
    month_day = month_days(np.arange(n), year)
    starts = np.flatnonzero(keep & ~np.roll(keep, 1))
    stops = np.flatnonzero(keep & ~np.roll(keep, -1))
    if stops[0] < starts[0]:
        stops = np.roll(stops, -1)
    return [replace(event, season=Season(int(month_day[a]), int(month_day[b]))) for a, b in zip(starts, stops)]


def _step_out(minutes, switches, conditions) -> int:
    """The smallest move that takes clock times out of what any switch's clock leaves out or repeats in the year."""
    day, clocks = np.arange(nights_of(conditions.year).size), _clocks(switches, conditions)

    def clear(minute):
        shown = [instants(day * MIN_PER_DAY + minute, sequence) for sequence in clocks]
        return not any(at.gap.any() or (~np.isnan(at.again_utc_min)).any() for at in shown)

    for step in sorted(range(-240, 241), key=lambda s: (abs(s), s)) if minutes else ():
        moved = [minute + step for minute in minutes]
        if all(0 <= m < 1440 and (m < 720) == (was < 720) and clear(m) for m, was in zip(moved, minutes)):
            return step
    return 0


def _clocks(switches, conditions) -> list[OffsetSequence]:
    """The different clocks that the switches' events follow."""
    shown = [switch.shown(conditions) for switch in switches]
    return list({sequence.key: sequence for sequence in shown}.values())


def _change_days(switches, conditions) -> set[int]:
    """Civil days on which some switch's clock is changed."""
    found = set()
    for sequence in _clocks(switches, conditions):
        found |= set(np.floor((sequence.start_utc_min[1:] + sequence.offset_min[:-1]) / MIN_PER_DAY).astype(int).tolist())
    return {day for day in found if 0 <= day < nights_of(conditions.year).size}


def _one_line(text: str) -> str:
    return " ".join(text.split())

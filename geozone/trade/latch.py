"""From events to light: the two readings of a programme, compiled, for one place and a year.

*Obeyed*: what a simple switch does. It carries out every event at the moment at which it comes; the last one wins,
across noon and across days. If dawn comes before the early-morning "on", the lamps burn through the day.

*Meant*: what the author has in mind. In every night dusk comes first, then the clock times from noon to noon, then
dawn. Of neighbouring events that turn the same way the earliest counts. An event that would come before the one that
it is meant to follow is carried out together with it, so that a period with its end before its beginning is empty.
When the sun does not go below the threshold, dusk does not come and dawn has come already.

As long as a night's events come in the order in which they are meant, both readings are the same light.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from ..compiled import kernel
from ..numbers.crossing import DAWN_ONLY, DUSK_ONLY, STAYS_ABOVE, STAYS_BELOW
from ..numbers.intervals import CLOCK, DAWN, DUSK

# Nights before the year that are run to find out how the latch stands at the first noon: a week has every weekday.
# Their dusk and dawn are those of the first night; only their order matters.
NIGHTS_BEFORE = 8
# Days after the year's last night that have clock events, so that the last interval ends where it should.
DAYS_AFTER = 3

ON, OFF = 1, 0


class Events(NamedTuple):
    """A programme on one clock, as arrays. m events in the meant order, n_day = NIGHTS_BEFORE + n_night + DAYS_AFTER.

    kind, turn, line : (m,) int8, int8, int64
        DUSK, DAWN or CLOCK; ON or OFF; the place in the programme as written, which settles ties.
    shift : (m,) float64
        Minutes after dusk or dawn; 0 for clock times.
    active : (m, n_day) uint8
        Whether the event is due on day index - NIGHTS_BEFORE: the night's date, or with `by_date` the civil date on
        which it happens.
    at_utc : (m, n_day) float64
        Clock events by night; NaN when not due.
    stream_utc, stream_turn, stream_line : (c,)
        Clock events again, all of them in the order in which they happen.
    by_date : (1,) uint8
    wall_start, wall_offset : (k,) float64
        The clock that civil dates are read on.
    """

    kind: np.ndarray
    turn: np.ndarray
    line: np.ndarray
    shift: np.ndarray
    active: np.ndarray
    at_utc: np.ndarray
    stream_utc: np.ndarray
    stream_turn: np.ndarray
    stream_line: np.ndarray
    by_date: np.ndarray
    wall_start: np.ndarray
    wall_offset: np.ndarray


def capacity(events: Events, n_night: int) -> int:
    """Enough places for the intervals of a year."""
    sun = int((events.kind != CLOCK).sum()) * (n_night + NIGHTS_BEFORE + 2)
    return (sun + events.stream_utc.size + events.kind.size * (n_night + NIGHTS_BEFORE)) + 8


@kernel()
def _due_by_date(active, i, k, kind, utc, wall_start, wall_offset):
    """Whether sun event i of night k is due on the civil date on which it happens; utc is NaN if it does not."""
    if math.isnan(utc):
        day = k if kind == DUSK else k + 1
    else:
        j = wall_start.size - 1
        while j > 0 and wall_start[j] > utc:
            j -= 1
        day = int(math.floor((utc + wall_offset[j]) / 1440.0))
    index = day + NIGHTS_BEFORE
    return 0 <= index < active.shape[1] and active[i, index] != 0


@kernel()
def _turn(on, t, kind, n, lit, ends, kinds):
    """Carry out one event; returns (n, lit). The open interval sits at place n."""
    if on and not lit:
        if n > 0 and ends[1, n - 1] == t:
            return n - 1, True
        ends[0, n] = t
        kinds[0, n] = kind
        return n, True
    if not on and lit:
        if t > ends[0, n]:
            ends[1, n] = t
            kinds[1, n] = kind
            return n + 1, False
        return n, False
    return n, lit


@kernel()
def _close(n, lit, last, ends, kinds):
    if lit and last > ends[0, n]:
        ends[1, n] = last
        kinds[1, n] = CLOCK
        return n + 1
    return n


@kernel()
def obeyed(events, dusk, dawn, state, noon, ends, kinds, scratch):
    """Lit intervals of a simple switch.

    Parameters
    ----------
    events : Events
    dusk, dawn : (n_night,) float64
        When the switch takes dusk and dawn to be [minutes since 1 January 00:00 UTC].
    state : (n_night,) int8
    noon : (n_night + 1,) float64
    ends : (2, capacity) float64, written
    kinds : (2, capacity) int8, written
    scratch : (3, capacity) float64

    Returns
    -------
    int
        How many intervals.
    """
    # Taken out of the record once: every access inside the loops would count references.
    kinds_of, turn_of, line_of, shift, active = events.kind, events.turn, events.line, events.shift, events.active
    stream_utc, stream_turn, stream_line = events.stream_utc, events.stream_turn, events.stream_line
    by_date, wall_start, wall_offset = events.by_date[0] != 0, events.wall_start, events.wall_offset
    m, n_night = kinds_of.size, dusk.size
    c = 0
    for k in range(-NIGHTS_BEFORE, n_night):
        at = max(k, 0)
        back = min(k, 0) * 1440.0
        for i in range(m):
            kind = kinds_of[i]
            if kind == CLOCK:
                continue
            t = (dusk[at] if kind == DUSK else dawn[at]) + back
            if math.isnan(t):
                # A year that begins in the polar night: the dusk that began it lies before it.
                if not (k == -NIGHTS_BEFORE and kind == DUSK and state[0] != STAYS_ABOVE):
                    continue
                t = noon[0] + back
            t += shift[i]
            if by_date:
                if not _due_by_date(active, i, k, kind, t, wall_start, wall_offset):
                    continue
            elif active[i, k + NIGHTS_BEFORE] == 0:
                continue
            p = c
            while p > 0 and (scratch[0, p - 1] > t or (scratch[0, p - 1] == t and scratch[1, p - 1] > line_of[i])):
                scratch[0, p] = scratch[0, p - 1]
                scratch[1, p] = scratch[1, p - 1]
                scratch[2, p] = scratch[2, p - 1]
                p -= 1
            scratch[0, p] = t
            scratch[1, p] = line_of[i]
            scratch[2, p] = turn_of[i] * 2 + kind
            c += 1
    n, lit = 0, False
    s, q = 0, 0
    stream = stream_utc.size
    while s < c or q < stream:
        sun_next = s < c and (q >= stream or scratch[0, s] < stream_utc[q] or (
            scratch[0, s] == stream_utc[q] and scratch[1, s] < stream_line[q]))
        if sun_next:
            code = int(scratch[2, s])
            n, lit = _turn(code >= 2, scratch[0, s], code & 1, n, lit, ends, kinds)
            s += 1
        else:
            n, lit = _turn(stream_turn[q] == ON, stream_utc[q], CLOCK, n, lit, ends, kinds)
            q += 1
    return _close(n, lit, noon[n_night] + 1440.0, ends, kinds)


@kernel()
def meant(events, dusk, dawn, state, noon, ends, kinds):
    """Lit intervals as the author means them; arguments and result as for `obeyed`."""
    kinds_of, turn_of, shift, active, at_utc = events.kind, events.turn, events.shift, events.active, events.at_utc
    by_date, wall_start, wall_offset = events.by_date[0] != 0, events.wall_start, events.wall_offset
    m, n_night = kinds_of.size, dusk.size
    n, lit = 0, False
    before = -math.inf
    for k in range(-NIGHTS_BEFORE, n_night):
        at = max(k, 0)
        back = min(k, 0) * 1440.0
        st = state[at]
        run_turn, run_t, run_kind = -1, math.inf, 0
        for i in range(m):
            kind = kinds_of[i]
            if kind == CLOCK:
                t = at_utc[i, k + NIGHTS_BEFORE]
                if math.isnan(t):
                    continue
            else:
                t = (dusk[at] if kind == DUSK else dawn[at]) + shift[i] + back
                if by_date:
                    if not _due_by_date(active, i, k, kind, t, wall_start, wall_offset):
                        continue
                elif active[i, k + NIGHTS_BEFORE] == 0:
                    continue
                if st == STAYS_ABOVE:
                    if kind == DUSK:
                        continue
                    t = -math.inf
                elif kind == DUSK and (st == STAYS_BELOW or st == DAWN_ONLY):
                    t = noon[at] + back
                elif kind == DAWN and (st == STAYS_BELOW or st == DUSK_ONLY):
                    t = noon[at + 1] + back
            turn = turn_of[i]
            if turn != run_turn:
                if run_turn >= 0:
                    before = max(before, run_t)
                    n, lit = _turn(run_turn == ON, before, run_kind, n, lit, ends, kinds)
                run_turn, run_t, run_kind = turn, t, kind
            elif t < run_t:
                run_t, run_kind = t, kind
        if run_turn >= 0:
            before = max(before, run_t)
            n, lit = _turn(run_turn == ON, before, run_kind, n, lit, ends, kinds)
    return _close(n, lit, noon[n_night] + 1440.0, ends, kinds)

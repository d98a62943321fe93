"""The log of an audit: switchings put to nights and programmes, a whole log in UTC noticed, and what it says joined with readings of the display."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..answers import Answers
from ..auditing.candidates import SettingSlips
from ..auditing.diagnosis import MOST_CREPT_MIN, WATCH_MIN, Diagnosis, Explanation
from ..auditing.lightsensor import step_of, under_one_sky
from ..auditing.logdiagnosis import LogFinding, LogFindings, diagnose_logs
from ..auditing.logexplained import in_order
from ..auditing.logslips import LogSlips, filled
from ..auditing.nightlog import DAWN, DUSK, OFF, ON, Seen, Slot, seen_by_night
from ..numbers.clock import offset_min_at, offsets
from ..numbers.intervals import CLOCK
from ..numbers.sun import switch_times
from ..trade.duedays import events_on
from ..trade.latch import NIGHTS_BEFORE
from ..trade.programme import DUSK_TO_DAWN, Holidays, Programme
from ..trade.readings import Keyed, wrapped
from ..trade.switchclock import Keying
from .logged import Logged

#: A log reads as UTC, or as standard time, where so many of at least so many sites then agree with their setting, and so few as legal time.
_MOST, _FEW, _LEAST_SITES = 0.6, 0.2, 3
#: To within so many minutes.
_AGREES_MIN = 4.0
#: "Their middle time" of fewer nights is none.
_LEAST_NIGHTS = 5

CONCLUDES_NOTHING = ("light sensor", "scatters", "too few nights", "not used")


@dataclass(frozen=True, eq=False)
class _Batch:
    """Sites of one right setting, programme and step of the log, with their nights."""

    sites: list[int]
    seen: Seen
    clock_utc_min: np.ndarray
    ahead_min: np.ndarray
    step_min: float


class AuditLog:
    """The log of one audit.

    Parameters
    ----------
    answers : Answers
    rights : list of Keyed
        Of each site.
    keyings : list of Keying
    logged : Logged
    holidays : Holidays
    """

    def __init__(self, answers: Answers, rights: list[Keyed], keyings: list[Keying], logged: Logged, holidays: Holidays = Holidays()):
        self.logged, self._answers, self._rights = logged, answers, rights
        self.rejects, self.notes = list(logged.rejects), list(logged.notes)
        self.sites = np.unique(logged.site).tolist()
        self.found: dict[int, LogFinding] = {}
        self._left: dict[int, np.ndarray] = {}
        self._batches: dict[Keyed, list[_Batch]] = {}
        self.contradicted: set[int] = set()
        names = answers.programmes.sites["programme"].astype(str).tolist() if answers.programmes is not None else None
        known = {one.name: one for one in answers.programmes.programmes} if answers.programmes is not None else {}
        order = np.argsort(logged.site, kind="stable")
        begin = np.searchsorted(logged.site[order], [*self.sites, len(rights)])
        apart: dict[tuple, list[tuple[int, np.ndarray]]] = {}
        for site, a, b in zip(self.sites, begin[:-1], begin[1:], strict=True):
            mine = order[a:b]
            programme = DUSK_TO_DAWN if names is None else known[names[site]]
            apart.setdefault((rights[site], programme, keyings[site].sequence.key, step_of(logged.of_day_min[mine])), []).append((site, mine))
        for (right, programme, _, step), members in apart.items():
            self._put_to_nights(right, programme, keyings[members[0][0]], step, members, holidays)
        self._notice_other_clocks()

    def _put_to_nights(self, right: Keyed, programme: Programme, keying: Keying, step: float, members, holidays: Holidays) -> None:
        slots = slots_of(right, programme, keying, self._answers.year, holidays)
        sites = [site for site, _ in members]
        if not any(one.edge >= 0 for one in slots):
            for site in sites:
                self.found[site] = LogFinding("not used")
            return
        rows = np.concatenate([mine for _, mine in members])
        number = np.repeat(np.arange(len(members)), [mine.size for _, mine in members])
        seen = seen_by_night(number, self.logged.turn[rows], self.logged.utc_min[rows], slots, len(members))
        clock = np.array([one.planned_utc_min for one in slots if one.edge < 0]).reshape(-1, slots[0].planned_utc_min.size)
        ahead = offset_min_at(keying.sequence, np.nan_to_num(clock))
        self._batches.setdefault(right, []).append(_Batch(sites, seen, clock, ahead.astype(float), step))

    def _notice_other_clocks(self) -> None:
        """Whether the whole log is in UTC or in standard time although its times say nothing: then nothing is concluded from it, and nothing shifted in silence."""
        counts = np.zeros(3, dtype=int)
        told = np.unique(self.logged.site[~self.logged.legal])
        asked = 0
        for batches in self._batches.values():
            for batch in batches:
                for i, site in enumerate(batch.sites):
                    middle = batch.seen.sun_min[i].mean(axis=0)
                    nights = np.flatnonzero(np.isfinite(middle))
                    if nights.size < _LEAST_NIGHTS or site in told:
                        continue
                    asked += 1
                    sequence = offsets(str(self._answers.sites["legal_zone"].iloc[site]), self._answers.year)
                    ahead = offset_min_at(sequence, nights * 1440.0 + 720.0).astype(float)
                    standard = float(np.min(sequence.offset_min))
                    for k, read in enumerate((0.0, ahead, ahead - standard)):
                        counts[k] += np.median(np.abs(wrapped(middle[nights] + read))) <= _AGREES_MIN
        legal, others = counts[0], counts[1:]
        best = int(np.argmax(others))
        if asked < _LEAST_SITES or others[best] < _MOST * asked or legal > _FEW * asked:
            return
        what = ("UTC", "standard time")[best]
        mend = ("write Z behind the times, or utc into the heading (switched_on_utc)", "write what they are ahead of UTC behind the times, such as +09:30")[best]
        self.notes.append(f"{self.logged.file}: the times look like {what}, not legal time: read so {others[best]:,} of {asked:,} sites agree with their "
                          f"setting, as legal time {legal:,}. Nothing is concluded from this log, and nothing was shifted. Next: {mend}, and audit again.")
        first, row = np.unique(self.logged.site, return_index=True)
        count = np.bincount(self.logged.site)
        self.rejects += [(self.logged.file, int(self.logged.row[k]), f"{count[site]:,} switchings of {self._answers.sites['site_id'].iloc[site]}",
                          f"time: they look like {what} and do not say so. Rule: legal time, or a time with what it is ahead of UTC. Next: {mend}")
                         for site, k in zip(first.tolist(), row.tolist(), strict=True)]
        self.found.update({site: LogFinding("not used") for site in self.sites})
        self._batches.clear()

    def joined(self, setting: SettingSlips, read: dict[int, Diagnosis]) -> dict[int, Diagnosis]:
        """Diagnoses of the sites of one setting from what was read and what was logged: only what both leave possible.

        Parameters
        ----------
        setting : SettingSlips
        read : dict of int to Diagnosis
            By site: what was read on the display.
        """
        made = dict(read)
        batches = self._batches.get(setting.right)
        if not batches:
            return made
        slips = LogSlips(setting)
        for batch in batches:
            findings = diagnose_logs(batch.seen, slips, batch.clock_utc_min, batch.ahead_min, batch.step_min)
            for i, (site, one) in enumerate(zip(batch.sites, findings.found, strict=True)):
                self.found[site], self._left[site] = one, findings.left_min[i]
                if one.state in CONCLUDES_NOTHING:
                    continue
                both = _joined(read.get(site), one, findings, i, slips)
                if both is None:
                    self.contradicted.add(site)
                    both = Diagnosis("no known slip", (), (), False, "zone_and_saving")
                made[site] = both
        return made

    def look_at_neighbours(self) -> None:
        """Of sites whose times scatter those that do so with their neighbours are on light sensors. To be asked when all settings were seen to."""
        sites = [site for site, one in self.found.items() if one.state == "scatters"]
        if len(sites) < 2:
            return
        at = self._answers.sites.iloc[sites]
        together = under_one_sky(np.stack([self._left[site] for site in sites]), at["lat_deg"].to_numpy(float), at["lon_deg"].to_numpy(float))
        for site, one in zip(sites, together.tolist(), strict=True):
            if one:
                self.found[site] = replace(self.found[site], state="light sensor")

    @property
    def last_days(self) -> dict[int, int]:
        """The last night seen of each site, as a day of the year."""
        return {site: one.last_night for site, one in self.found.items() if one.last_night >= 0}

    def may_be_utc(self, site: int) -> bool:
        """Whether a site that does not agree would do so if its times were UTC."""
        one = self.found[site]
        if one.state in ("agrees", *CONCLUDES_NOTHING) or not np.isfinite(one.sum_min):
            return False
        sequence = offsets(str(self._answers.sites["legal_zone"].iloc[site]), self._answers.year)
        ahead = float(offset_min_at(sequence, one.last_night * 1440.0 + 720.0))
        return bool(abs(wrapped(one.sum_min + ahead)) <= WATCH_MIN + 1.0 and abs(ahead) > _AGREES_MIN)


def slots_of(right: Keyed, programme: Programme, keying: Keying, year: int, holidays: Holidays) -> list[Slot]:
    """The events of a programme over the nights of a year, as a switch with the right setting carries them out."""
    base = planned_sun(right, year)
    events = events_on(programme, keying.sequence, year, holidays)
    n = base.shape[1]
    made = []
    for i in range(events.kind.size):
        due = events.active[i, NIGHTS_BEFORE:NIGHTS_BEFORE + n] > 0
        turn = ON if events.turn[i] else OFF
        if events.kind[i] == CLOCK:
            made.append(Slot(turn, -1, events.at_utc[i, NIGHTS_BEFORE:NIGHTS_BEFORE + n]))
        else:
            event = programme.events[int(events.line[i])]
            edge = DUSK if event.at == "dusk" else DAWN
            # What all events at an edge have in common stands in the setting's offset already.
            shifts = {one.shift_min for one in programme.events if one.at == event.at}
            shift = event.shift_min if len(shifts) > 1 else 0
            made.append(Slot(turn, edge, np.where(due, base[edge] + shift, np.nan)))
    return made


def planned_sun(right: Keyed, year: int) -> np.ndarray:
    """(2, n_night) dusk and dawn of the right setting with its offsets; nights without one as if between their neighbours [UTC minute]."""
    times = switch_times(lat_deg=[right.lat_deg], lon_deg=[right.lon_deg], year=year, altitude_deg=right.altitude_deg)
    return np.stack([filled(times.dusk_utc_min[0]) + right.dusk_offset_min, filled(times.dawn_utc_min[0]) + right.dawn_offset_min])


def _joined(read: Diagnosis | None, log: LogFinding, findings: LogFindings, i: int, slips: LogSlips) -> Diagnosis | None:
    """One site's; None where what was read and what was logged contradict each other."""
    setting = slips.setting
    clock_open = not (np.isfinite(log.clock_fast_min) or log.clock_varies)
    if read is None or read.state == "not read":
        if log.state == "agrees":
            hidden = tuple((slip, setting.first_seen(slip, log.last_night)) for slip in log.hidden)
            return Diagnosis("agrees", (), hidden, clock_open, "zone_and_saving")
        return Diagnosis(log.state, log.explanations, (), clock_open, _next(log.explanations))
    clock_open &= read.clock_open
    if read.state == "agrees":
        if log.state == "agrees":
            fits = findings.possible(i, [slip.keyed for slip, _ in read.hidden], slips)
            return replace(read, hidden=tuple(one for one, fit in zip(read.hidden, fits, strict=True) if fit), clock_open=clock_open)
        # A slip that this reading cannot show, or one of the clock, which none can.
        unseen = {slip.keyed for slip, _ in read.hidden}
        left = [one for one in log.explanations if len(one.slips) == 1 and (one.keyed in unseen or read.clock_open and one.slips[0].about == "clock")]
        return Diagnosis("differs", tuple(left), (), clock_open, _next(left)) if left else None
    if read.state == "differs":
        fits = findings.possible(i, [_with_clock(one, log) for one in read.explanations], slips)
        left = [one for one, fit in zip(read.explanations, fits, strict=True) if fit]
        return replace(read, explanations=tuple(left), clock_open=clock_open, next_reading=read.next_reading if len(left) > 1 else "") if left else None
    return read


def _with_clock(one: Explanation, log: LogFinding) -> Keyed:
    """What a switch holds, with the minutes that its clock is off as the log has them: the slip has no number of its own."""
    if all(slip.key != "clock_minutes" for slip in one.slips) or not np.isfinite(log.sum_min):
        return one.keyed
    return one.keyed.changed(clock_error_min=float(np.clip(-log.sum_min, -MOST_CREPT_MIN, MOST_CREPT_MIN)))


#: Which reading tells a slip in each keyed value.
_TOLD_BY = {"clock": "clock", "saving": "zone_and_saving", "zone": "zone_and_saving", "zone_and_saving": "zone_and_saving", "latitude": "position",
            "longitude": "position", "position": "position", "offset": "offset", "date": "date", "threshold": "threshold", "setting": "position"}


def _next(explanations) -> str:
    """What to read at the switch: what parts the likeliest from the others; nothing where there is one only."""
    if len(explanations) < 2:
        return ""
    likely = in_order(list(explanations))
    about = [{_TOLD_BY[slip.about] for slip in one.slips} for one in likely]
    parts = [name for name in ("clock", "zone_and_saving", "position", "offset", "date", "threshold") if 0 < sum(name in one for one in about) < len(about)]
    return parts[0] if parts else next(iter(about[0]))

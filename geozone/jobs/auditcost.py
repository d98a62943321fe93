"""What the fleet costs today against the plan: energy and money of a year, with each site's own programme and the job's tariff."""

from __future__ import annotations

import numpy as np

from ..answers import Answers
from ..auditing.candidates import SettingSlips
from ..numbers import clock
from ..numbers.clock import OffsetSequence
from ..numbers.sun import State
from ..switching.burning import Union, expand, lit_minutes_by_bin, noons
from ..switching.conditions import Conditions
from ..switching.programme_year import delivered
from ..switching.programmeanswers import keyed_clocks, wall_clocks
from ..switching.tariff import bins_of
from ..trade.duedays import events_on
from ..trade.latch import Events
from ..trade.programme import DUSK_TO_DAWN, Programme
from ..trade.readings import Keyed
from ..trade.setting import Setting
from .job import Job


class Costs:
    """Energy and cost of a year at the sites of a plan, today and with its settings.

    Parameters
    ----------
    job : Job
    answers : Answers
    plain : list of Setting
        What each site should have, without its programme's shifts.

    Attributes
    ----------
    currency : str
    today, planned : (2, n) float64
        Hours lit in the year, and what a load of one watt costs; NaN where it is not known.
    """

    def __init__(self, job: Job, answers: Answers, plain: list[Setting]):
        asked, n = job.switching, len(plain)
        more = {} if asked is None else {"holidays": asked.holidays, "tariff": asked.tariff}
        basis = answers.basis
        self._conditions = Conditions.of(basis, wall_clocks=wall_clocks(keyed_clocks(answers.clock_rules, basis.year, basis.keypad.clocks)), **more)
        self.currency = self._conditions.tariff.currency
        of = {one.name: one for one in asked.programmes} if asked is not None else {}
        self._programmes = [of.get(name, DUSK_TO_DAWN) for name in answers.sites["programme"].astype(str)] if answers.programmes is not None else [DUSK_TO_DAWN] * n
        self._zones = answers.sites["legal_zone"].astype(str).tolist()
        self._plain = plain
        self._known: dict[tuple, tuple[float, float]] = {}
        self._due: dict[tuple, Events] = {}
        self.planned = np.array([self._with_plan(i) for i in range(n)], dtype=float).reshape(-1, 2).T
        self.today = np.full((2, n), np.nan)

    def agrees(self, site: int) -> None:
        """The right setting is keyed at a site."""
        self.today[:, site] = self.planned[:, site]

    def holds(self, site: int, setting: SettingSlips, keyed: Keyed, on_utc_min: np.ndarray, off_utc_min: np.ndarray) -> None:
        """Something else is keyed at a site.

        Parameters
        ----------
        site : int
        setting : SettingSlips
        keyed : Keyed
        on_utc_min, off_utc_min : (n_day,) float64
            When the switch takes dusk and dawn to be, the programme's shifts left out.
        """
        key = (keyed, self._plain[site], *self._runs(site))
        if key not in self._known:
            programme, legal = self._programmes[site], self._legal(site)
            events = self._events(programme, _shown(keyed, setting, legal))
            # Of the states only the year's first night counts: whether a polar night began it.
            state = np.where(np.isfinite(on_utc_min), State.CROSSES, State.ABOVE if keyed.lat_deg < 0 else State.BELOW)
            union = expand(events, dusk_utc_min=on_utc_min, dawn_utc_min=off_utc_min, state=state, noon_utc_min=noons(keyed.lon_deg, self._conditions.year))
            self._known[key] = self._booked(union, clock.offsets(self._zones[site], self._conditions.year))
        self.today[:, site] = self._known[key]

    def _with_plan(self, site: int) -> tuple[float, float]:
        key = (self._plain[site], *self._runs(site))
        if key not in self._known:
            legal = clock.offsets(self._zones[site], self._conditions.year)
            self._known[key] = self._booked(delivered(self._programmes[site], legal, self._conditions, self._plain[site]), legal)
        return self._known[key]

    def _runs(self, site: int) -> tuple[str, str]:
        return self._programmes[site].name, self._zones[site]

    def _legal(self, site: int) -> OffsetSequence:
        """What the switch's clock is kept on."""
        return clock.offsets(self._zones[site] if self._conditions.switch_clock == "own" else self._plain[site].legal_zone, self._conditions.year)

    def _events(self, programme: Programme, shown: OffsetSequence) -> Events:
        key = (programme.name, shown.key)
        if key not in self._due:
            self._due[key] = events_on(programme, shown, self._conditions.year, self._conditions.holidays)
        return self._due[key]

    def _booked(self, union: Union, legal: OffsetSequence) -> tuple[float, float]:
        """Hours of the year, and the cost of a load of one watt, by the tariff at the site's legal time."""
        prices = self._conditions.tariff.prices
        minutes = lit_minutes_by_bin(union, bins_of(legal, self._conditions.year, self._conditions.tariff)).reshape(12, prices.size).sum(axis=0)
        return float(minutes.sum()) / 60, float(minutes @ prices) / 60 / 1000 if prices.any() else np.nan


def _shown(keyed: Keyed, setting: SettingSlips, legal: OffsetSequence) -> OffsetSequence:
    """What the clock of a switch shows over the year, by which events at a clock time come: legal time but for an error of the clock itself."""
    if setting.on_standard(keyed):
        return OffsetSequence(np.array([-np.inf]), np.array([keyed.clock.standard_min]))
    return OffsetSequence(legal.start_utc_min.copy(), legal.offset_min + keyed.clock_error_min)

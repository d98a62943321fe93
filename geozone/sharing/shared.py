"""The best shared setting: of all that the keypad can hold the one that drifts least at the worst site, or serves most."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from ..trade.basis import Basis, DarkThreshold
from ..trade.keypad import Keypad
from ..trade.setting import Setting, Tolerance
from .drift import keyed_times, legal_lon_deg
from .keyranges import Keys
from .leastdrift import Keyed, Ranges
from .mostserved import most_served
from .nightlimits import SAME_MIN, OwnTimes, worst_factors
from .siteboxes import SiteBoxes

# Settings whose worst drift differs by less than this are equally good: UT1 - UTC alone, which is not modelled,
# is up to 0.9 s. Among them plain ones (no offsets, near the middle) are preferred.
_EQUAL_MIN = 0.01
# How far outside the sites' area a keyed position may lie [degree].
_MARGIN_LAT_DEG, _MARGIN_LON_DEG = 10.0, 1.0
# When to stop with a bound: ranges of positions, and ranges times sites.
_MOST_RANGES = 60_000
_MOST_WORK = 1e7


@dataclass(frozen=True)
class FoundSetting:
    """A shared setting that was searched for, and what is known of all others near the sites.

    Attributes
    ----------
    setting : Setting
    sites : int
        Sites that it was searched for: those on its clock, or all where one clock commands them.
    served : int
        Of them, those kept within tolerance from dusk to dawn on every judged night.
    served_at_most : int
        No setting serves more; equal to `served` where that is proved.
    factor : float
        Its worst drift in units of the two tolerances.
    factor_at_least : float
        No setting has a smaller worst drift than this, whatever it serves.
    least_drift : bool
        True if its worst drift was shown to be the smallest, within 0.01 minutes.
    """

    setting: Setting
    sites: int
    served: int
    served_at_most: int
    factor: float
    factor_at_least: float
    least_drift: bool

    @property
    def words(self) -> str:
        """What the search says about it, as a sentence."""
        if self.served == self.sites:
            rest = ("No setting near the sites uses a smaller share of the tolerance at its worst site." if self.least_drift else
                    f"No smaller share of the tolerance at the worst site was found; none is below {self.factor_at_least / self.factor:.0%} of it.")
            return rest
        who = "the one site" if self.sites == 1 else "both sites" if self.sites == 2 else f"all {self.sites:,} sites"
        if self.served_at_most == 0:
            rest = "no setting near the sites uses a smaller share of the tolerance at its worst site" if self.least_drift else \
                f"no smaller share of the tolerance at the worst site was found; none is below {self.factor_at_least / self.factor:.0%} of it"
            return f"No setting keeps {'the one site' if self.sites == 1 else 'any site'} within tolerance from dusk to dawn; {rest}."
        most = "no setting near the sites serves more" if self.served == self.served_at_most else \
            f"none near the sites serves more than {self.served_at_most:,}"
        return (f"No setting keeps {who} within tolerance from dusk to dawn; this one serves {self.served:,} of {self.sites:,}, "
                f"and {most}.")


def best_shared_setting(*, lat_deg, lon_deg, year: int, altitude_deg: float, legal_zone: str,
                        tolerance: Tolerance = Tolerance(), keypad: Keypad = Keypad()) -> Setting:
    """The keypad setting with the smallest worst drift, or, where none serves all sites, one that serves most.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
        Sites; longitudes unwrapped as `switch_times` describes.
    year, altitude_deg, tolerance, keypad
        As for `setting_drift`.
    legal_zone : str
        The zone that is keyed; all sites share its clock rule, or are commanded by its clock.

    Returns
    -------
    Setting
    """
    return searched_setting(lat_deg, lon_deg, legal_zone, Basis(year, DarkThreshold(altitude_deg), tolerance, keypad)).setting


def searched_setting(lat_deg, lon_deg, legal_zone: str, basis: Basis) -> FoundSetting:
    """The keypad setting with the smallest worst drift, or, where none serves all sites, one that serves most.

    Parameters
    ----------
    lat_deg, lon_deg : (n,) array_like [degree]
        Sites; longitudes unwrapped as `switch_times` describes.
    legal_zone : str
        The zone that is keyed; all sites share its clock rule, or are commanded by its clock.
    basis : Basis

    Returns
    -------
    FoundSetting

    Notes
    -----
    Exact over all offsets of the keypad and all its positions up to 10 degrees north or south and 1 degree east or west
    (more where a keypad's steps are coarse) of the sites, white and polar nights included: ranges of positions are split as long as
    they may hold something better, down to single positions, where nothing is estimated (`nightlimits`, `siteboxes`). What a search that
    has to stop leaves open is in the bounds. Among settings that serve equally many the one with the smallest worst drift
    of all sites is taken, of those that were come across.
    """
    search = _Search(lat_deg, lon_deg, legal_zone, basis)
    if not search.own.any_judged():
        return search.record(search.middle_setting(), search.own.n, search.own.n, 0.0)
    least, served, at_least = search.least_drift()
    if served == search.own.n:
        return search.record(least, served, served, at_least)
    return search.record(*search.most_served(least, served), at_least)


class _Search:
    def __init__(self, lat_deg, lon_deg, legal_zone: str, basis: Basis):
        self.lat, self.lon = np.atleast_1d(np.asarray(lat_deg, float)), np.atleast_1d(np.asarray(lon_deg, float))
        self.year, self.altitude_deg, self.legal_zone = basis.year, basis.altitude_deg, legal_zone
        self.tolerance, self.keypad = basis.tolerance, basis.keypad
        self.middle = (0.5 * (self.lat.min() + self.lat.max()), 0.5 * (self.lon.min() + self.lon.max()))
        self.equal = _EQUAL_MIN / min(self.tolerance.dark_min, self.tolerance.excess_min)
        self.own = OwnTimes(self.lat, self.lon, self.year, self.altitude_deg, self.tolerance.shallow_deg)

    def factors(self, setting: Setting) -> np.ndarray:
        keyed = keyed_times(setting.on_keypad(self.keypad), year=self.year, altitude_deg=self.altitude_deg)
        return worst_factors(self.own, keyed, self.tolerance)

    def setting(self, keys: Keys, keyed: Keyed) -> Setting:
        lon = self.keypad.round_deg((float(keys.lon_deg[keyed.j]) + 180.0) % 360.0 - 180.0)
        return Setting(float(keys.lat_deg[keyed.i]), lon, self.legal_zone, keyed.dusk_offset_min, keyed.dawn_offset_min)

    def middle_setting(self) -> Setting:
        lon = self.keypad.round_deg((self.middle[1] + 180.0) % 360.0 - 180.0)
        return Setting(self.keypad.round_deg(self.middle[0]), lon, self.legal_zone)

    def start(self) -> tuple[float, Setting]:
        """A few plain settings: the best of them is what the search has to beat."""
        lat = np.unique(self.keypad.round_deg(np.append(np.quantile(self.lat, (0.0, 0.25, 0.5, 0.75, 1.0)), self.middle[0])))
        lon = (self.middle[1] + 180.0) % 360.0 - 180.0
        settings = [Setting(float(one), self.keypad.round_deg(lon), self.legal_zone) for one in lat if abs(one) <= 90.0]
        factors = [self.factor(setting) for setting in settings]
        return min(factors), settings[int(np.argmin(factors))]

    def keys(self) -> Keys:
        """Every position of the keypad that is not far from the sites."""
        # Farther east or west nothing is gained but that offsets grow, once all fractions of a minute are to be had.
        step = self.keypad.coordinate_step_deg
        margin = max(_MARGIN_LON_DEG, step * Fraction(4.0 * step).limit_denominator(25).denominator)
        return Keys.of(self.keypad, (self.lat.min() - _MARGIN_LAT_DEG, self.lat.max() + _MARGIN_LAT_DEG),
                       (self.lon.min() - margin, self.lon.max() + margin), legal_lon_deg(self.legal_zone, self.year),
                       self.year, self.altitude_deg)

    def least_drift(self) -> tuple[Setting, int, float]:
        """The setting with the smallest worst drift, how many sites it serves, and the factor below which there is none."""
        high, best = self.start()
        keys, low = self.keys(), 0.0
        search = Ranges(keys, self.own, self.tolerance, self.keypad.offset_limit_min, _MOST_RANGES)
        while high - low > 0.5 * self.equal and search.left > 0:
            middle = 0.5 * (low + high)
            found = search.any_at(middle)
            if found is not None:
                best = self.setting(keys, found)
                high = min(middle, self.factor(best))
            elif search.left > 0:
                low = middle
        plain = search.plainest_at(high + 0.5 * self.equal, self.middle)
        if plain is not None:
            best = self.setting(keys, plain)
        return best, self.served(best), low

    def most_served(self, least: Setting, served: int) -> tuple[Setting, int, int]:
        """A setting that serves most sites, how many it serves, and how many no setting passes."""
        keys = self.keys()
        found = most_served(keys, SiteBoxes(self.own, self.tolerance), self.keypad.offset_limit_min,
                            lambda keyed: self.served(self.setting(keys, keyed)), served, self.middle[1], _MOST_WORK)
        settings = [self.setting(keys, keyed) for keyed in found.settings] + ([least] if found.served == served else [])
        return min(settings, key=self._rank), found.served, found.at_most

    def _rank(self, setting: Setting):
        away = np.hypot(setting.lat_deg - self.middle[0],
                        (setting.lon_deg - self.middle[1]) * np.cos(np.radians(self.middle[0])))
        return (np.round(self.factor(setting) / self.equal), abs(setting.dusk_offset_min) + abs(setting.dawn_offset_min),
                round(float(away), 6), setting.lat_deg, setting.lon_deg)

    def factor(self, setting: Setting) -> float:
        return float(self.factors(setting).max())

    def served(self, setting: Setting) -> int:
        return int(np.count_nonzero(self.factors(setting) <= 1.0 + SAME_MIN / min(self.tolerance.dark_min, self.tolerance.excess_min)))

    def record(self, setting: Setting, served: int, at_most: int, at_least: float) -> FoundSetting:
        factor = self.factor(setting)
        return FoundSetting(setting, self.own.n, served, at_most, factor, at_least, factor - at_least <= 1.1 * self.equal)


def majority_clock_rule(sites, clock_rules) -> tuple[np.ndarray, str]:
    """The clock rule with most sites: a mask of its sites and its most frequent legal zone."""
    rule = clock_rules.index[0]
    mine = (sites["clock_rule"] == rule).to_numpy()
    counts = sites.loc[mine, "legal_zone"].value_counts()
    return mine, sorted(counts.index, key=lambda zone: (-counts[zone], zone))[0]


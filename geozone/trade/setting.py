"""What is keyed into one switch, and how far it may be off."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import InputError
from ..numbers.clock import near_zones, valid_zone
from .bounds import checked_number, checked_whole
from .keypad import Keypad, check_setting

# Longitudes are unwrapped inside a run: a site at 179 may be 539 there. The same limit as `switch_times` has.
_MOST_LON_DEG = 540.0
_MOST_OFFSET_MIN = 720


# Two hours: more is no tolerance, and every position of the world would have to be looked at.
MOST_TOLERANCE_MIN = 120.0
# Beyond some degrees the rule would leave out ordinary summer nights of middle latitudes.
MOST_SHALLOW_DEG = 5.0


@dataclass(frozen=True)
class Setting:
    """What is keyed into one switch.

    Attributes
    ----------
    lat_deg, lon_deg : float
        Keyed position [degree], north and east positive. Longitudes may be unwrapped, up to 540 either way.
    legal_zone : str
        IANA name of the legal zone whose clock the switch is told to keep.
    dusk_offset_min, dawn_offset_min : int
        Whole minutes added to the computed dusk and dawn; positive is later.

    Raises
    ------
    InputError
        For a position that is none, an unknown legal zone, or an offset that is not in whole minutes.

    Examples
    --------
    >>> Setting(-35.1, 141.0, "Australia/Adelaide", dusk_offset_min=-2).on_keypad(Keypad(0.5))
    Setting(lat_deg=-35.0, lon_deg=141.0, legal_zone='Australia/Adelaide', dusk_offset_min=-2, dawn_offset_min=0)
    >>> Setting(99, 141.0, "Australia/Adelaide")
    Traceback (most recent call last):
        ...
    geozone.errors.InputError: setting: lat_deg is out of range (found: 99)
      Rule: a number from -90 to 90
      Next: degrees, north positive, south negative
    """

    lat_deg: float
    lon_deg: float
    legal_zone: str
    dusk_offset_min: int = 0
    dawn_offset_min: int = 0

    def __post_init__(self):
        checked_number("setting", "lat_deg", self.lat_deg, -90.0, 90.0, "degrees, north positive, south negative")
        checked_number("setting", "lon_deg", self.lon_deg, -_MOST_LON_DEG, _MOST_LON_DEG, "degrees, east positive, west negative")
        if not valid_zone(self.legal_zone):
            near = near_zones(str(self.legal_zone))
            raise InputError("legal_zone is no legal zone", where="setting", value=self.legal_zone,
                             rule="a name of the IANA time zone database, such as Australia/Adelaide",
                             next_step=f"did you mean {' or '.join(near)}?" if near else "check the spelling")
        for name in ("dusk_offset_min", "dawn_offset_min"):
            checked_whole("setting", name, getattr(self, name), -_MOST_OFFSET_MIN, _MOST_OFFSET_MIN,
                          "whole minutes, positive is later")

    def on_keypad(self, keypad: Keypad) -> "Setting":
        """The same setting as the keypad holds it: position rounded, offsets checked.

        Raises
        ------
        InputError
            If an offset is beyond the keypad's limit.
        """
        check_setting(self, keypad)
        return Setting(keypad.round_deg(self.lat_deg), keypad.round_deg(self.lon_deg), self.legal_zone,
                       self.dusk_offset_min, self.dawn_offset_min)


@dataclass(frozen=True)
class Tolerance:
    """The largest dark and the largest excess minutes allowed at any one switching.

    Two numbers, because a dark street and a wasted kilowatt-hour are not the same harm.

    Attributes
    ----------
    dark_min, excess_min : float [minute]
    shallow_deg : float [degree]
        Nights on which the sun passes the dark threshold by less than this at a site are not judged there; 0 judges
        every night. See `numbers.shallow.judged_nights`.
    """

    dark_min: float = 5.0
    excess_min: float = 10.0
    shallow_deg: float = 0.0

    def __post_init__(self):
        for name in ("dark_min", "excess_min"):
            if not 0 < getattr(self, name) <= MOST_TOLERANCE_MIN:
                raise InputError(f"{name} is out of range", where="tolerance", value=getattr(self, name),
                                 rule=f"minutes above 0 and at most {MOST_TOLERANCE_MIN:g}",
                                 next_step="5 minutes unlit and 10 lit too long are a usual start")
        if not 0 <= self.shallow_deg <= MOST_SHALLOW_DEG:
            raise InputError("shallow_deg is out of range", where="tolerance", value=self.shallow_deg,
                             rule=f"degrees from 0 (every night is judged) to {MOST_SHALLOW_DEG:g}",
                             next_step="1 degree leaves out the nights that no setting can follow")

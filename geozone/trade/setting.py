"""What is keyed into one switch, and how far it may be off."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import InputError
from .keypad import Keypad

# Half a day: more is no tolerance.
MOST_TOLERANCE_MIN = 720.0
# Beyond some degrees the rule would leave out ordinary summer nights of middle latitudes.
MOST_SHALLOW_DEG = 5.0


@dataclass(frozen=True)
class Setting:
    """What is keyed into one switch.

    Attributes
    ----------
    lat_deg, lon_deg : float
        Keyed position [degree], north and east positive.
    legal_zone : str
        IANA name of the legal zone whose clock the switch is told to keep.
    dusk_offset_min, dawn_offset_min : int
        Whole minutes added to the computed dusk and dawn; positive is later.
    """

    lat_deg: float
    lon_deg: float
    legal_zone: str
    dusk_offset_min: int = 0
    dawn_offset_min: int = 0

    def on_keypad(self, keypad: Keypad) -> "Setting":
        """The same setting as the keypad holds it: position rounded, offsets checked.

        Raises
        ------
        InputError
            If an offset is beyond the keypad's limit.
        """
        for name in ("dusk_offset_min", "dawn_offset_min"):
            if abs(getattr(self, name)) > keypad.offset_limit_min:
                raise InputError(f"{name} is beyond what the keypad holds", value=getattr(self, name),
                                 rule=f"at most {keypad.offset_limit_min} minutes either way",
                                 next_step="use a smaller offset or raise keypad.offset_limit_min")
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
                raise InputError(f"tolerance.{name} is out of range", value=getattr(self, name),
                                 rule="minutes above 0 and at most 720",
                                 next_step="5 minutes of dark and 10 of excess are a usual start")
        if not 0 <= self.shallow_deg <= MOST_SHALLOW_DEG:
            raise InputError("tolerance.shallow_deg is out of range", value=self.shallow_deg,
                             rule=f"degrees from 0 (every night is judged) to {MOST_SHALLOW_DEG:g}",
                             next_step="1 degree leaves out the nights that no setting can follow")

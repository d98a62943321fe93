"""What a time switch can hold: the one place of its limits, and of how a position stands on its display."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from ..schema.column import step_decimals
from .bounds import checked_whole
from .switchclock import ClockKeypad

#: A metre on the ground [degree]; finer steps change no switching time and make searches endless.
FINEST_STEP_DEG = 1e-5
#: More events than any programme has.
MOST_EVENTS = 10_000


@dataclass(frozen=True)
class Keypad:
    """The resolution and the limits of what can be keyed into a time switch.

    Attributes
    ----------
    coordinate_step_deg : float
        Smallest step of the keyed latitude and longitude [degree]. Common practice, no source: 0.1.
    offset_limit_min : int
        Largest dusk or dawn offset, either way, in whole minutes. Common practice, no source: 99.
    event_limit : int or None
        How many events a programme may have; None: any number.
    clocks : ClockKeypad
        The standard times and summer-time rules that can be keyed.

    Raises
    ------
    InputError
        For a step, a limit or clocks that no keypad has.
    """

    coordinate_step_deg: float = 0.1
    offset_limit_min: int = 99
    event_limit: int | None = None
    clocks: ClockKeypad = ClockKeypad()

    def __post_init__(self):
        if not FINEST_STEP_DEG <= self.coordinate_step_deg <= 5:
            raise InputError("coordinate_step_deg is out of range", where="keypad", value=self.coordinate_step_deg,
                             rule=f"a keypad step lies from {FINEST_STEP_DEG:.5f} to 5 degrees",
                             next_step="0.1 is common; 1 for keypads that hold whole degrees")
        if not 0 <= self.offset_limit_min <= 720:
            raise InputError("offset_limit_min is out of range", where="keypad", value=self.offset_limit_min,
                             rule="whole minutes from 0 to 720", next_step="99 is common; 0 for no offsets")
        if self.event_limit is not None:
            checked_whole("keypad", "event_limit", self.event_limit, 1, MOST_EVENTS, "leave it out where any number of events can be keyed")
        if not isinstance(self.clocks, ClockKeypad):
            raise InputError("clocks are no ClockKeypad", where="keypad", value=self.clocks,
                             rule="the standard times and summer-time rules that can be keyed",
                             next_step="leave it out for all of them, or give a ClockKeypad")

    def round_deg(self, value_deg):
        """The nearest value the keypad can show [degree]; array in, array out.

        Counts in whole steps first, so that 0.1 x 353 reads 35.3 and not 35.300000000000004.
        """
        if isinstance(value_deg, float) and math.isfinite(value_deg):
            # As below, several times as fast: a year's slips ask for hundreds of thousands.
            return round(round(value_deg / self.coordinate_step_deg) * self.coordinate_step_deg * 1e9) / 1e9 + 0.0
        steps = np.rint(np.asarray(value_deg, dtype=float) / self.coordinate_step_deg)
        rounded = np.round(steps * self.coordinate_step_deg, 9) + 0.0
        return float(rounded) if rounded.ndim == 0 else rounded


def check_programme(programme, keypad: Keypad) -> None:
    """Refuse a programme that the keypad cannot hold.

    Raises
    ------
    InputError
        A shift beyond the keypad's limit, or more events than it holds.
    """
    check_shifts(programme, keypad)
    most = keypad.event_limit
    if most is not None and len(programme.events) > most:
        raise InputError(f"programme {programme.name!r} has more events than the keypad holds",
                         where=programme.events[most].place or programme.place or None,
                         value=len(programme.events), rule=f"at most {most} events (keypad.event_limit)",
                         next_step="join days or seasons in one event, or raise keypad.event_limit")


def check_shifts(programme, keypad: Keypad) -> None:
    """The same for its shifts alone: a programme to compare with may have more events than can be keyed."""
    for event in programme.events:
        if abs(event.shift_min) > keypad.offset_limit_min:
            raise InputError("the shift is beyond what the keypad holds", where=event.place or programme.name,
                             value=event.shift_min, rule=f"at most {keypad.offset_limit_min} minutes either way",
                             next_step="use a smaller shift, a clock time, or raise keypad.offset_limit_min")


def check_setting(setting, keypad: Keypad) -> None:
    """Refuse a setting whose offsets the keypad cannot hold.

    Raises
    ------
    InputError
    """
    for name in ("dusk_offset_min", "dawn_offset_min"):
        if abs(getattr(setting, name)) > keypad.offset_limit_min:
            raise InputError(f"{name} is beyond what the keypad holds", value=getattr(setting, name),
                             rule=f"at most {keypad.offset_limit_min} minutes either way",
                             next_step="use a smaller offset or raise keypad.offset_limit_min")


def keyed_text(value_deg: float, step_deg: float, sides: str = "", number: Callable[[float, int], str] = "{:.{}f}".format) -> str:
    """A keyed latitude or longitude with the digits of the keypad's step, as it stands on the display.

    Parameters
    ----------
    value_deg : float
        [degree]
    step_deg : float
        The keypad's step [degree].
    sides : str
        "NS" or "EW": degrees and a side. Left out: the number with its sign.
    number : callable
        Writes a number with so many decimals, for another language.

    Examples
    --------
    >>> keyed_text(140.0, 0.1), keyed_text(-34.5, 0.25, "NS"), keyed_text(140.0, 1, "EW")
    ('140.0', '34.50° S', '140° E')
    """
    places = step_decimals(step_deg)
    value = round(float(value_deg), places) + 0.0  # no "-0.0"
    return f"{number(abs(value), places)}° {sides[value < 0]}" if sides else number(value, places)


def keyed_position(lat_deg: float, lon_deg: float, step_deg: float, number: Callable[[float, int], str] = "{:.{}f}".format) -> str:
    """Both with their sides: "34.6° S, 140.0° E"."""
    return f"{keyed_text(lat_deg, step_deg, 'NS', number)}, {keyed_text(lon_deg, step_deg, 'EW', number)}"

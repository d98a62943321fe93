"""What a switch has to be told, event by event: the setting's offsets and the programme's shifts, added."""

from __future__ import annotations

from dataclasses import dataclass, replace

from .programme import ALL_DAYS, Event, Programme, meant_order
from .setting import Setting


@dataclass(frozen=True)
class KeyedEvent:
    """One event as it is keyed.

    Attributes
    ----------
    event : Event
        With the sum of offset and shift as its shift.
    offset_min, shift_min : int
        What the setting and the programme have in that sum; both 0 for clock times.
    over_limit_min : int or None
        The keypad's largest value, where the sum is larger.
    evening_days : bool
        Its days are those of the evening before: a time after midnight that belongs to the night.
    """

    event: Event
    offset_min: int = 0
    shift_min: int = 0
    over_limit_min: int | None = None
    evening_days: bool = False

    def text(self) -> str:
        """The event in plain words, with what its minutes are made of."""
        parts = [f"{name} {value:+d}" for name, value in (("setting", self.offset_min), ("programme", self.shift_min)) if value]
        parts += [f"more than the {self.over_limit_min} min of one value: key both"] if self.over_limit_min is not None else []
        parts += ["days of the evening before"] if self.evening_days else []
        return self.event.text() + (f" ({', '.join(parts)})" if parts else "")


def events_to_key(programme: Programme, setting: Setting, offset_limit_min: int | None = None) -> tuple[KeyedEvent, ...]:
    """What a switch with a setting has to do, in the order of a night.

    Parameters
    ----------
    programme : Programme
    setting : Setting
    offset_limit_min : int, optional
        Largest value [minute] that the keypad holds; a sum beyond it is said.

    Examples
    --------
    >>> split = Programme("p", (Event("on", "dusk", 10), Event("off", 1350), Event("off", "dawn")))
    >>> [one.text() for one in events_to_key(split, Setting(-35.1, 141.0, "Australia/Adelaide", -2, 0))]
    ['on 8 min after dusk (setting -2, programme +10)', 'off at 22:30', 'off at dawn']
    """
    keyed = []
    for place in meant_order(programme.events):
        event = programme.events[place]
        offset = 0 if not event.by_sun else setting.dusk_offset_min if event.at == "dusk" else setting.dawn_offset_min
        total = offset + event.shift_min
        over = offset_limit_min is not None and abs(total) > offset_limit_min
        evening = programme.night_rule == "night" and isinstance(event.at, int) and event.at < 720 and event.days != ALL_DAYS
        keyed.append(KeyedEvent(replace(event, shift_min=total), offset, event.shift_min, offset_limit_min if over else None, evening))
    return tuple(keyed)

"""What a plan rests on: the year, when it counts as dark, how far a switching may be off, and what the switches can hold."""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Real

from ..errors import InputError
from ..numbers.almanac import check_year, check_years
from ..numbers.daylight import THRESHOLDS, dark_threshold
from .keypad import Keypad
from .setting import Tolerance

#: Whose clock a switch goes by: its own, or that of the one switch that commands all.
SWITCH_CLOCKS = ("own", "master")


@dataclass(frozen=True)
class DarkThreshold:
    """The altitude of the sun below which light is needed, with its words.

    Attributes
    ----------
    altitude_deg : float
        Of the sun's centre [degree], negative below the horizon.
    words : str
        As tables and maps say it; left out: by the altitude.
    told_by : str
        The kind that it was told by, one of `geozone.numbers.daylight.THRESHOLDS`; "" for an altitude.
    told : str
        What stood under it, such as civil, or 5 for 5 lx; other languages make their words of it.

    Raises
    ------
    InputError
        For an altitude that the sun never has, or words that are none.

    Examples
    --------
    >>> DarkThreshold(-4.0).words
    'sun 4 degrees below the horizon'
    >>> DarkThreshold.of(twilight="civil")
    DarkThreshold(altitude_deg=-6.0, words='civil twilight (sun 6 degrees below the horizon)', told_by='twilight', told='civil')
    """

    altitude_deg: float
    words: str = ""
    told_by: str = ""
    told: str = ""

    def __post_init__(self):
        number = isinstance(self.altitude_deg, Real) and not isinstance(self.altitude_deg, bool)
        if not number or not -90.0 <= self.altitude_deg <= 90.0:
            raise InputError("the dark threshold is not an altitude", where="dark threshold", value=self.altitude_deg,
                             rule="degrees from -90 to 90, negative below the horizon",
                             next_step="lighting plans use -0.8333 (sunset) to -6 (civil twilight)")
        if not isinstance(self.words, str):
            raise InputError("the words of the dark threshold are no text", where="dark threshold", value=self.words,
                             rule="a text such as 'sun 4 degrees below the horizon'", next_step="leave them out")
        if not self.words:
            object.__setattr__(self, "words", dark_threshold("altitude_deg", self.altitude_deg)[1])

    @classmethod
    def of(cls, **told) -> DarkThreshold:
        """The threshold told by one of its kinds: altitude_deg, twilight or illuminance_lx. One that is None is not told.

        Raises
        ------
        InputError
            Where not one of them is given, or it cannot be used.
        """
        given = {kind: value for kind, value in told.items() if value is not None}
        if len(given) != 1 or not given.keys() <= THRESHOLDS.keys():
            raise InputError("the dark threshold is not told", where="dark threshold", value=", ".join(given) or "none",
                             rule=f"give exactly one of {', '.join(THRESHOLDS)}",
                             next_step="keep one of them" if given else "for example altitude_deg = -4.0")
        kind, value = given.popitem()
        altitude_deg, words = dark_threshold(kind, value)
        return cls(altitude_deg, words, kind, f"{value:g}" if isinstance(value, Real) else str(value))


@dataclass(frozen=True)
class Basis:
    """What every answer of a plan rests on. Made once, handed on whole.

    Attributes
    ----------
    year : int
        Dusk, dawn and clock changes are those of this year.
    dark : DarkThreshold
        When light is needed, the same at the sites and in the switches. A number is taken for its altitude [degree].
    tolerance : Tolerance
        How far one switching may be off.
    keypad : Keypad
        What the switches can hold.
    switch_clock : {"own", "master"}
        "own": every switch runs its own legal clock; "master": one switch on the setting's clock commands all.
    years : int
        Nights of so many years from `year` on are to be kept within tolerance: for what is to hold longer than a year.

    Raises
    ------
    InputError
        For a year that cannot be computed, and what is none of these records.

    Examples
    --------
    >>> basis = Basis(2027, -4.0, Tolerance(3, 6))
    >>> basis.altitude_deg, basis.dark.words
    (-4.0, 'sun 4 degrees below the horizon')
    """

    year: int
    dark: DarkThreshold
    tolerance: Tolerance = Tolerance()
    keypad: Keypad = Keypad()
    switch_clock: str = "own"
    years: int = 1

    def __post_init__(self):
        try:
            object.__setattr__(self, "year", check_year(self.year))
            object.__setattr__(self, "years", check_years(self.year, self.years))
        except InputError as error:
            error.where = "basis"
            raise
        if isinstance(self.dark, Real) and not isinstance(self.dark, bool):
            object.__setattr__(self, "dark", DarkThreshold(float(self.dark)))
        for name, kind in (("dark", DarkThreshold), ("tolerance", Tolerance), ("keypad", Keypad)):
            if not isinstance(getattr(self, name), kind):
                raise InputError(f"{name} is no {kind.__name__}", where="basis", value=getattr(self, name), rule=f"a {kind.__name__}",
                                 next_step=f"make it with geozone.{kind.__name__}(...)")
        if self.switch_clock not in SWITCH_CLOCKS:
            raise InputError("switch_clock is not known", where="basis", value=self.switch_clock, rule=f"one of {', '.join(SWITCH_CLOCKS)}",
                             next_step='"own" where every switch runs its own clock')

    @property
    def altitude_deg(self) -> float:
        """Altitude of the sun's centre below which light is needed [degree]."""
        return self.dark.altitude_deg

"""What programmes need to know of a plan: its basis, and what belongs to programmes alone."""

from __future__ import annotations

from dataclasses import dataclass, fields

from ..errors import InputError
from ..trade.basis import Basis
from ..trade.programme import Holidays
from .tariff import Tariff


@dataclass(frozen=True)
class Conditions(Basis):
    """A plan's basis with what holds for its programmes.

    Attributes
    ----------
    year, dark, tolerance, keypad, switch_clock
        As in `Basis`.
    holidays : Holidays
    tariff : Tariff
    wall_clocks : dict or None
        What the switches really show where it is not legal time: `OffsetSequence.key` of the legal clock to the
        `OffsetSequence` of the switch, as `best_keying` finds it. Clock events follow it; dusk and dawn do not, as the switch
        then shifts both its clock and its dusk.

    Examples
    --------
    >>> Conditions(2027, -4.0, tariff=Tariff(0.3)).altitude_deg
    -4.0
    """

    holidays: Holidays = Holidays()
    tariff: Tariff = Tariff()
    wall_clocks: dict | None = None

    def __post_init__(self):
        super().__post_init__()
        for name, kind in (("holidays", Holidays), ("tariff", Tariff)):
            if not isinstance(getattr(self, name), kind):
                raise InputError(f"{name} is no {kind.__name__}", where="conditions", value=getattr(self, name), rule=f"a {kind.__name__}",
                                 next_step=f"make it with geozone.{kind.__name__}(...)")

    @classmethod
    def of(cls, basis: Basis, **more) -> Conditions:
        """The conditions on a basis; what is left out of `holidays`, `tariff` and `wall_clocks` is none."""
        return cls(**{one.name: getattr(basis, one.name) for one in fields(Basis)}, **more)

"""Sheets of paper: sizes, the frame, and the grid references along it."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import InputError

#: Short and long side of the sizes of ISO 216 [mm].
SIZES_MM = {"A4": (210, 297), "A3": (297, 420), "A2": (420, 594), "A1": (594, 841)}
ORIENTATIONS = ("landscape", "portrait")

# In the manner of ISO 5457 (from memory): 20 mm on the left for binding, 10 mm elsewhere; fields of 50 mm counted from the middle.
_LEFT_MM, _OTHER_MM, _FIELD_MM = 20.0, 10.0, 50.0
_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # I and O are left out

@dataclass(frozen=True)
class Box:
    """A rectangle on the sheet [mm], from the upper left corner of the paper."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.x + self.width

    @property
    def bottom(self) -> float:
        return self.y + self.height

    def holds(self, x: float, y: float) -> bool:
        """Whether a point lies inside."""
        return self.x <= x <= self.right and self.y <= y <= self.bottom


@dataclass(frozen=True)
class Paper:
    """One size of sheet and how it lies.

    Raises
    ------
    InputError
        For a size or orientation that is not offered.
    """

    size: str = "A3"
    orientation: str = "landscape"

    def __post_init__(self):
        if self.size not in SIZES_MM:
            raise InputError("no such sheet size", value=self.size, rule=f"one of {', '.join(SIZES_MM)}")
        if self.orientation not in ORIENTATIONS:
            raise InputError("no such orientation", value=self.orientation, rule=" or ".join(ORIENTATIONS))

    @property
    def width(self) -> float:
        short, long = SIZES_MM[self.size]
        return float(long if self.orientation == "landscape" else short)

    @property
    def height(self) -> float:
        short, long = SIZES_MM[self.size]
        return float(short if self.orientation == "landscape" else long)

    @property
    def frame(self) -> Box:
        """The drawing space inside the frame."""
        return Box(_LEFT_MM, _OTHER_MM, self.width - _LEFT_MM - _OTHER_MM, self.height - 2 * _OTHER_MM)

    def fields(self, axis: str) -> list[tuple[str, float, float]]:
        """Grid fields along one side: name, begin and end [mm]. Numbers run from the left, letters from the top.

        Fields are counted from the middle of the sheet, so that the outer ones take what is left; an outer field of less than
        half a field is joined to its neighbour.
        """
        begin, length = (self.frame.x, self.frame.width) if axis == "x" else (self.frame.y, self.frame.height)
        middle = (self.width if axis == "x" else self.height) / 2
        edges = {begin, begin + length, middle}
        step = _FIELD_MM
        while middle - step > begin + _FIELD_MM / 2 or middle + step < begin + length - _FIELD_MM / 2:
            edges |= {edge for edge in (middle - step, middle + step) if begin + _FIELD_MM / 2 < edge < begin + length - _FIELD_MM / 2}
            step += _FIELD_MM
        ordered = sorted(edges)
        names = [str(i + 1) for i in range(len(ordered) - 1)] if axis == "x" else list(_LETTERS[:len(ordered) - 1])
        return list(zip(names, ordered[:-1], ordered[1:], strict=True))

    def reference(self, x: float, y: float) -> str:
        """The grid reference of a point of the sheet [mm], such as "C4"."""
        def of(axis: str, value: float) -> str:
            fields = self.fields(axis)
            return next((name for name, _, end in fields if value <= end), fields[-1][0])

        return of("y", y) + of("x", x)

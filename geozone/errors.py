"""What went wrong, said so that the person who can mend it knows what to do next."""

from __future__ import annotations

import re

# What a terminal obeys instead of showing: C0 and C1 controls, marks that turn the direction of text, line separators, halves
# of characters, tags (Unicode 16.0, sections 23.1 and 23.2; Unicode TR 36 on the direction).
_OBEYED = re.compile("[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ud800-\udfff\U000e0000-\U000e007f]")


def visible(text: str) -> str:
    """Text with every character that a terminal would obey shown as a sign: ESC as "\u241b", others by their code.

    Examples
    --------
    >>> visible("North\\x1b[2J")
    'North\u241b[2J'
    """
    return _OBEYED.sub(_sign, text)


def _sign(match: re.Match) -> str:
    code = ord(match[0])
    if code < 0x20:
        return chr(0x2400 + code)
    return "\u2421" if code == 0x7f else f"<U+{code:04X}>"


class GeozoneError(Exception):
    """A mistake that the user can mend: printed as one message, exit code 2, no traceback.

    Parameters
    ----------
    what : str
        What is wrong, in plain words.
    where : str, optional
        The file, and the row, line or key in it.
    value : object, optional
        The offending value as it was read.
    rule : str, optional
        What would have been right.
    next_step : str, optional
        What to do now.
    """

    def __init__(self, what: str, *, where: str | None = None, value: object = None,
                 rule: str | None = None, next_step: str | None = None):
        self.what, self.where, self.value = what, where, value
        self.rule, self.next_step = rule, next_step
        self.notes: tuple[str, ...] = ()
        self.key: tuple[str, ...] = ()  # of the job file, where a value stated there is the cause
        super().__init__(str(self))

    def __str__(self) -> str:
        head = f"{self.where}: {self.what}" if self.where else self.what
        if self.value is not None:
            head += f" (found: {_short(self.value)})"
        parts = [visible(_cut(head, 2000))]
        if self.rule:
            parts.append(f"Rule: {visible(_cut(self.rule, 2000))}")
        if self.next_step:
            parts.append(f"Next: {visible(_cut(self.next_step, 2000))}")
        parts += [f"Note: {visible(_cut(note, 2000))}" for note in self.notes]
        return "\n  ".join(parts)

    def at(self, *key: str) -> GeozoneError:
        """The same error, caused by a value that the job file states under this key."""
        self.key = key
        return self

    def noted(self, notes) -> GeozoneError:
        """The same error with what was found out before it, such as the encoding: it may be the cause."""
        self.notes = tuple(dict.fromkeys((*self.notes, *notes)))
        return self


class InputError(GeozoneError):
    """A file, table or value that the user gave cannot be used."""


class OutputError(GeozoneError):
    """The output folder cannot be written; nothing was left half-written."""


class PlanCheckError(RuntimeError):
    """An answer failed its own verification. A defect of geozone, never the user's mistake."""


class UndeclaredError(RuntimeError):
    """A column or a word that no declaration knows is about to leave the program. A defect of geozone, never the user's."""


def _short(value: object, limit: int = 120) -> str:
    try:
        text = value if isinstance(value, str) else repr(value)
    except ValueError:  # Python writes no number of thousands of digits
        text = "a number of thousands of digits"
    text = _cut(" ".join(text[:10 * limit].split()), limit)
    return repr(text) if isinstance(value, str) else text


def _cut(text: str, limit: int) -> str:
    return text if len(text) <= limit else text[: limit - 1] + "\u2026"

"""What went wrong, said so that the person who can mend it knows what to do next."""

from __future__ import annotations


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
        parts = [head]
        if self.rule:
            parts.append(f"Rule: {self.rule}")
        if self.next_step:
            parts.append(f"Next: {self.next_step}")
        parts += [f"Note: {note}" for note in self.notes]
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
    text = value if isinstance(value, str) else repr(value)
    text = " ".join(text.split())
    return repr(text if len(text) <= limit else text[: limit - 1] + "…") if isinstance(value, str) else text

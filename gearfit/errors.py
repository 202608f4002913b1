"""The whole error tree. Every message says where, what was found, what is allowed and what to do."""

from __future__ import annotations


class GearfitError(Exception):
    """Root of every error that gearfit raises on purpose."""


class InputError(GearfitError, ValueError):
    """What the person handed in cannot be used.

    Parameters
    ----------
    where : str
        File, and where it helps the line, point, row or key.
    problem : str
        What was found and what is allowed, without a closing full stop.
    remedy : str
        What to do, as a sentence without a closing full stop.
    """

    def __init__(self, where: str, problem: str, remedy: str) -> None:
        self.where = where
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{where}: {problem}. {remedy}.")

    def __reduce__(self) -> tuple[type[InputError], tuple[str, str, str]]:
        """Pass from one process to another with all three parts."""
        return type(self), (self.where, self.problem, self.remedy)


class FolderError(InputError):
    """The ride folder as a whole holds nothing to work on."""


class BikeFileError(InputError):
    """bike.toml holds an unknown key, a wrong type or an impossible value."""


class LogError(InputError):
    """A log or sheet cannot be read."""


class NoRowsError(LogError):
    """A sheet or log has a header and no rows yet."""


class OwnTableError(LogError):
    """A table that gearfit wrote is no ride."""


class UnitError(LogError):
    """A column's unit cannot be decided with certainty."""


class UndecidableError(GearfitError, ValueError):
    """The samples cannot decide what was asked; the message says what is missing."""

"""Errors a grower can meet, each with where, what we got, what is needed and what to do."""

from collections.abc import Iterable


class DawnbrewError(Exception):
    """A fault that a person can mend.

    Args:
        where: The place, in the grower's words, with file and line where there is one.
        got: What was found there, short.
        need: What would have been right.
        fix: What to do about it.
    """

    def __init__(self, *, where: str, got: str, need: str, fix: str) -> None:
        self.where = where
        self.got = got
        self.need = need
        self.fix = fix
        super().__init__(f"{where}: got {got}; {need}. {fix}")


class BadQuantity(DawnbrewError):
    """A quantity that is not `NUMBER UNIT` of the kind that is meant."""


class BadMoment(DawnbrewError):
    """A day, a time of day or a moment that cannot be read or does not exist."""


class BadFarm(DawnbrewError):
    """One fault of a farm file."""


class BadFarmFile(DawnbrewError):
    """All faults of one farm file, in the order of their lines.

    Attributes:
        faults: The single faults, never empty.
    """

    def __init__(self, file_name: str, faults: Iterable[BadFarm]) -> None:
        self.faults: tuple[BadFarm, ...] = tuple(faults)
        count = len(self.faults)
        super().__init__(
            where=file_name,
            got=f"{count} fault{'s' if count != 1 else ''}",
            need="the farm file must be free of faults before anything is planned",
            fix="Mend what is listed and run the command again.",
        )


class NoSuchId(DawnbrewError):
    """An id that the plan does not hold."""


class CannotWrite(DawnbrewError):
    """A file that could not be written; what was there before is untouched."""


class SolverFailed(DawnbrewError):
    """The solver refused a model or a setting; never raised for too much work, which is an answer."""

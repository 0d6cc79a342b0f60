"""Every error surgesim raises on purpose, under one root.

The command line turns these into one clear message and an exit code; a caller of the
library catches :class:`SurgesimError`, or the builtin each subclass also derives from.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One thing wrong with an input file, located.

    ``line`` and ``column`` count from 1; 0 means the file as a whole.
    ``path`` is where it stands in the file, for example ``cables.field run.length``.
    """

    file: str
    line: int
    column: int
    path: str
    message: str
    hint: str = ""

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file or "surgesim"
        scope = f" {self.path}:" if self.path else ""
        hint = f"; {self.hint}" if self.hint else ""
        return f"{place}:{scope} {self.message}{hint}"


class SurgesimError(Exception):
    """Root of all deliberate errors. ``exit_code`` is what the command line ends with."""

    exit_code = 3


class InputError(SurgesimError, ValueError):
    """The user's input cannot be used. Carries every problem found, in file order."""

    exit_code = 2

    def __init__(self, problems: list[Problem] | tuple[Problem, ...]) -> None:
        self.problems = tuple(sorted(problems, key=lambda p: (p.file, p.line, p.column, p.path)))
        super().__init__("\n".join(str(problem) for problem in self.problems))

    @classmethod
    def of(cls, message: str, *, file: str = "", path: str = "", hint: str = "") -> InputError:
        """An input error that has no line: a command-line word, a missing file."""
        return cls([Problem(file, 0, 0, path, message, hint)])

    @property
    def path(self) -> str:
        """Where the first problem stands in its file, such as ``cables.field run.length``."""
        return self.problems[0].path

    @property
    def line(self) -> int:
        """Line of the first problem, from 1; 0 where it has none."""
        return self.problems[0].line

    @property
    def hint(self) -> str:
        """What to do about the first problem; may be empty."""
        return self.problems[0].hint


class EngineError(SurgesimError, RuntimeError):
    """The engine could not produce a result. Says why in its own words and what to try."""

    def __init__(self, message: str, *, hint: str = "", log: str = "", deck: str = "") -> None:
        self.message, self.hint, self.log, self.deck = message, hint, log, deck
        super().__init__(f"{message}; {hint}" if hint else message)


class EngineMissing(EngineError):
    """ngspice is not installed, too old, or does not start."""


class ResultRefused(EngineError):
    """The engine answered, but the answer broke a check and is not shown."""

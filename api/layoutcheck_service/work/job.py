"""What is asked of a worker and what it answers."""

from __future__ import annotations

import pkgutil
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from starlette.responses import Response

from layoutcheck.document import LayoutFaults, read_text
from layoutcheck_service.limits import Limits, faults_of_shape
from layoutcheck_service.problems import Kind, ProblemError, moved_under

Plain = str | int | float | bool | None


@dataclass(frozen=True)
class Body:
    """The body of a request, where the work is done: in memory, or in a file where it is large."""

    limits: Limits
    held: bytes = b""
    file: Path | None = None

    def read(self) -> bytes:
        """Give its bytes."""
        return self.held if self.file is None else self.file.read_bytes()

    def put(self, path: Path) -> None:
        """Put its bytes in a file of that path, once."""
        if self.file is None:
            path.write_bytes(self.held)
        else:
            shutil.move(self.file, path)

    def data(self) -> Any:  # noqa: ANN401 - JSON data
        """Parse it as JSON, strictly: no repeated names, no NaN, nothing over a limit.

        Raises ProblemError.
        """
        try:
            data = read_text(self.read())
        except LayoutFaults as error:
            raise ProblemError(
                Kind.UNREADABLE,
                "Send one JSON text in UTF-8, without repeated names and without NaN.",
                faults=moved_under("", error.faults),
            ) from None
        faults = faults_of_shape(data, self.limits)
        if faults:
            detail = "The body is larger inside than the service reads; see each place."
            raise ProblemError(Kind.UNUSABLE, detail, faults=moved_under("", faults))
        return data


# What does the work of a route. A module-level function, so that another process finds it by name.
Answerer = Callable[..., Response]


@dataclass(frozen=True)
class Job:
    """One piece of work: the function's name, its arguments after the body, and the body.

    long: it may take many seconds, so that such jobs must not hold every worker.
    """

    function: str
    args: tuple[Plain, ...] = ()
    held: bytes = b""
    file: str | None = None
    long: bool = False

    def done(self, limits: Limits) -> Response:
        """Do it, here and now. Raises what the function raises."""
        file = None if self.file is None else Path(self.file)
        answer = function_named(self.function)
        return answer(Body(limits=limits, held=self.held, file=file), *self.args)


def name_of(function: Answerer) -> str:
    """Give the name by which another process finds a function. Raises TypeError if none does."""
    name = f"{function.__module__}:{getattr(function, '__qualname__', '?')}"
    if "<" in name or "?" in name:
        raise TypeError(f"{name} is not a function at the top of a module")
    return name


@lru_cache(maxsize=256)
def function_named(name: str) -> Answerer:
    """Find a function by the name that `name_of` gave."""
    found: Answerer = pkgutil.resolve_name(name)
    return found


@dataclass(frozen=True)
class Answer:
    """What HTTP is to say: status, headers as they go out, body."""

    status: int
    headers: tuple[tuple[bytes, bytes], ...]
    body: bytes

    @classmethod
    def of(cls, response: Response) -> Answer:
        """Take what a response holds. Only whole ones, never streams."""
        return cls(response.status_code, tuple(response.raw_headers), bytes(response.body))

    def response(self) -> Response:
        """Give it as a response again, without writing anything a second time."""
        made = Response(status_code=self.status)
        made.body = self.body
        made.raw_headers = list(self.headers)
        return made

"""The one error this package raises for a value it can not read."""

MAX_SHOWN = 60
MAX_SHOWN_BITS = 256


class QuantityError(ValueError):
    """A value that can not be read as the quantity asked for.

    Attributes:
        found: What was given, as text, shortened if long.
        problem: What is wrong with it, in plain words and without a full stop.
        example: A right example.
    """

    def __init__(self, found: str, problem: str, example: str) -> None:
        # The arguments go to the base class unchanged, so that the error survives pickling.
        super().__init__(found, problem, example)
        self.found = found
        self.problem = problem
        self.example = example

    def __str__(self) -> str:
        """Return one plain sentence."""
        return f"{self.found}: {self.problem}; a right example is {self.example}."


def shown(given: object) -> str:
    """Return what was given as printable text, shortened to a length fit for a message.

    Long text is cut before it is quoted, so a huge value costs nothing. The contents of a list or
    a table are never written out.
    """
    if isinstance(given, str):
        cut = given[:MAX_SHOWN]
        return _writable(repr(cut)) + ("..." if len(given) > MAX_SHOWN else "")
    if given is None:
        return "nothing (null)"
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, int) and given.bit_length() > MAX_SHOWN_BITS:
        return "a very long whole number"
    if isinstance(given, int | float):
        return repr(given)
    if isinstance(given, dict):
        return "a table"
    return (
        "a list" if isinstance(given, list | tuple) else f"a value of type {type(given).__name__}"
    )


def _writable(text: str) -> str:
    """Return the text with lone surrogates escaped, so that it can always be written out."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")

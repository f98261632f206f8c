"""Ways to spoil a sound file: by its structure, by its words and numbers, and by its bytes."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable, Iterator
from typing import Any

from hypothesis import strategies as st

Place = tuple[str | int, ...]

# Written as they stand into texts of any kind.
WORDS = (
    *("nan", "NaN", "inf", "-inf", "Infinity", "1e308", "-1e308", "1e309", "1e-320", "-0", "-0.0"),
    *("0", "-1", "9" * 30, "9" * 5000, "1e999999999", "0x" + "f" * 6000, "1_000", "٣", "½", "１２"),
    *("1/0", "0/0", "1e5 m", "-3 ft", "1e300 ft", "5e-324 m", "0 in", "2 in", "DN 50", "NPS 99"),
    *("", " ", "'", '"', "\\", "\x00", "\x1b[31m", "\u202e", "\u200b", "\ufeff", "\uffff"),
    *("\u2028", "null", "true", "~", "=1+1", "@SUM(A1)", "../../etc/passwd", "%s%n", "{0.a}", "$"),
    *("#1", "#999999999", "$,$", "()", "(((", ";", "=", ",", ",,,,", "\n", "\r\n", "[", "]", "{"),
    *("ضغط-١", "管道７", "मुख्य वाल्व", "שסתום", "🧊", "e\u0301" * 20, "A" * 300, "&lt;", "}", "*"),
    *("!!python/object:os.system", "&a *a", "- - -", "? :", "%TAG", "[[x]]", "a.b.c = 1", "<<: 1"),
)
VALUES: tuple[Any, ...] = (
    *(None, True, False, 0, -1, 1, -0.0, 1e308, -1e308, 5e-324, 10**30, 10**400, 2**63),
    *([], {}, [[]], [{}], [None], {"id": 1}, [0, 0], [1e308, -1e308], [1e9, -1e9], {"": ""}),
    *WORDS,
)
_TOKEN = re.compile(rb"[A-Za-z_]+|[0-9.eE+-]+|[^\sA-Za-z0-9_]")


def places(value: Any, here: Place = ()) -> Iterator[Place]:
    """Every place in a JSON value."""
    yield here
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from places(inner, (*here, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from places(inner, (*here, index))


def _nested(depth: int, value: Any) -> Any:
    for number in range(depth):
        value = [value] if number % 2 else {"a": value}
    return value


def _deeper(value: Any, room: int) -> Any:
    return _nested(1 + room % 60, value)


def _many(value: Any, room: int) -> Any:
    return [value] * (2 + room % 300)


def _named_twice(value: Any, room: int) -> Any:
    return {**value, f"x{room}": room} if isinstance(value, dict) else [value, value]


_TURNS: tuple[Callable[[Any, int], Any], ...] = (
    lambda value, room: VALUES[room % len(VALUES)],
    lambda value, room: VALUES[room % len(VALUES)],
    lambda value, room: str(value) + WORDS[room % len(WORDS)],
    _deeper,
    _many,
    _named_twice,
)


def _put(document: Any, place: Place, change: Callable[[Any], Any]) -> None:
    """Change what stands at a place, if an earlier change has left the place there."""
    here = document
    for part in place[:-1]:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            return
    try:
        here[place[-1]] = change(here[place[-1]])
    except (KeyError, IndexError, TypeError):
        return


def spoilt_documents(seed: bytes) -> st.SearchStrategy[bytes]:
    """JSON documents with one to four values spoilt; ids are spoilt wherever they are named."""
    sound = json.loads(seed)
    everywhere = [p for p in places(sound) if p]
    turn = st.tuples(
        st.sampled_from(everywhere), st.integers(0, len(_TURNS)), st.integers(0, 2**16)
    )

    def made(turns: list[tuple[Place, int, int]]) -> bytes:
        document = copy.deepcopy(sound)
        for place, how, room in turns:
            if how < len(_TURNS):
                _put(document, place, lambda v, how=how, room=room: _TURNS[how](v, room))  # type: ignore[misc]
            else:
                document = _renamed(document, place, WORDS[room % len(WORDS)])
        try:
            return json.dumps(document).encode()
        except ValueError:  # a whole number with too many digits for Python to write
            return json.dumps(document, default=str, skipkeys=True).encode()

    return st.lists(turn, min_size=1, max_size=4).map(made)


def _renamed(document: Any, place: Place, name: str) -> Any:
    """Give a text another wording wherever the document has it."""
    here = document
    for part in place:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            return document
    if not isinstance(here, str):
        return document
    return json.loads(json.dumps(document).replace(json.dumps(here), json.dumps(name)))


Step = tuple[int, int, int]


def spoil(seed: bytes, steps: list[Step]) -> bytes:
    """Spoil bytes by steps of (how, where, what): the same steps give the same bytes."""
    data = seed
    for how, where, what in steps:
        data = _STEPS[how % len(_STEPS)](data, where, what)
    return data


def _at(data: bytes, where: int) -> int:
    return where % (len(data) + 1)


def _word(data: bytes, where: int, what: int) -> bytes:
    """Put another word or number in the place of one."""
    spot = _at(data, where)
    found = _TOKEN.search(data, spot) or _TOKEN.search(data)
    if found is None:
        return data
    word = WORDS[what % len(WORDS)].encode()
    return data[: found.start()] + word + data[found.end() :]


def _cut(data: bytes, where: int, what: int) -> bytes:
    return data[: _at(data, where)]


def _flip(data: bytes, where: int, what: int) -> bytes:
    spot = _at(data, where)
    flipped = bytes([data[spot] ^ (1 << what % 8)]) if spot < len(data) else b""
    return data[:spot] + flipped + data[spot + 1 :]


def _insert(data: bytes, where: int, what: int) -> bytes:
    spot = _at(data, where)
    return data[:spot] + WORDS[what % len(WORDS)].encode() + data[spot:]


def _drop(data: bytes, where: int, what: int) -> bytes:
    spot = _at(data, where)
    return data[:spot] + data[spot + 1 + what % 200 :]


def _repeat(data: bytes, where: int, what: int) -> bytes:
    spot = _at(data, where)
    return data[:spot] + data[spot : spot + 1 + what % 60] * (2 + what % 40) + data[spot:]


def _line_again(data: bytes, where: int, what: int) -> bytes:
    """Put one line in another one's place."""
    lines = data.split(b"\n")
    lines[where % len(lines)] = lines[what % len(lines)]
    return b"\n".join(lines)


_STEPS: tuple[Callable[[bytes, int, int], bytes], ...] = (
    *(_word, _word, _word, _cut, _flip, _insert, _drop, _repeat, _line_again, _line_again),
)


def spoilt_bytes(seeds: list[bytes]) -> st.SearchStrategy[bytes]:
    """Files with one to five spoilt spots."""
    step = st.tuples(st.integers(0, 255), st.integers(0, 2**20), st.integers(0, 2**16))
    steps = st.lists(step, min_size=1, max_size=5)
    return st.builds(spoil, st.sampled_from(seeds), steps)

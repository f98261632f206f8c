"""Where in a text a place of the document stands: line and column, for people who type."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import yaml

from layoutcheck.document.faults import Fault, pointer_to

# Larger texts (characters) were not typed, and to find places in them takes long.
LARGEST = 1_000_000


def with_lines(text: str | bytes, faults: Sequence[Fault]) -> tuple[Fault, ...]:
    """Give faults with the line and column (from 1) at which the place of each was typed.

    text: the YAML or JSON that was read. A place that is not there has that of what holds it. Where
    the text is no tree, or was not typed (too large, or all on one line), the faults come back as
    they are.
    """
    try:
        plain = text.decode("utf-8-sig") if isinstance(text, bytes) else text
        typed = "\n" in plain.strip() and len(plain) <= LARGEST
        if not typed or not any(f.pointer for f in faults):
            return tuple(faults)
        places = dict(_places(yaml.compose(plain, Loader=yaml.SafeLoader), ""))
    except (yaml.YAMLError, UnicodeDecodeError, RecursionError):
        return tuple(faults)
    return tuple(_placed(fault, places) for fault in faults)


def _placed(fault: Fault, places: dict[str, tuple[int, int]]) -> Fault:
    pointer = fault.pointer
    while pointer and pointer not in places:
        pointer = pointer.rpartition("/")[0]
    if not pointer:
        return fault
    line, column = places[pointer]
    return fault.model_copy(update={"line": line, "column": column})


def _places(node: yaml.Node | None, pointer: str) -> Iterator[tuple[str, tuple[int, int]]]:
    """Give the place of each field (that of its name) and of each entry of a list."""
    if isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            there = pointer + pointer_to(str(key.value))
            yield there, (key.start_mark.line + 1, key.start_mark.column + 1)
            yield from _places(value, there)
    elif isinstance(node, yaml.SequenceNode):
        for index, value in enumerate(node.value):
            there = f"{pointer}/{index}"
            yield there, (value.start_mark.line + 1, value.start_mark.column + 1)
            yield from _places(value, there)

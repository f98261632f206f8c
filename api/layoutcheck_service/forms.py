"""Read a form of several parts (RFC 7578), where the work is done: of known names, each once."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

from python_multipart import FormParser
from python_multipart.exceptions import FormParserError
from python_multipart.multipart import Field, File, parse_options_header

from layoutcheck_service.problems import Kind, ProblemError
from layoutcheck_service.work.job import Body

_CHUNK = 1 << 16


def read_form(body: Body, content_type: str, names: Sequence[str]) -> dict[str, bytes]:
    """Give the parts of a form by name; one that is empty is left out.

    content_type: of the request, with its boundary. Raises ProblemError.
    """
    _, options = parse_options_header(content_type)
    found: dict[str, bytes] = {}
    unknown: list[str] = []

    def take(name: bytes | None, value: bytes) -> None:
        told = (name or b"").decode("utf-8", "replace")
        if told not in names or told in found:
            unknown.append(told)
        elif value:
            found[told] = value

    def on_field(field: Field) -> None:
        take(field.field_name, field.value or b"")

    def on_file(file: File) -> None:
        file.file_object.seek(0)
        take(file.field_name, file.file_object.read())
        file.close()

    boundary = options.get(b"boundary")
    try:
        if not boundary:
            raise FormParserError("no boundary")
        parser = FormParser("multipart/form-data", on_field, on_file, boundary=boundary)
        data = BytesIO(body.read())
        while chunk := data.read(_CHUNK):
            parser.write(chunk)
        parser.finalize()
    except FormParserError:
        detail = f"Send a form (multipart/form-data) with the parts {', '.join(names)}."
        raise ProblemError(Kind.UNREADABLE, detail) from None
    if unknown:
        detail = f"The form has a part {unknown[0][:80]!r}; it takes {', '.join(names)}, each once."
        raise ProblemError(Kind.UNREADABLE, detail)
    return found

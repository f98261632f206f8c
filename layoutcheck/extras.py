"""What comes with an extra of the package, and how it is told where it is not installed."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

# The module that is looked for -> the extra that brings it. Readers of other people's files tell of
# theirs as a fault of what was given.
_EXTRA_OF: Mapping[str, str] = MappingProxyType(
    {
        **dict.fromkeys(("fontTools", "matplotlib", "resvg_py", "weasyprint"), "print"),
        **dict.fromkeys(("alembic", "psycopg", "rfc8785", "sqlalchemy"), "record"),
        "openpyxl": "xlsx",
        **dict.fromkeys(("dask", "distributed", "pyarrow"), "survey"),
    }
)


def how_to_install(error: ImportError) -> str | None:
    """Say which extra is missing and how to get it; None where no extra brings what is missing."""
    module = (error.name or "").partition(".")[0]
    extra = _EXTRA_OF.get(module)
    if extra is None:
        return None
    return f"this needs {module}; to install it: pip install 'layoutcheck[{extra}]'"

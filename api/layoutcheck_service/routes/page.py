"""GET / and its files: the page, built beforehand and shipped inside this package."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files

from fastapi import APIRouter, Response

from layoutcheck_service.problems import Kind, ProblemError

router = APIRouter(include_in_schema=False)

_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".json": "application/json",
}
# Nothing from anywhere else, nothing written into the page itself, and no text ever becomes markup
# or script: the browser refuses it.
_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob:",
        "connect-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
        "require-trusted-types-for 'script'",
        "trusted-types 'none'",
    )
)
_HEADERS = {
    "Content-Security-Policy": _POLICY,
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}
# The part for the freeze itself works without a network: it may have one script run in the
# background, and no other address ever becomes a script.
_WATCH_POLICY = _POLICY.replace("trusted-types 'none'", "trusted-types watch-worker")
# The names of these files hold a digest of what is in them, so a name never changes its content.
_FOR_EVER = "public, max-age=31536000, immutable"


@lru_cache(maxsize=1)
def _files() -> dict[str, bytes]:
    """Read every file of the page: only these names are ever answered."""
    root = files("layoutcheck_service") / "page_files"
    found = {}
    for folder in ("", "assets", "demo"):
        place = root / folder if folder else root
        for item in sorted(place.iterdir(), key=lambda x: x.name):
            if item.is_file():
                found[f"{folder}/{item.name}".lstrip("/")] = item.read_bytes()
    return found


@router.get("/")
def get_page() -> Response:
    """Answer with the page."""
    return _answer("index.html", "no-cache")


@router.get("/watch.html")
def get_watch() -> Response:
    """Answer with the part of the page for the freeze itself."""
    answer = _answer("watch.html", "no-cache")
    answer.headers["Content-Security-Policy"] = _WATCH_POLICY
    return answer


@router.get("/watch-worker.js")
def get_watch_worker() -> Response:
    """Answer with the script that keeps that part working without a network."""
    return _answer("watch-worker.js", "no-cache")


@router.get("/assets/{name}")
def get_asset(name: str) -> Response:
    """Answer with a script, a style sheet or a picture of the page."""
    return _answer(f"assets/{name}", _FOR_EVER)


@router.get("/demo/{name}")
def get_demo(name: str) -> Response:
    """Answer with an invented site to try the page on."""
    return _answer(f"demo/{name}", "no-cache")


def _answer(name: str, cache: str) -> Response:
    body = _files().get(name)
    if body is None:
        raise ProblemError(Kind.NOT_FOUND, "The page has no file of that name.")
    kind = _TYPES["." + name.rpartition(".")[2]]
    return Response(body, headers={**_HEADERS, "Cache-Control": cache, "Content-Type": kind})

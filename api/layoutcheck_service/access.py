"""Who may ask what: each route names the scope that a key needs for it."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Security
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer, SecurityScopes
from starlette.requests import Request

from layoutcheck_service.keys import KeyRing, KeysFault, Scope
from layoutcheck_service.problems import Kind, ProblemError, refusal

_REALM = 'Bearer realm="layoutcheck"'
_HOW = "Send 'Authorization: Bearer KEY'; who runs this service makes keys."
_BEARER = HTTPBearer(
    scheme_name="key",
    description="An API key. Asked where the service was given a file of keys; the role that "
    "stands with an operation is the scope that the key needs.",
    auto_error=False,
)


async def let_in(
    request: Request,
    scopes: SecurityScopes,
    given: Annotated[HTTPAuthorizationCredentials | None, Security(_BEARER)],
) -> None:
    """Let in a request whose key has the scope; where no keys are asked, every one.

    Raises ProblemError: 401 without a valid key, 403 without the scope.
    """
    ring: KeyRing | None = request.app.state.keys
    if ring is None:
        return
    if given is None:
        raise ProblemError(Kind.NO_KEY, _HOW, headers={"WWW-Authenticate": _REALM})
    try:
        entry = ring.entry_of(given.credentials)
    except KeysFault:
        detail = "The service can not tell whose key this is, so it lets nobody in."
        raise refusal(Kind.STOPPING, detail, seconds=10) from None
    if entry is None:
        told = {"WWW-Authenticate": f'{_REALM}, error="invalid_token"'}
        raise ProblemError(Kind.NO_KEY, "The key is unknown, revoked or out of date.", headers=told)
    request.state.owner = entry.owner
    missing = [scope for scope in scopes.scopes if scope not in entry.scopes]
    if missing:
        told = {"WWW-Authenticate": f'{_REALM}, error="insufficient_scope", scope="{missing[0]}"'}
        detail = f"This needs a key with the scope '{missing[0]}'."
        raise ProblemError(Kind.NOT_ALLOWED, detail, headers=told)


def signed_in() -> Any:  # noqa: ANN401 - what FastAPI calls a dependency
    """Give the dependency of a route that needs a key, of whatever scope."""
    return Security(let_in, scopes=[])


def needs(scope: Scope) -> Any:  # noqa: ANN401 - what FastAPI calls a dependency
    """Give the dependency of a route that needs a scope."""
    return Security(let_in, scopes=[str(scope)])

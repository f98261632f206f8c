"""The command `layoutcheck serve`: bind the address, say where, run until stopped."""

from __future__ import annotations

import argparse
import contextlib
import ipaddress
import socket
import sys
from collections.abc import Mapping, Sequence

from pydantic import ValidationError

_DONE, _REFUSED, _FAULT = 0, 2, 4

_OPEN_WARNING = (
    "Warning: other machines can reach this address. The service has no log-in and no encryption: "
    "whoever reaches it may use it and may read what others send on the way. Put it behind a "
    "proxy that has both."
)


class RefusedError(Exception):
    """Raised when the service can not start as asked. The message is one plain line."""


class NotReadyError(Exception):
    """Raised when the service can not judge its own example. The message is one plain line."""


def serve(argv: Sequence[str] | None = None) -> int:
    """Run the service until it is stopped.

    argv: the arguments after `layoutcheck serve`; those of the process if None.
    Returns the exit code: 0 when stopped, 2 where it can not start as asked, 4 where it fails.
    """
    try:
        asked = _parser().parse_args(argv)
    except SystemExit as stop:  # argparse has said why, or has shown its help
        return _DONE if stop.code in (0, None) else _REFUSED
    try:
        return _run(asked)
    except RefusedError as refusal:
        print(f"layoutcheck serve: {refusal}", file=sys.stderr)
        return _REFUSED
    except NotReadyError as fault:
        print(f"layoutcheck serve: {fault}", file=sys.stderr)
        return _FAULT


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="layoutcheck serve",
        description="Answer over HTTP what layoutcheck answers on the command line.",
        epilog="Environment: LAYOUTCHECK_HOST, LAYOUTCHECK_PORT, LAYOUTCHECK_MAX_BODY_BYTES, "
        "LAYOUTCHECK_CHECKS_AT_ONCE, LAYOUTCHECK_KEEP_ALIVE, LAYOUTCHECK_LOG_LEVEL.",
    )
    parser.add_argument("--host", help="address to listen on (127.0.0.1)")
    parser.add_argument("--port", type=int, help="port to listen on (8000); 0 takes a free one")
    parser.add_argument(
        "--open-to-network",
        action="store_true",
        help="allow an address that other machines can reach; there is no log-in",
    )
    return parser


def _run(asked: argparse.Namespace) -> int:
    # Late, so that --help and a refused call come at once.
    import uvicorn  # noqa: PLC0415

    from layoutcheck_service.app import create_app  # noqa: PLC0415
    from layoutcheck_service.settings import Settings  # noqa: PLC0415

    given = {k: v for k in ("host", "port") if (v := getattr(asked, k)) is not None}
    try:
        settings = Settings(**given)
    except ValidationError as error:
        raise RefusedError("; ".join(_setting_faults(error, given))) from None
    bound = bind(settings.host, settings.port, open_to_network=asked.open_to_network)
    config = uvicorn.Config(
        create_app(settings),
        log_level=settings.log_level,
        timeout_keep_alive=settings.keep_alive,
        server_header=False,
        proxy_headers=False,
        access_log=False,
    )
    server = uvicorn.Server(config)
    with bound:
        _warm_up()
        print(f"layoutcheck listens on {_address(bound)} (Ctrl-C stops it)", flush=True)
        with contextlib.suppress(KeyboardInterrupt):
            server.run(sockets=[bound])
    return _DONE if server.started else _FAULT


def _warm_up() -> None:
    """Judge an example before the first request comes.

    That loads and compiles the solver, which would hold up every other request for seconds.
    """
    from layoutcheck_service import examples  # noqa: PLC0415

    try:
        examples.reports()
    except Exception as error:
        raise NotReadyError(
            f"a fault of layoutcheck itself ({type(error).__name__}): it can not judge its own "
            "example, so it does not start."
        ) from error


def _setting_faults(error: ValidationError, given: Mapping[str, object]) -> list[str]:
    """Say which option or variable is unsound, and why."""
    faults = []
    for item in error.errors():
        name = str(item["loc"][0])
        where = f"--{name}" if name in given else f"LAYOUTCHECK_{name.upper()}"
        faults.append(f"{where} is {item['input']!r}: {item['msg']}")
    return faults


def bind(host: str, port: int, *, open_to_network: bool) -> socket.socket:
    """Give a socket bound to the address.

    Raises RefusedError where the address is unknown or taken, or where other machines could reach
    it and that was not asked for.
    """
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    except (OSError, UnicodeError):
        raise RefusedError(f"there is no address {host[:80]!a} on this machine.") from None
    family, _, _, _, address = found[0]
    if not ipaddress.ip_address(str(address[0]).partition("%")[0]).is_loopback:
        if not open_to_network:
            raise RefusedError(
                f"{host} can be reached by other machines, and the service has no log-in. "
                "Add --open-to-network if that is meant."
            )
        print(_OPEN_WARNING, file=sys.stderr, flush=True)
    # The protocol is named because asyncio sends at once only on sockets it knows to be TCP.
    bound = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind(address)
        # Listening now makes a port that another program holds show before anything else.
        bound.listen(2048)
    except OSError as error:
        bound.close()
        raise RefusedError(
            f"port {port} of {host} can not be taken: {error.strerror}. Choose another with --port."
        ) from None
    return bound


def _address(bound: socket.socket) -> str:
    host, port = bound.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"

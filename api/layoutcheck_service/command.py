"""The command `layoutcheck serve`: bind the address, say where, run until stopped."""

from __future__ import annotations

import argparse
import contextlib
import ipaddress
import os
import socket
import sys
from collections.abc import Mapping, Sequence

from pydantic import ValidationError

from layoutcheck.record.problems import UnsoundPlace
from layoutcheck_service.keys import KeysFault
from layoutcheck_service.settings import (
    Settings,
    settings_in_force,
    settings_rows,
    unknown_variables,
)
from layoutcheck_service.work.engine import NotReadyError
from layoutcheck_service.work.pool import prepare

_DONE, _REFUSED, _FAULT = 0, 2, 4
_OWN_NAMES = ("localhost", "127.0.0.1", "[::1]")

_OPEN_WARNING = (
    "Warning: other machines can reach this address, and no keys are asked: whoever reaches it may "
    "use it. Nothing is encrypted. Put it behind a proxy that sees to both."
)
_PLAIN_WARNING = (
    "Warning: other machines can reach this address, and nothing is encrypted: who listens on the "
    "way reads layouts and keys. Put it behind a proxy that encrypts."
)


class RefusedError(Exception):
    """Raised when the service can not start as asked. The message is one plain line."""


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
        settings = _settings(asked)
        if asked.settings:
            print(settings_in_force(settings), end="")
            return _DONE
        return _run(settings)
    except RefusedError as refusal:
        print(f"layoutcheck serve: {refusal}", file=sys.stderr)
        return _REFUSED


def _parser() -> argparse.ArgumentParser:
    rows = (f"  {name} ({usual})\n      {what}" for name, usual, what in settings_rows())
    parser = argparse.ArgumentParser(
        prog="layoutcheck serve",
        description="Answer over HTTP what layoutcheck answers on the command line.",
        epilog="environment, with the usual values:\n" + "\n".join(rows),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--host", help="address to listen on (127.0.0.1)")
    parser.add_argument("--port", type=int, help="port to listen on (8000); 0 takes a free one")
    parser.add_argument(
        "--open-to-network",
        action="store_true",
        default=None,
        help="serve an address that other machines can reach although no keys are asked",
    )
    parser.add_argument(
        "--settings", action="store_true", help="print the settings in force, and do nothing else"
    )
    return parser


def _settings(asked: argparse.Namespace) -> Settings:
    """Take the settings from the options and the environment. Raises RefusedError."""
    unknown = unknown_variables(os.environ)
    if unknown:
        raise RefusedError("; ".join(unknown))
    names = ("host", "port", "open_to_network")
    given = {k: v for k in names if (v := getattr(asked, k)) is not None}
    try:
        return Settings(**given)
    except ValidationError as error:
        raise RefusedError("; ".join(_setting_faults(error, given))) from None


def _run(settings: Settings) -> int:
    bound = bind(settings)
    prepare()
    # Late, so that --help and a refused call come at once, and while the workers get ready.
    from layoutcheck_service.app import create_app  # noqa: PLC0415
    from layoutcheck_service.http import Server  # noqa: PLC0415
    from layoutcheck_service.logs import start_logging  # noqa: PLC0415

    if not settings.allowed_hosts and _is_own(bound):
        # A page elsewhere that has its own name led to this machine gets no answer (DNS rebinding).
        settings = settings.model_copy(update={"allowed_hosts": (*_OWN_NAMES, settings.host)})
    start_logging(settings.log_level)
    with bound:
        try:
            server = Server(create_app(settings), settings)
            server.on_ready(lambda: say_where(bound))
            with contextlib.suppress(KeyboardInterrupt):
                server.run(sockets=[bound])
        except KeysFault as fault:
            raise RefusedError(str(fault)) from None
        except UnsoundPlace as fault:
            raise RefusedError(f"LAYOUTCHECK_RECORD: {fault}") from None
        except NotReadyError as fault:
            print(f"layoutcheck serve: {fault}", file=sys.stderr)
            return _FAULT
    return _DONE if server.started else _FAULT


def say_where(bound: socket.socket) -> None:
    """Print the address, which means that the first request may come."""
    print(f"layoutcheck listens on {_address(bound)} (Ctrl-C stops it)", flush=True)


def _setting_faults(error: ValidationError, given: Mapping[str, object]) -> list[str]:
    """Say which option or variable is unsound, and why."""
    faults = []
    for item in error.errors():
        name = str(item["loc"][0])
        where = f"--{name.replace('_', '-')}" if name in given else f"LAYOUTCHECK_{name.upper()}"
        faults.append(f"{where} is {item['input']!r}: {item['msg']}")
    return faults


def bind(settings: Settings) -> socket.socket:
    """Give a socket bound to the address.

    Raises RefusedError where the address is unknown or taken, or where other machines could reach
    it, no keys are asked, and that was not allowed in so many words.
    """
    host, port = settings.host, settings.port
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
    except (OSError, UnicodeError):
        raise RefusedError(f"there is no address {host[:80]!a} on this machine.") from None
    family, _, _, _, address = found[0]
    if not _is_loopback(str(address[0])):
        _weigh_openness(settings)
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


def _weigh_openness(settings: Settings) -> None:
    """Warn, or refuse, where other machines can reach the address."""
    if settings.keys_file is not None:
        print(_PLAIN_WARNING, file=sys.stderr, flush=True)
    elif settings.open_to_network:
        print(_OPEN_WARNING, file=sys.stderr, flush=True)
    else:
        raise RefusedError(
            f"{settings.host} can be reached by other machines, and no keys are asked. Make keys "
            "with `layoutcheck keys` and set LAYOUTCHECK_KEYS_FILE; or add --open-to-network if "
            "everyone may use it."
        )


def _is_own(bound: socket.socket) -> bool:
    return _is_loopback(str(bound.getsockname()[0]))


def _is_loopback(address: str) -> bool:
    return ipaddress.ip_address(address.partition("%")[0]).is_loopback


def _address(bound: socket.socket) -> str:
    host, port = bound.getsockname()[:2]
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"

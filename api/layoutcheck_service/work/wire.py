"""Frames between the service and a worker: a small JSON head and the body's bytes as they are.

No pickle: what comes back from a process that has read a stranger's file is only ever data.
"""

from __future__ import annotations

import asyncio
import json
import socket
import struct
from typing import Any

_LENGTHS = struct.Struct("!IQ")


def packed(head: dict[str, Any], body: bytes = b"") -> tuple[bytes, bytes]:
    """Write a frame: what goes before the body, and the body, which is not copied."""
    text = json.dumps(head, separators=(",", ":")).encode()
    return _LENGTHS.pack(len(text), len(body)) + text, body


def send(end: socket.socket, head: dict[str, Any], body: bytes = b"") -> None:
    """Send a frame and wait until it is gone."""
    before, after = packed(head, body)
    end.sendall(before)
    if after:
        end.sendall(after)


def receive(end: socket.socket) -> tuple[dict[str, Any], bytes] | None:
    """Wait for a frame. None: the other side has gone."""
    lengths = _exactly(end, _LENGTHS.size)
    if lengths is None:
        return None
    of_head, of_body = _LENGTHS.unpack(lengths)
    head, body = _exactly(end, of_head), _exactly(end, of_body)
    return None if head is None or body is None else (json.loads(head), body)


async def receive_soon(stream: asyncio.StreamReader) -> tuple[dict[str, Any], bytes]:
    """Wait for a frame without holding anything up. Raises IncompleteReadError where it ends."""
    of_head, of_body = _LENGTHS.unpack(await stream.readexactly(_LENGTHS.size))
    return json.loads(await stream.readexactly(of_head)), await stream.readexactly(of_body)


def _exactly(end: socket.socket, size: int) -> bytes | None:
    held = bytearray(size)
    view = memoryview(held)
    while view:
        got = end.recv_into(view)
        if not got:
            return None
        view = view[got:]
    return bytes(held)

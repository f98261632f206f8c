"""The whole service is killed while sign-offs come in: what it answered 201 for is on record."""

from __future__ import annotations

import os
import random
import signal
import threading
from pathlib import Path
from typing import Any

import httpx
import pytest

from layoutcheck.record import Ledger
from tests.api.running import running
from tests.record.conftest import make_cluster, postgresql, postgresql_place  # noqa: F401

Told = list[tuple[int, str]]


def sign_off(address: str, body: dict[str, Any], told: Told) -> None:
    """Record without end, until nobody answers."""
    with httpx.Client(base_url=address, timeout=60) as client:
        while True:
            try:
                answer = client.post("/v1/records", json=body)
            except httpx.HTTPError:
                return
            if answer.status_code == 201:
                entry = answer.json()["entry"]
                told.append((entry["sequence"], entry["hash"]))


def killed_services(where: str, layout: dict[str, Any], times: int) -> tuple[int, int]:
    """Kill so many services while two clients record; gives entries acknowledged and kept."""
    chance = random.Random(20261125)
    body = {"layout": layout, "signer": {"name": "A. Miller (invented)"}}
    told: Told = []
    kept = 0
    for _ in range(times):
        with running(record=where, workers=2) as service:
            clients = [
                threading.Thread(target=sign_off, args=(service.address, body, told))
                for _ in range(2)
            ]
            before = len(told)
            for client in clients:
                client.start()
            while len(told) < before + 3:
                clients[0].join(0.01)
            clients[0].join(chance.uniform(0, 0.5))
            os.kill(service.process.pid, signal.SIGKILL)
            for client in clients:
                client.join(60)
        found = Ledger(where).verify()
        assert found.whole, found.faults
        entries = {k.entry.sequence: k.hash for k in Ledger(where).walk()}
        assert not [n for n, hash_ in told if entries.get(n) != hash_]
        kept = len(entries)
    return len(told), kept


@pytest.mark.slow
def test_what_was_answered_is_on_record(tmp_path: Path, layout: dict[str, Any]) -> None:
    told, kept = killed_services(str(tmp_path / "record.sqlite"), layout, 1)
    assert 3 <= told <= kept


@pytest.mark.nightly
@pytest.mark.slow
def test_often(tmp_path: Path, layout: dict[str, Any], postgresql_place: str) -> None:  # noqa: F811
    for where in (str(tmp_path / "record.sqlite"), postgresql_place):
        told, kept = killed_services(where, layout, 10)
        print(f"10 services killed: {told} entries answered for, {kept} kept")

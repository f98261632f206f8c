"""The container files: what they promise, read from the files themselves. No engine is needed."""

from __future__ import annotations

import fnmatch
import json
import re
import shlex
import subprocess
import sys
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest
import yaml

from layoutcheck_service.settings import PREFIX, Settings
from tests.conftest import Require

ROOT = Path(__file__).parents[2]
CONTAINERFILE = ROOT / "api" / "Containerfile"
NGINX = ROOT / "api" / "proxy" / "nginx.conf"
COMPOSE: dict[str, Any] = yaml.safe_load((ROOT / "api" / "compose.yaml").read_text())
SERVICES: dict[str, dict[str, Any]] = COMPOSE["services"]
KNOWN = {PREFIX + name.upper() for name in Settings.model_fields}
each_service = pytest.mark.parametrize("name", sorted(SERVICES))


def instructions() -> list[tuple[str, str]]:
    """The Containerfile as (instruction, rest), with continued lines joined."""
    text = re.sub(r"^#.*\n", "", CONTAINERFILE.read_text(), flags=re.MULTILINE)
    lines = text.replace("\\\n", " ").splitlines()
    return [(w[0], w[1]) for line in lines if (w := line.split(maxsplit=1)) and len(w) == 2]


def last_stage() -> list[tuple[str, str]]:
    found = instructions()
    (start,) = (i for i, (word, _) in enumerate(found) if word == "FROM" and i > 1)
    return found[start:]


def environment() -> dict[str, str]:
    pairs = [p for word, rest in last_stage() if word == "ENV" for p in shlex.split(rest)]
    return dict(p.split("=", 1) for p in pairs)


# --- the image ---------------------------------------------------------------------------------


def test_it_is_built_in_two_stages_from_one_slim_base() -> None:
    bases = [rest for word, rest in instructions() if word == "FROM"]
    assert bases == ["python:${PYTHON} AS build", "python:${PYTHON}"]
    (version,) = (rest for word, rest in instructions() if word == "ARG")
    assert re.fullmatch(r"PYTHON=3\.1[1-9]-slim-\w+", version)


def test_it_runs_as_nobody_in_particular() -> None:
    """The last USER counts, and it is a number: an orchestrator can see that it is not root."""
    users = [rest for word, rest in last_stage() if word == "USER"]
    assert users == ["10001:10001"]
    after = [word for word, _ in last_stage()]
    assert after.index("USER") < after.index("CMD")


def test_what_libraries_write_goes_to_tmp() -> None:
    set_to = environment()
    for name in ("HOME", "MPLCONFIGDIR", "XDG_CACHE_HOME"):
        assert (set_to[name] + "/").startswith("/tmp/"), name
    assert set_to["PYTHONDONTWRITEBYTECODE"] == "1"


def test_its_settings_are_settings_and_hold_no_secret() -> None:
    ours = {n for n in environment() if n.startswith(PREFIX)}
    assert ours <= KNOWN
    assert not re.search(r"(?i)password|secret|token", CONTAINERFILE.read_text())


def test_it_takes_only_what_it_names() -> None:
    """Each path copied is there, is let through to the builder, and nothing else is."""
    copied = [
        path
        for word, rest in instructions()
        if word == "COPY" and not rest.startswith("--from")
        for path in rest.split()[:-1]
    ]
    for path in copied:
        assert (ROOT / path).exists(), path
    ignored = (CONTAINERFILE.parent / "Containerfile.dockerignore").read_text().splitlines()
    rules = [r for r in ignored if r and not r.startswith("#")]
    assert rules[0] == "*"
    let_through = {r[1:] for r in rules if r.startswith("!")}
    assert let_through == {path.rstrip("/") for path in copied}


def test_every_wheel_file_outside_the_packages_is_copied() -> None:
    """What the two builds take from elsewhere must be in the builder too."""
    text = (ROOT / "pyproject.toml").read_text() + (ROOT / "api" / "pyproject.toml").read_text()
    (listed,) = re.findall(r"only-include = (\[.+?\])", text)
    copied = {
        path.rstrip("/") for word, rest in instructions() if word == "COPY" for path in rest.split()
    }
    assert set(json.loads(listed)) <= copied


def test_a_miscomputing_image_is_never_finished() -> None:
    runs = [rest for word, rest in last_stage() if word == "RUN"]
    assert runs[-1].startswith("layoutcheck selftest && ")


@pytest.mark.parametrize(("status", "code"), [(200, 0), (503, 1), (None, 1)])
def test_the_health_check_tells_a_live_service_from_a_dead_one(
    status: int | None, code: int
) -> None:
    """The very command of the Containerfile, on a port of ours."""

    class Answer(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            assert self.path == "/health"
            self.send_response(status or 500)
            self.end_headers()

        def log_message(self, *_: Any) -> None:
            return

    server = HTTPServer(("127.0.0.1", 0), Answer)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    port = server.server_port
    if status is None:
        server.shutdown()
        server.server_close()
    (check,) = (rest for word, rest in last_stage() if word == "HEALTHCHECK")
    assert "curl" not in check
    command: list[str] = yaml.safe_load(check[check.index("[") :])
    assert command[0] == "python"
    script = command[2].replace("127.0.0.1:8000", f"127.0.0.1:{port}")
    assert str(port) in script
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, check=False)
    assert done.returncode == code
    server.server_close()


# --- compose -----------------------------------------------------------------------------------


@each_service
def test_no_container_may_more_than_it_needs(name: str) -> None:
    service = SERVICES[name]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert "cap_add" not in service
    assert "privileged" not in service
    assert "no-new-privileges:true" in service["security_opt"]
    assert service["user"].split(":")[0] not in {"root", "0"}
    assert any(t.startswith("/tmp:") for t in service["tmpfs"])
    assert service["logging"]["options"]["max-size"]


@each_service
def test_no_secret_stands_in_the_environment(name: str) -> None:
    for variable, value in SERVICES[name].get("environment", {}).items():
        if re.search(r"(?i)pass|key|secret|token", variable):
            assert str(value).startswith("/run/secrets/"), variable
        assert not re.search(r"://[^/@]*:[^/@]*@", str(value)), f"{variable} holds a password"


@each_service
def test_secrets_come_as_files_and_are_all_declared(name: str) -> None:
    given = SERVICES[name].get("secrets", [])
    assert set(given) <= set(COMPOSE["secrets"])
    used = re.findall(r"/run/secrets/(\w+)", str(SERVICES[name].get("environment")))
    assert sorted(used) == sorted(given)
    assert all(set(s) == {"file"} for s in COMPOSE["secrets"].values())


def test_the_database_is_reached_from_inside_alone() -> None:
    database = SERVICES["database"]
    assert "ports" not in database
    assert database["networks"] == ["inside"]
    assert COMPOSE["networks"]["inside"]["internal"] is True
    assert [v.split(":")[0] for v in database["volumes"]] == list(COMPOSE["volumes"])


def test_only_this_machine_reaches_the_service() -> None:
    ports = [p for s in SERVICES.values() for p in s.get("ports", [])]
    assert len(ports) == 1
    assert ports[0].startswith("127.0.0.1:")


def test_the_service_starts_when_the_record_is_ready() -> None:
    wanted = SERVICES["layoutcheck"]["depends_on"]
    assert wanted == {"prepare": {"condition": "service_completed_successfully"}}
    prepare = SERVICES["prepare"]
    assert prepare["depends_on"] == {"database": {"condition": "service_healthy"}}
    assert prepare["command"] == ["layoutcheck", "record", "prepare"]
    assert "pg_isready" in SERVICES["database"]["healthcheck"]["test"][1]


def test_compose_sets_what_the_service_knows() -> None:
    for service in SERVICES.values():
        names = {n for n in service.get("environment", {}) if n.startswith(PREFIX)}
        assert names <= KNOWN
    ours = SERVICES["layoutcheck"]["environment"]
    settings = Settings(
        **{n.removeprefix(PREFIX).lower(): v for n, v in ours.items() if n.startswith(PREFIX)}
    )
    room = re.search(r"size=(\d+)m", SERVICES["layoutcheck"]["tmpfs"][0])
    assert room is not None
    assert settings.max_spool_bytes < int(room[1]) * 1024 * 1024
    grace = SERVICES["layoutcheck"]["stop_grace_period"]
    assert settings.stop_seconds < int(grace.rstrip("s"))
    assert settings.allowed_hosts  # so that no page can lead its own name here


# --- several copies ----------------------------------------------------------------------------


def directive(name: str, text: str) -> list[str]:
    return re.findall(rf"^\s*{name} (.+?);", text, flags=re.MULTILINE)


def megabytes(text: str) -> int:
    return int(text.removesuffix("m")) * 1024 * 1024


def test_the_proxy_lets_through_what_the_service_takes() -> None:
    usual, text = Settings(), NGINX.read_text()
    small, large = sorted(megabytes(m) for m in directive("client_max_body_size", text))
    assert usual.max_body_bytes < small < 2 * usual.max_body_bytes
    assert usual.max_import_bytes < large < 2 * usual.max_import_bytes
    imports = text.index("location /v1/imports")
    assert text.index("client_max_body_size 65m") > imports


def test_the_proxy_waits_as_long_as_the_service_works() -> None:
    usual, text = Settings(), NGINX.read_text()
    (wait,) = directive("proxy_read_timeout", text)
    assert int(wait.rstrip("s")) > usual.wait_seconds + usual.work_seconds
    (idle,) = re.findall(r"keepalive_timeout (\d+)s; +# shorter", text)
    assert int(idle) < usual.keep_alive


def test_a_record_is_never_sent_twice_by_the_proxy() -> None:
    text = NGINX.read_text()
    places = dict(re.findall(r"location (?:= )?(\S+) \{(.*?)\}", text, flags=re.DOTALL))
    assert "non_idempotent" not in places["/v1/records"]
    assert fnmatch.filter(directive("proxy_next_upstream", text), "*non_idempotent*")
    assert text.rindex("proxy_next_upstream error;") > text.rindex("}", 0, text.rindex("error;"))


def test_the_proxy_passes_one_request_id_on_and_logs_no_query() -> None:
    text = NGINX.read_text()
    assert "proxy_set_header X-Request-ID $one_id;" in text
    assert "$request_uri" not in text
    assert "$args" not in text
    assert "$uri" in text


def test_nginx_takes_the_configuration(tmp_path: Path, require: Require) -> None:
    nginx = require.tool("nginx")
    text = NGINX.read_text().replace("/run/nginx.pid", str(tmp_path / "pid"))
    text = text.replace("/var/lib/nginx", str(tmp_path))
    (tmp_path / "nginx.conf").write_text(text)
    asked = [nginx, "-t", "-e", "stderr", "-c", str(tmp_path / "nginx.conf")]
    done = subprocess.run(asked, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr

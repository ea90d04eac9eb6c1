"""The container files and the service unit: by their own linters and specifications, and held against each other."""

from __future__ import annotations

import os
import re
import shutil
import stat
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from compose_spec import PyCompose

from bridge.config import load
from tests.support.brokers import need

ROOT = Path(__file__).parents[2]
DOCKER = ROOT / "docker"
DOCKERFILE = (DOCKER / "Dockerfile").read_text()
UNIT = (ROOT / "bridge/commands/revival-bridge.service").read_text()


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    """The compose file with every variable at its default, read by the specification's own types."""
    text = re.sub(r"\$\{\w+:-([^}]*)\}", r"\1", (DOCKER / "compose.yaml").read_text()).replace("$$", "$")
    document = PyCompose.from_yaml(text)
    document.to_spec()
    document.validate()
    return document.to_dict()


def make_secrets(folder: Path, *users: str) -> str:
    """Run docker/make-secrets and return what it printed."""
    command = [sys.executable, str(DOCKER / "make-secrets"), "--folder", str(folder), *users]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def test_the_dockerfile_passes_its_linter() -> None:
    hadolint = Path(sys.executable).with_name("hadolint")
    done = subprocess.run([str(hadolint), str(DOCKER / "Dockerfile")], check=False, capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (0, "")


def test_the_image_is_built_in_stages_and_runs_as_nobody_special() -> None:
    stages = DOCKERFILE.split("\nFROM ")
    assert len(stages) == 3
    last = stages[-1]
    assert re.search(r"^USER 10001:10001$", last, re.M)
    assert "pip install" not in last and "--from=build" in last
    assert "revival status --json" in last and "HEALTHCHECK" in last


@pytest.mark.parametrize(("status", "healthy"), [(0, True), (5, True), (4, False), (78, False), (70, False)])
def test_the_health_check_tells_a_missing_bridge_from_an_unsafe_bank(
    tmp_path: Path, status: int, healthy: bool
) -> None:
    """Exit 5 is a bridge that answers with bad news; restarting the container for that would help nobody."""
    words = re.search(r'HEALTHCHECK .*\\\n  CMD \["/bin/sh", "-c", "(.*)"\]', DOCKERFILE)
    assert words
    (tmp_path / "revival").write_text(f'#!/bin/sh\necho "{{}}"\nexit {status}\n')
    (tmp_path / "revival").chmod(0o755)
    path = f"{tmp_path}:{os.environ['PATH']}"
    done = subprocess.run(["/bin/sh", "-c", words[1]], env={"PATH": path}, check=False, capture_output=True, text=True)
    assert (done.returncode == 0, done.stdout) == (healthy, "")
    assert done.returncode in (0, 1)


def test_only_what_the_image_needs_reaches_the_builder() -> None:
    kept = {line[1:] for line in (ROOT / ".dockerignore").read_text().splitlines() if line.startswith("!")}
    copied = {word for line in re.findall(r"^COPY (?!--from)(.*)$", DOCKERFILE, re.M) for word in line.split()[:-1]}
    assert kept == copied
    assert (ROOT / ".dockerignore").read_text().startswith("*\n")


def test_the_bridge_container_has_a_read_only_root_and_no_rights(compose: dict[str, Any]) -> None:
    bridge = compose["services"]["bridge"]
    assert bridge["read_only"] is True
    assert bridge["cap_drop"] == ["ALL"]
    assert bridge["security_opt"] == ["no-new-privileges:true"]
    assert "depends_on" not in bridge, "the bridge waits for nobody"
    assert bridge["ports"] == ["127.0.0.1:8170:8170"], "the page, and only on this machine"


@pytest.mark.parametrize("name", ["broker", "bridge", "database", "tokens", "dashboards"])
def test_no_container_may_gain_rights_and_none_keeps_long_logs(compose: dict[str, Any], name: str) -> None:
    service = compose["services"][name]
    assert "no-new-privileges:true" in service["security_opt"]
    assert not service.get("privileged")
    assert service["logging"]["options"]["max-size"] == "1m"
    assert ":" in service.get("image", ":") or "build" in service, "no floating tag"


def test_nothing_listens_beyond_this_machine_unless_asked(compose: dict[str, Any]) -> None:
    ports = [str(port) for service in compose["services"].values() for port in service.get("ports", [])]
    assert len(ports) == 3
    assert all(port.startswith("127.0.0.1:") for port in ports), ports


def test_there_is_no_password_in_any_file() -> None:
    """Every word that could be one is a path to a file that make-secrets creates."""
    paths = [*DOCKER.rglob("*.yaml"), *DOCKER.rglob("*.toml"), *DOCKER.glob("*.service"), *DOCKER.glob("broker/*")]
    for line in (line for path in paths for line in path.read_text().splitlines()):
        found = re.match(r"\s*[\w.]*(password|token|secret)\w*(\s*[:=]\s*|\s+)(?P<value>[^\s#].*)$", line, re.I)
        if found:
            assert found["value"].strip("\"'").startswith(("/", "$__file{/", "{ file: ./", "{ condition", "[")), line


def test_every_secret_that_compose_names_is_made_by_the_one_command(compose: dict[str, Any], tmp_path: Path) -> None:
    make_secrets(tmp_path / "secrets")
    files = {str(secret["file"]).removeprefix("./") for secret in compose["secrets"].values()}
    assert all((tmp_path / file).is_file() for file in files), files
    used = {name for service in compose["services"].values() for name in service.get("secrets", [])}
    assert used == set(compose["secrets"])
    mounts = [str(one) for service in compose["services"].values() for one in service.get("volumes", [])]
    shown = [one for one in mounts if one.startswith("./")]
    assert len(shown) == 7
    assert all((DOCKER / one.partition(":")[0]).is_file() and one.endswith(":ro") for one in shown)
    assert "configs" not in compose, "podman-compose 1.6 passes them over without a word"


def test_secrets_are_random_private_and_survive_a_second_run(tmp_path: Path) -> None:
    folder = tmp_path / "secrets"
    printed = make_secrets(folder)
    files = [path for path in folder.rglob("*") if path.is_file() and path.name != "broker_passwords"]
    values = {path: path.read_text() for path in files}
    assert len(set(values.values())) == len(files) == 11
    assert all(len(value) >= 32 for value in values.values())
    assert not any(value in printed for value in values.values())
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    again = make_secrets(folder, "stove")
    assert "made broker/stove;" in again
    assert all(path.read_text() == value for path, value in values.items())
    assert (folder / "broker_passwords").read_text().count("\n") == 8
    assert not any(value in (folder / "broker_passwords").read_text() for value in values.values())


def test_two_tokens_are_made_once_and_neither_is_the_operators(tmp_path: Path) -> None:
    """A stand-in for the database's client answers as its manual shows; the real one was not run."""
    log = tmp_path / "log"
    (tmp_path / "influx").write_text(
        "#!/bin/sh\n"
        f'echo "$*" >> {log}\n'
        '[ "$INFLUX_TOKEN" = operator ] || exit 9\n'
        'case "$1 $2" in\n'
        '"bucket list") printf "0a1b\\trevival\\t104w\\n";;\n'
        '"auth create") printf "{\\n\\t\\"id\\": \\"9\\",\\n\\t\\"token\\": \\"made-for-%s==\\",\\n" "$4"; '
        'printf "\\t\\"status\\": \\"active\\"}\\n";;\n'
        "esac\n"
    )
    (tmp_path / "influx").chmod(0o755)
    (tmp_path / "operator").write_text("operator")
    for name in ("bridge", "dashboards"):
        (tmp_path / "tokens" / name).mkdir(parents=True)
    environment = {
        "PATH": f"{tmp_path}:{os.environ['PATH']}", "BUCKET": "revival",
        "TOKENS": str(tmp_path / "tokens"), "OPERATOR_TOKEN": str(tmp_path / "operator"),
    }  # fmt: skip
    for _ in range(2):
        subprocess.run(["/bin/sh", str(DOCKER / "database/make-tokens")], env=environment, check=True)
    assert (tmp_path / "tokens/bridge/token").read_text() == "made-for-bridge=="
    assert (tmp_path / "tokens/dashboards/token").read_text() == "made-for-dashboards=="
    asked = [line for line in log.read_text().splitlines() if line.startswith("auth")]
    assert asked == [
        "auth create --description bridge --write-bucket 0a1b --json",
        "auth create --description dashboards --read-bucket 0a1b --json",
    ]


def test_the_broker_keeps_a_long_queue_and_saves_every_change() -> None:
    lines = (DOCKER / "broker/mosquitto.conf").read_text().splitlines()
    for wanted in ("max_queued_messages 100000", "max_inflight_messages 1000", "autosave_on_changes true",
                   "autosave_interval 1", "persistence true", "allow_anonymous false"):  # fmt: skip
        assert wanted in lines


def test_the_service_unit_is_valid_and_hardly_exposed(tmp_path: Path) -> None:
    """Checked by systemd itself; only the program's path is exchanged, since nothing is installed in a test."""
    program = shutil.which("true")
    unit = tmp_path / "revival-bridge.service"
    unit.write_text(UNIT.replace("ExecStart=/opt/revival/bin/revival", f"ExecStart={program}"))
    analyse = need("systemd-analyze")
    done = subprocess.run([analyse, "verify", str(unit)], check=False, capture_output=True, text=True)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")
    scored = subprocess.run(
        [analyse, "security", "--offline=yes", "--threshold=20", str(unit)], check=False, capture_output=True, text=True
    )
    assert scored.returncode == 0, scored.stdout


def test_the_service_unit_notifies_is_watched_and_never_gives_up() -> None:
    for wanted in ("Type=notify", "WatchdogSec=30", "Restart=always", "StartLimitIntervalSec=0", "DynamicUser=yes",
                   "RestartPreventExitStatus=2 78"):  # fmt: skip
        assert wanted in UNIT.splitlines()


def test_the_cabin_file_of_the_containers_is_valid_and_fits_the_compose_file(
    compose: dict[str, Any], tmp_path: Path
) -> None:
    """Hosts are service names, secrets and token lie where compose mounts them, topics are those of the access list."""
    text = (DOCKER / "cabin.toml").read_text()
    bridge = compose["services"]["bridge"]
    mounted = {f"/run/secrets/{name}" for name in bridge["secrets"]} | {"/run/token/token"}
    assert set(re.findall(r'_file = "(.*)"', text)) == mounted
    for number, path in enumerate(sorted(mounted)):
        (tmp_path / str(number)).write_text("planted-for-a-test")
        text = text.replace(path, str(tmp_path / str(number)))
    (tmp_path / "cabin.toml").write_text(text)
    cabin = load(tmp_path / "cabin.toml").cabin
    assert cabin.broker.host in compose["services"]
    assert cabin.influx is not None
    database = compose["services"]["database"]["environment"]
    assert cabin.influx.url == compose["services"]["tokens"]["environment"]["INFLUX_HOST"]
    assert (cabin.influx.org, cabin.influx.bucket) == (
        database["DOCKER_INFLUXDB_INIT_ORG"],
        database["DOCKER_INFLUXDB_INIT_BUCKET"],
    )
    assert str(cabin.journal.path.parent) == "/var/lib/revival"
    allowed = (DOCKER / "broker/acl").read_text()
    for topic in set(re.findall(r'topic = "(.*)"', text)):
        assert re.search(rf"^topic (write|read) {topic}$", allowed, re.M), topic

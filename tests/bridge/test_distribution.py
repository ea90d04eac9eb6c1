"""What leaves the house: wheel and source archive hold everything that the program and its README speak of."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
VERSION: str = PROJECT["version"]
PARTS = ("bridge", "rules", "sample_messages", "tests/browser/pictures", "pyproject.toml", "README.md", "LICENSE")
ADD_ON = ROOT / "docker/hub/add-on"


def tracked(*folders: str) -> set[str]:
    """Files of these folders that are the project's, by its version control."""
    found = subprocess.run(["git", "ls-files", *folders], cwd=ROOT, check=True, capture_output=True, text=True)
    return set(found.stdout.split())


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[set[str], set[str]]:
    """Names in the wheel and in the source archive, made from a clean copy by the project's own backend."""
    copy, out = tmp_path_factory.mktemp("source"), tmp_path_factory.mktemp("out")
    for name in tracked(*PARTS):
        (copy / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(ROOT / name, copy / name)
    before = sorted(path for path in copy.rglob("*") if "__pycache__" not in path.parts)
    for hook in ("get_requires_for_build_wheel()", "build_sdist(sys.argv[1])", "build_wheel(sys.argv[1])"):
        # each in a process of its own, as those who install do
        script = f"import sys; sys.path[:0] = ['bridge/packing']; import tidy_backend; tidy_backend.{hook}"
        subprocess.run([sys.executable, "-c", script, str(out)], cwd=copy, check=True, capture_output=True)
    after = sorted(path for path in copy.rglob("*") if "__pycache__" not in path.parts)
    assert after == before, "a clone that is installed from is as it was"
    (wheel,) = out.glob("*.whl")
    (archive,) = out.glob("*.tar.gz")
    with zipfile.ZipFile(wheel) as opened, tarfile.open(archive) as unrolled:
        return set(opened.namelist()), {name.partition("/")[2] for name in unrolled.getnames()}


def test_the_wheel_has_every_module_and_every_file_beside_them(built: tuple[set[str], set[str]]) -> None:
    wheel, _ = built
    assert tracked("bridge", "rules") - wheel == set()
    assert not [name for name in wheel if name.startswith("tests/")]


def test_sample_messages_pictures_and_licence_travel_in_both(built: tuple[set[str], set[str]]) -> None:
    wheel, archive = built
    share = f"revival_bridge-{VERSION}.data/data/share/revival-bridge"
    samples = tracked("sample_messages")
    assert {f"{share}/{name}" for name in samples} <= wheel
    assert {f"{share}/pictures/{Path(name).name}" for name in tracked("tests/browser/pictures/*.png")} <= wheel
    assert f"revival_bridge-{VERSION}.dist-info/licenses/LICENSE" in wheel
    assert samples | {"LICENSE", "README.md", "pyproject.toml"} <= archive


def test_every_picture_that_the_readme_shows_is_in_the_source_archive(built: tuple[set[str], set[str]]) -> None:
    shown = set(re.findall(r"\]\((?!http)([^)#]+\.(?:png|svg))\)", (ROOT / "README.md").read_text()))
    assert len(shown) >= 3
    assert shown - built[1] == set()


def test_every_recipe_says_the_version_of_the_project() -> None:
    assert (ROOT / "docker/debian/changelog").read_text().startswith(f"revival-bridge ({VERSION}) ")
    assert yaml.safe_load((ADD_ON / "config.yaml").read_text())["version"] == VERSION


def test_the_debian_package_asks_for_nothing_that_the_wheel_does_not_know() -> None:
    extras = re.search(r"--extras (\S+)", (ROOT / "docker/debian/rules").read_text())
    assert extras and set(extras[1].split(",")) <= set(PROJECT["optional-dependencies"])


# ------------------------------------------------------------------------------------------------ the add-on of a hub

#: Keys of an add-on's configuration that this one uses, and what the published schema lets them be.
KEYS = {
    "name": str, "version": str, "slug": str, "description": str, "arch": list, "startup": str, "boot": str,
    "init": bool, "timeout": int, "map": list, "backup": str, "ports": dict, "ports_description": dict,
    "webui": str, "tmpfs": bool, "options": dict, "schema": dict,
}  # fmt: skip


def test_the_add_on_is_one_that_a_hub_accepts() -> None:
    """Keys and values by the JSON schema of the published add-on linter, read beside it; no hub here has add-ons."""
    told = yaml.safe_load((ADD_ON / "config.yaml").read_text())
    assert {name: type(value) for name, value in told.items()} == KEYS
    assert set(told["arch"]) <= {"aarch64", "amd64"}
    assert told["startup"] in {"initialize", "system", "services", "application", "once"}
    assert told["map"] == [{"type": "addon_config", "read_only": False}]
    assert told["backup"] == "cold", "a journal that is written meanwhile is no backup"
    assert re.fullmatch(r"[a-z0-9_]+", told["slug"])
    assert set(told["ports"]) == set(told["ports_description"]) == {"8170/tcp"}
    hadolint = Path(sys.executable).with_name("hadolint")
    done = subprocess.run([str(hadolint), str(ADD_ON / "Dockerfile")], check=False, capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (0, "")


def test_an_add_on_without_a_cabin_file_leaves_an_example_and_says_where(tmp_path: Path) -> None:
    file = tmp_path / "cabin.toml"
    path = f"{Path(sys.executable).parent}:/usr/bin:/bin"
    run = ["/bin/sh", str(ADD_ON / "start"), str(file)]
    done = subprocess.run(run, env={"PATH": path}, check=False, capture_output=True, text=True)
    assert done.returncode == 1
    assert "cabin.toml.example" in done.stdout and "start the add-on again" in done.stdout
    assert tomllib.loads((tmp_path / "cabin.toml.example").read_text())["site"]
    (tmp_path / "cabin.toml").write_text("nonsense")
    done = subprocess.run(run, env={"PATH": path}, check=False, capture_output=True, text=True)
    assert done.returncode == 78, "the program itself was started, and says what is wrong"

"""How the project is built: by setuptools, which leaves nothing in the folder that it builds from.

pip builds in the folder that it is given, and setuptools keeps its intermediate files there: a person who installs from
a clone finds folders in it that nobody wrote. What was there before stays.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from setuptools import build_meta
from setuptools.build_meta import (
    build_editable,
    get_requires_for_build_editable,
    prepare_metadata_for_build_editable,
)

__all__ = [
    "build_editable",
    "build_sdist",
    "build_wheel",
    "get_requires_for_build_editable",
    "get_requires_for_build_sdist",
    "get_requires_for_build_wheel",
    "prepare_metadata_for_build_editable",
    "prepare_metadata_for_build_wheel",
]

#: What setuptools leaves.
LEFT = ("build", "revival_bridge.egg-info")
_Settings = dict[str, str | list[str] | None] | None


@contextmanager
def _tidy() -> Iterator[None]:
    ours = [Path(name) for name in LEFT if not Path(name).exists()]
    try:
        yield
    finally:
        for path in ours:
            shutil.rmtree(path, ignore_errors=True)


def get_requires_for_build_wheel(config_settings: _Settings = None) -> list[str]:
    """Return what a wheel needs beside setuptools (PEP 517)."""
    with _tidy():
        return list(build_meta.get_requires_for_build_wheel(config_settings))


def get_requires_for_build_sdist(config_settings: _Settings = None) -> list[str]:
    """Return what a source archive needs beside setuptools (PEP 517)."""
    with _tidy():
        return list(build_meta.get_requires_for_build_sdist(config_settings))


def prepare_metadata_for_build_wheel(metadata_directory: str, config_settings: _Settings = None) -> str:
    """Write the wheel's metadata and return its folder's name (PEP 517)."""
    with _tidy():
        return str(build_meta.prepare_metadata_for_build_wheel(metadata_directory, config_settings))


def build_wheel(wheel_directory: str, config_settings: _Settings = None, metadata_directory: str | None = None) -> str:
    """Build a wheel and return its name (PEP 517)."""
    with _tidy():
        return str(build_meta.build_wheel(wheel_directory, config_settings, metadata_directory))


def build_sdist(sdist_directory: str, config_settings: _Settings = None) -> str:
    """Build a source archive and return its name (PEP 517)."""
    with _tidy():
        return str(build_meta.build_sdist(sdist_directory, config_settings))

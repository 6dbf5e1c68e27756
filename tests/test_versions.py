"""One version, said in several places."""

from __future__ import annotations

import re
import tomllib
from importlib import metadata
from pathlib import Path

import quietlimb
from quietlimb.engine.version import ENGINE_VERSION

ROOT = Path(__file__).resolve().parents[1]


def test_package_engine_and_changelog_name_the_same_version() -> None:
    """pyproject.toml, the installed package, the engine and the newest entry of the changelog agree.

    Oracle: by construction; a charted pressure names the engine version, so it must be the one that was released.
    """
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    newest = re.search(r"^## ([0-9.]+)", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"), flags=re.MULTILINE)
    assert newest is not None
    said = {project["version"], metadata.version("quietlimb"), quietlimb.__version__, ENGINE_VERSION, newest[1]}
    assert said == {project["version"]}

"""The lock files: every package pinned and hashed, no address, one version in both."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
REQUIREMENTS = ROOT / "requirements"
LOCKS = ("run.txt", "bluetooth.txt", "test.txt")
PIN = re.compile(r"^([a-z0-9-]+)==([^ ]+)(?: ; (.+))? \\$")
HASH = re.compile(r"^    --hash=sha256:[0-9a-f]{64}(?: \\)?$")


def pins(lock: str) -> dict[str, str]:
    """Package -> version of a lock file."""
    found = {}
    for line in (REQUIREMENTS / lock).read_text(encoding="utf-8").splitlines():
        match = PIN.match(line)
        if match:
            assert match[1] not in found, f"{match[1]} is pinned twice in {lock}"
            found[match[1]] = match[2]
    return found


def names(path: Path) -> set[str]:
    """Packages that a .in file asks for."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return {re.split(r"[\[<>=!~ ]", line)[0].replace("_", "-") for line in lines if line and line[0] not in "#-"}


@pytest.mark.parametrize("path", sorted(REQUIREMENTS.iterdir()), ids=lambda path: path.name)
def test_no_requirements_file_holds_an_address_or_a_path(path: Path) -> None:
    """No address and no absolute path got into the requirements.

    Oracle: common practice; a lock file must serve every mirror and every machine.
    """
    text = path.read_text(encoding="utf-8")
    assert "://" not in text
    assert not re.search(r"(^|\s)(/|[A-Za-z]:\\)\S", text)


@pytest.mark.parametrize("lock", LOCKS)
def test_every_package_is_pinned_and_hashed(lock: str) -> None:
    """Each line is a pin, a hash or a remark, and each pin has at least one hash.

    Oracle: common practice, pip's --require-hashes.
    """
    lines = (REQUIREMENTS / lock).read_text(encoding="utf-8").splitlines()
    assert len(pins(lock)) > 5
    for k, line in enumerate(lines):
        if PIN.match(line):
            assert HASH.match(lines[k + 1]), f"line {k + 1}: {line} has no hash"
        else:
            assert HASH.match(line) or line.lstrip().startswith("#"), f"line {k + 1}: {line}"


@pytest.mark.parametrize("lock", ["run.txt", "bluetooth.txt"])
def test_all_lock_files_pin_the_same_versions(lock: str) -> None:
    """What the demo and Bluetooth run on is what the tests ran on.

    Oracle: by construction, test.in is compiled under the pins of the others.
    """
    used, test = pins(lock), pins("test.txt")
    assert {name: test.get(name) for name in used} == used


def test_the_lock_serves_what_the_project_asks_for() -> None:
    """run.in names the dependencies of pyproject.toml and its build tool, with the same limits; run.txt pins them all.

    Oracle: by construction, pyproject.toml.
    """
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    asked = set(project["project"]["dependencies"]) | set(project["build-system"]["requires"])
    lines = (REQUIREMENTS / "run.in").read_text(encoding="utf-8").splitlines()
    assert {line for line in lines if line and not line.startswith("#")} == asked
    assert names(REQUIREMENTS / "run.in") <= set(pins("run.txt"))
    lines = (REQUIREMENTS / "bluetooth.in").read_text(encoding="utf-8").splitlines()
    extra = project["project"]["optional-dependencies"]["bluetooth"]
    assert [line for line in lines if line and line[0] not in "#-"] == extra
    assert names(REQUIREMENTS / "bluetooth.in") <= set(pins("bluetooth.txt"))
    assert names(REQUIREMENTS / "test.in") <= set(pins("test.txt"))

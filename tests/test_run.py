"""run.py, the set-up script: what it refuses, what it remembers, what it asks for."""

from __future__ import annotations

import argparse
import ast
import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture
def script(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """run.py as a module, with an empty project of its own."""
    specification = importlib.util.spec_from_file_location("run", ROOT / "run.py")
    assert specification is not None
    assert specification.loader is not None
    module = importlib.util.module_from_spec(specification)
    specification.loader.exec_module(module)
    (tmp_path / "requirements").mkdir()
    for name in ("requirements/run.txt", "requirements/test.txt", "pyproject.toml"):
        (tmp_path / name).write_text("x\n", encoding="utf-8")
    monkeypatch.setattr(module, "FOLDER", tmp_path)
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(module, "PYTHON_MARK", tmp_path / ".venv" / "quietlimb-python.txt")
    return module


@pytest.fixture
def commands(script: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The commands that the script would have run; each succeeds, and making .venv makes the folder."""
    seen: list[list[str]] = []

    def call(*arguments: object) -> int:
        seen.append([str(argument) for argument in arguments])
        if "venv" in seen[-1]:
            script.VENV.mkdir(exist_ok=True)
            script.venv_python().parent.mkdir(exist_ok=True)
            script.venv_python().touch()
        return 0

    monkeypatch.setattr(script, "call", call)
    return seen


def test_run_imports_the_standard_library_only() -> None:
    """run.py needs nothing that Python does not bring.

    Oracle: by construction, its own syntax tree against the interpreter's list of standard modules.
    """
    tree = ast.parse((ROOT / "run.py").read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            assert {alias.name.split(".")[0] for alias in node.names} <= sys.stdlib_module_names
        if isinstance(node, ast.ImportFrom):
            assert node.module in sys.stdlib_module_names


def test_an_old_python_can_read_run_and_is_refused() -> None:
    """The grammar stays that of old Pythons, and the refusal comes before the first import that they lack.

    Oracle: reference library, ast.parse with feature_version (3, 4), the oldest it can imitate; and the order in
    the file.
    """
    text = (ROOT / "run.py").read_text(encoding="utf-8")
    tree = ast.parse(text, feature_version=(3, 4))
    text.encode("ascii")
    assert not any(isinstance(node, ast.JoinedStr | ast.AnnAssign) for node in ast.walk(tree))
    body = tree.body
    kinds = [type(node).__name__ for node in body[:4]]
    assert kinds == ["Expr", "Import", "If", "Import"]


def test_set_up_installs_once_and_again_only_when_the_lock_changes(
    script: ModuleType, commands: list[list[str]]
) -> None:
    """The first set-up makes and fills .venv, the second runs nothing, a changed lock file installs again.

    Oracle: by construction.
    """
    script.set_up("run")
    assert [command[1:3] for command in commands] == [["-m", "venv"], ["-m", "pip"], ["-m", "pip"]]
    assert "--require-hashes" in commands[1]
    assert {"--no-deps", "--no-build-isolation"} <= set(commands[2])
    commands.clear()
    script.set_up("run")
    assert commands == []
    (script.FOLDER / "requirements" / "run.txt").write_text("y\n", encoding="utf-8")
    script.set_up("run")
    assert [command[1:3] for command in commands] == [["-m", "pip"], ["-m", "pip"]]


def test_the_tests_bring_the_test_lock_on_top(script: ModuleType, commands: list[list[str]]) -> None:
    """Setting up for tests installs both lock files, run first.

    Oracle: by construction.
    """
    script.set_up("test")
    installed = [Path(command[-1]).name for command in commands if "-r" in command]
    assert installed == ["run.txt", "test.txt"]


def test_another_python_makes_the_environment_anew(script: ModuleType, commands: list[list[str]]) -> None:
    """An environment that was made for another Python, or in another place, is made anew.

    Oracle: by construction.
    """
    script.set_up("run")
    commands.clear()
    script.PYTHON_MARK.write_text("2.0 somewhere\n", encoding="utf-8")
    script.set_up("run")
    assert commands[0][1:3] == ["-m", "venv"]


def test_a_python_without_ensurepip_is_told_which_package_to_install(
    script: ModuleType, commands: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the system keeps ensurepip in a package of its own, that package is named.

    Oracle: common practice; Debian ships ensurepip in python3-venv.
    """
    find = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == "ensurepip" else find(name))
    with pytest.raises(SystemExit, match="python3-venv"):
        script.set_up("run")
    assert commands == []


def test_a_failed_install_stops_and_is_not_remembered(
    script: ModuleType, commands: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """When pip fails, the script stops with a sentence and tries again next time.

    Oracle: by construction.
    """
    works = script.call
    monkeypatch.setattr(script, "call", lambda *arguments: 1 if "pip" in arguments else works(*arguments))
    with pytest.raises(SystemExit, match="Installing the packages failed"):
        script.set_up("run")
    monkeypatch.setattr(script, "call", works)
    commands.clear()
    script.set_up("run")
    assert [command[1:3] for command in commands] == [["-m", "pip"], ["-m", "pip"]]


def test_wrong_use_of_run_exits_with_2() -> None:
    """A command that does not exist is refused with the exit code of wrong use.

    Oracle: common practice, argparse.
    """
    done = subprocess.run(
        [sys.executable, ROOT / "run.py", "dance"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "demo" in done.stderr


def test_all_tests_go_side_by_side_and_chosen_ones_as_they_are_asked_for(
    script: ModuleType, commands: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whole files are shared out among workers; who names tests may want a debugger, which workers have not.

    Oracle: by construction.
    """
    monkeypatch.setattr(script, "set_up", lambda _purpose: None)
    monkeypatch.setattr(script, "system_programs", lambda _may_install: None)
    options = argparse.Namespace(install=False)
    script.test(options, [])
    script.test(options, ["tests/test_run.py", "--pdb"])
    assert [command[2:] for command in commands] == [
        ["pytest", "-n", "auto", "--dist", "loadfile", "--no-loadscope-reorder"],
        ["pytest", "tests/test_run.py", "--pdb"],
    ]

"""The command as a whole."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from quietlimb.engine.version import ENGINE_VERSION

COMMANDS = (
    "capture",
    "read",
    "chart",
    "interpret",
    "follow",
    "screen",
    "place",
    "cuff",
    "simulate",
    "report",
    "serve",
    "clinic",
)


def test_help_lists_every_command(run) -> None:
    """`quietlimb --help` names all commands and what this is not.

    Oracle: by construction.
    """
    text = run("--help").stdout
    assert [command for command in COMMANDS if f"\n  {command} " in text] == list(COMMANDS)
    assert "Not a certified medical device" in text
    assert "..." not in text.split("Commands:")[1]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself(run, command: str) -> None:
    """Each command has help, in short form too.

    Oracle: by construction.
    """
    assert run(command, "-h").exit_code == 0
    assert run(command, "--help").stdout == run(command, "-h").stdout


def test_version_is_the_engines(run) -> None:
    """`--version` tells the version that results name.

    Oracle: by construction.
    """
    assert ENGINE_VERSION in run("--version").stdout


def test_a_narrow_console_does_not_end_the_batch() -> None:
    """A file name that the console cannot show is escaped, not a traceback.

    Oracle: by construction, output in an encoding without that letter, as it is piped on Windows.
    """
    code = "import sys; from quietlimb.cli.main import main; sys.argv = ['quietlimb', 'read', '\\u732b.csv']; main()"
    environment = {**os.environ, "PYTHONIOENCODING": "cp1252"}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, env=environment)
    assert done.returncode == 3
    assert done.stderr.startswith("\\u732b.csv: ")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("wish", "found"),
    [({}, "1"), ({"OPENBLAS_NUM_THREADS": "3"}, "3"), ({"OMP_NUM_THREADS": "2"}, "None")],
)
def test_one_thread_unless_told_otherwise(wish: dict[str, str], found: str) -> None:
    """The command asks for one thread before numpy is loaded, and leaves alone what the user has asked for.

    Oracle: by construction, the environment of a fresh interpreter.
    """
    plain = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    program = "import os, sys, quietlimb.cli; print('numpy' in sys.modules, os.environ.get('OPENBLAS_NUM_THREADS'))"
    done = subprocess.run(
        [sys.executable, "-c", program], env={**plain, **wish}, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["False", found]


@pytest.mark.skipif(os.name == "nt", reason="a reader that goes away is another error there")
@pytest.mark.parametrize("options", [[], ["--json"]])
@pytest.mark.parametrize("command", ["read", "chart", "follow"])
def test_a_reader_that_goes_away_is_no_fault_of_a_file(
    command: str, options: list[str], typed: Path, recordings: Path, tmp_path: Path
) -> None:
    """Into a pipe that nobody reads any more, as after `head`, every command ends without a word.

    Oracle: common practice of command lines. Click's own exit code for it, 1, is not that of a file at fault, 3.
    """
    past = tmp_path / "past.csv"
    past.write_text("# species: cat\ndate,systolic_mmHg\n2021-02-04,168\n", encoding="utf-8")
    path = {"read": recordings / "r11.csv", "chart": typed, "follow": past}[command]
    code = "from quietlimb.cli.main import main; main()"
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = subprocess.run(
            [sys.executable, "-c", code, command, *options, str(path)],
            stdout=writer,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    finally:
        os.close(writer)
    assert (done.returncode, done.stderr) == (1, "")


@pytest.mark.parametrize(("command", "kept_out"), [("read", "scipy"), ("chart", "scipy.stats")])
def test_nothing_heavy_is_loaded_that_is_not_used(command: str, kept_out: str, typed: Path, recordings: Path) -> None:
    """Reading needs no part of scipy, and charting none of its statistics, which take half a second to load.

    Oracle: by construction, the modules of a fresh interpreter after the command.
    """
    path = {"read": recordings / "r11.csv", "chart": typed}[command]
    program = (
        "import sys\nfrom quietlimb.cli.main import main\n"
        f"sys.argv = ['quietlimb', {command!r}, {str(path)!r}]\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print({kept_out!r} in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert "systolic" in done.stdout
    assert done.stdout.split()[-1] == "False"


@pytest.mark.parametrize("module", ["quietlimb", "quietlimb.cli.main"])
def test_python_runs_the_command_as_a_module(module: str) -> None:
    """`python -m quietlimb` and `python -m quietlimb.cli.main` are the command, exit codes included.

    Oracle: by construction: a wrong command line ends in 2.
    """
    told = subprocess.run([sys.executable, "-m", module, "--version"], capture_output=True, text=True, check=False)
    assert (told.returncode, ENGINE_VERSION in told.stdout) == (0, True)
    wrong = subprocess.run([sys.executable, "-m", module, "nothing"], capture_output=True, text=True, check=False)
    assert (wrong.returncode, "No such command" in wrong.stderr) == (2, True)

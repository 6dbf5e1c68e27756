"""The README and docs/ say what is so: commands run, the library block runs, the output shown is the demo's."""

from __future__ import annotations

import importlib.util
import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest
from click.testing import CliRunner

from quietlimb.cli.demo import demo
from quietlimb.cli.main import quietlimb
from quietlimb.engine import recording
from quietlimb.exchange import samples, text_file

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")])


def blocks(language: str) -> Iterator[str]:
    """The README's code blocks in a language."""
    return (match[1] for match in re.finditer(rf"^```{language}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL))


@pytest.fixture(scope="module")
def make() -> ModuleType:
    """docs/make.py as a module."""
    specification = importlib.util.spec_from_file_location("make", ROOT / "docs" / "make.py")
    assert specification is not None
    assert specification.loader is not None
    module = importlib.util.module_from_spec(specification)
    specification.loader.exec_module(module)
    return module


def test_the_commands_run_as_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every `quietlimb` line of the README succeeds, one after the other, in an empty folder.

    Oracle: by construction.
    """
    monkeypatch.chdir(tmp_path)
    lines = [line for block in blocks("sh") for line in block.splitlines() if line.startswith("quietlimb ")]
    assert len(lines) >= 6
    for line in lines:
        result = CliRunner().invoke(quietlimb, shlex.split(line)[1:])
        assert result.exit_code == 0, f"{line}\n{result.output}"
        assert result.stdout, line


def test_the_library_block_runs_as_written(capsys: pytest.CaptureFixture[str]) -> None:
    """The lines that show the library run and print a charted pressure.

    Oracle: by construction.
    """
    (block,) = blocks("python")
    exec(compile(block, "README.md", "exec"), {})
    assert "Estimate(value=" in capsys.readouterr().out


def test_run_knows_the_commands_that_the_readme_names() -> None:
    """The two commands of the README are commands of run.py.

    Oracle: by construction, run.py's own text; that they work is seen where they are run, in CI.
    """
    named = re.findall(r"^python3 run\.py (\w+)", "".join(blocks("sh")), re.MULTILINE)
    assert named == ["demo", "test"]
    script = (ROOT / "run.py").read_text(encoding="utf-8")
    assert all(f'add_parser("{name}"' in script for name in named)


def test_the_output_shown_is_what_the_demo_prints(make: ModuleType, tmp_path: Path) -> None:
    """Words are the same, whole numbers differ by 1 at most. If not: `python3 run.py docs`.

    Oracle: by construction, the demo itself. Tolerance: another processor may move a value by 0.1 mmHg, and so a
    rounded one by 1.
    """
    result = CliRunner().invoke(demo, ["--out", str(tmp_path), "--once"], catch_exceptions=False)
    shown = re.search(make.BLOCK, README)
    assert shown is not None
    told = shown[0].split("```")[1].removeprefix("text\n").split()
    made = make.excerpt(result.stdout).split()
    assert len(told) == len(made)
    for word, expected in zip(told, made, strict=True):
        number, other = (re.fullmatch(r"\(?(-?\d+(?:\.\d+)?)[),.;:]*", each) for each in (word, expected))
        if number and other:
            assert float(number[1]) == pytest.approx(float(other[1]), abs=1.0)
        else:
            assert re.sub(r"\d+", "n", word) == re.sub(r"\d+", "n", expected)


def test_the_command_page_is_the_programs_own_help(make: ModuleType) -> None:
    """docs/commands.md is what `python3 run.py docs` would write.

    Oracle: by construction.
    """
    assert (ROOT / "docs" / "commands.md").read_text(encoding="utf-8") == make.command_page()


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_somewhere(page: Path) -> None:
    """Links lead to files of the tree; there are none to the network.

    Oracle: by construction.
    """
    for link in re.findall(r"\]\(([^)]+)\)", page.read_text(encoding="utf-8")):
        assert (page.parent / link).exists(), link


def test_the_limits_page_says_what_the_code_refuses() -> None:
    """Each figure of docs/limits.md is that of the code.

    Oracle: by construction, the constants of the modules that refuse.
    """
    rows = re.findall(r"^\| ([^|]+) \| ([^|]+) \|$", (ROOT / "docs" / "limits.md").read_text(encoding="utf-8"), re.M)
    told = {name: value for name, value in rows if not name.startswith("-") and name != "what"}
    assert told == {
        "size of a file": f"{text_file.MAX_FILE_BYTES // 2**20} MiB",
        "text after unpacking gzip": f"{text_file.MAX_TEXT_BYTES // 2**20} MiB",
        "gzip parts joined in one file": f"{text_file.MAX_GZIP_PARTS}",
        "length of a line": f"{text_file.MAX_LINE_BYTES:,} bytes",
        "lines in a file": f"{text_file.MAX_LINES:,}",
        "pressure": f"{recording.LOWEST_MMHG:g} to {recording.HIGHEST_MMHG:g} mmHg",
        "gap between samples": f"{recording.LONGEST_GAP_S:g} s",
        "sampling rate": f"{recording.SLOWEST_HZ:g} or more a second (record at 50 or more)",
        "length of a recording": f"{recording.SHORTEST_S:g} s or more",
        "highest pressure": f"{recording.KPA_SUSPECTED_BELOW_MMHG:g} mmHg or more; below that, kPa is suspected",
        f"time lost in gaps over {samples.GAP_INTERVALS.value:g} sampling intervals": (
            f"{100 * samples.GAP_SHARE.value:g} % of the time from first to last sample"
        ),
        "time without a break at the highest value": (
            f"under {samples.SATURATED_S.value:g} s, or under {100 * samples.SATURATED_SHARE.value:.0f} % "
            "of the samples"
        ),
    }

"""docs/comparison.md: its commands run as written."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

PAGE = Path(__file__).resolve().parents[2] / "docs" / "comparison.md"


def test_the_commands_of_the_page_run_as_written(run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One after the other in an empty folder; the comparison is run as planned, and the bundle comes out the same.

    Oracle: by construction.
    """
    monkeypatch.chdir(tmp_path)
    blocks = re.findall(r"^```sh\n(.*?)^```$", PAGE.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines()]
    assert len(lines) == 7
    told = {}
    for line in lines:
        result = run(*shlex.split(line)[1:])
        assert result.exit_code == 0, f"{line}\n{result.stderr}"
        told[line.split()[2]] = result.stdout
    for name in ("recordings", "pairs"):
        assert "INVENTED - not a patient" in told[name]
        assert "run as planned" in told[name]
        assert "not run as planned" not in told[name]
    assert "the same to the byte" in told["rerun"]

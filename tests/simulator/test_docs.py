"""The page about the simulator."""

from __future__ import annotations

from pathlib import Path

from quietlimb.simulator import FAMILIES, SCENARIOS

PAGE = Path(__file__).resolve().parents[2] / "docs" / "simulator.md"


def test_the_page_lists_what_there_is():
    """Each scenario stands there with its sentence, each family with its name, in order, and no others.

    Oracle: by construction, the simulator's own tables.
    """
    rows = [line.strip("| ").split(" | ") for line in PAGE.read_text(encoding="utf-8").splitlines() if line[:1] == "|"]
    assert ["scenario", "what it is"] in rows
    first = rows.index(["scenario", "what it is"])
    families, scenarios = rows[2:first], rows[first + 2 :]
    assert [name for name, _ in families] == list(FAMILIES)
    assert scenarios == [[name, sentence] for name, sentence in SCENARIOS.items()]

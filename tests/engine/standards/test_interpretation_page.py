"""The table of docs/interpretation.md is that of the rule sets."""

from __future__ import annotations

from pathlib import Path

from quietlimb.engine.standards.rule_set import RuleSet
from quietlimb.engine.standards.rule_sets import RULE_SETS

PAGE = Path(__file__).resolve().parents[3] / "docs" / "interpretation.md"


def _row(rules: RuleSet) -> str:
    windows = [window.days for window in rules.repeat if window is not None]
    lines = [f"{line.from_mmhg.value:g} ({line.organs}, {line.sessions.value:g})" for line in rules.treatment]
    cells = (
        f"`{rules.key}`",
        rules.name,
        ", ".join(rules.species),
        ", ".join(f"{edge.value:g}" for edge in rules.systolic_from),
        ", ".join(f"{earliest:g}-{latest:g}" for earliest, latest in windows) or "none named",
        "old" if rules.old else ", ".join(lines),
        rules.systolic_from[0].standing,
    )
    return f"| {' | '.join(cells)} |"


def test_the_page_shows_every_rule_set_as_it_is():
    """One row a rule set, in the order of the option, and no other row with a key.

    Oracle: by construction, the rule sets of the code.
    """
    rows = [line for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith("| `")]
    expected = [_row(rules) for rules in RULE_SETS.values()]
    assert rows[1:] == expected
    assert rows[0].startswith("| `--rules`")

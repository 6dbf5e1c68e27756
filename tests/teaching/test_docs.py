"""The page about teaching says what is so."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

from quietlimb.engine.values import Cited
from quietlimb.simulator.training import CASES, as_mapping, case_from, effects
from quietlimb.teaching.practice import RULES

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "teaching.md").read_text(encoding="utf-8")
OF_THE_CUFF_CHOICE = {"NARROWEST_ACCEPTED", "WIDEST_ACCEPTED", "TOLERANCE"}


def table(first_cell: str) -> list[list[str]]:
    """Rows of the table of the page whose head begins with this cell."""
    rows: list[list[str]] = []
    inside = False
    for line in PAGE.splitlines():
        cells = [cell.strip() for cell in line.strip("| ").split(" | ")]
        if cells[0] == first_cell and line.startswith("|"):
            inside = True
        elif inside and not line.startswith("|"):
            return rows
        elif inside and not line.startswith("|---"):
            rows.append(cells)
    return rows


def cited(value: object) -> Iterator[Cited]:
    if isinstance(value, Cited):
        yield value
    elif isinstance(value, Mapping):
        for each in value.values():
            yield from cited(each)


def test_the_page_tells_every_rule_with_its_source() -> None:
    """Choice, limit, source and standing as the code has them, in order.

    Oracle: by construction, the table of rules.
    """
    asked = [
        [
            rule.code,
            "yes" if rule.asks.unit == "yes" else f"{rule.asks.value:g} {rule.asks.unit}",
            rule.asks.place,
            rule.asks.source,
            rule.asks.standing,
            rule.way,
        ]
        for rule in RULES.values()
    ]
    assert table("choice") == asked


def test_the_page_tells_every_size_with_its_source() -> None:
    """Every figure of the effects, in order.

    Oracle: by construction, the names of the module.
    """
    names = [name for name in vars(effects) if name.isupper() and name not in OF_THE_CUFF_CHOICE]
    sizes = dict.fromkeys(each for name in names for each in cited(getattr(effects, name)))
    assert table("what") == [[each.place, f"{each.value:g} {each.unit}", each.source, each.standing] for each in sizes]


def test_the_page_lists_the_cases() -> None:
    """Key, title, species, grade and what each teaches.

    Oracle: by construction, the table of cases.
    """
    assert table("key") == [
        [case.key, case.title, case.species, str(case.difficulty), ", ".join(case.teaches) or "mixed"]
        for case in CASES.values()
    ]


def test_the_example_of_an_own_case_is_one_and_the_lines_run() -> None:
    """The JSON of the page is a case, and the lines below it run with it.

    Oracle: by construction.
    """
    (block,) = re.findall(r"^```json\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
    (lines,) = re.findall(r"^```python\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
    case = json.loads(block)
    assert set(case) <= set(as_mapping(case_from(case)))
    scope: dict[str, object] = {"case": case}
    exec(lines, scope)
    assert scope["told"].grade == "far off"  # type: ignore[attr-defined]

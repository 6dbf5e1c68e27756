"""Every source that the code cites has its entry in docs/references.bib."""

from __future__ import annotations

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
KEYS = set(re.findall(r"^@\w+\{(\w+),", (ROOT / "docs" / "references.bib").read_text(encoding="utf-8"), re.MULTILINE))
# Sources that are no publication: our own choice, and what the trade does without a source.
NO_PUBLICATION = {"Quietlimb", "practice", "typing guard", "oscillometric technique"}


def sources(path: Path) -> set[str]:
    """Sources named in `Cited(...)` and `Advice(...)`, names of constants resolved within the file, and [Key1999]."""
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    constants = {
        node.targets[0].id: node.value.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign)
        and isinstance(node.targets[0], ast.Name)
        and isinstance(node.value, ast.Constant)
    }
    found = set(re.findall(r"\[([A-Z][A-Za-z]+(?:19|20)\d\d[A-Za-z]*)\]", text))
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("Cited", "Advice")):
            continue
        given = {keyword.arg: keyword.value for keyword in node.keywords}
        source = given.get("source") or (node.args[2] if len(node.args) > 2 else None)
        if isinstance(source, ast.Constant):
            found.add(str(source.value))
        elif isinstance(source, ast.Name) and source.id in constants:
            found.add(str(constants[source.id]))
    return found


def test_every_cited_source_has_an_entry() -> None:
    """What the code cites is in the bibliography, and what is in the bibliography is cited.

    Oracle: by construction, the code's own syntax trees.
    """
    cited = set().union(*(sources(path) for path in (ROOT / "src").rglob("*.py"))) - NO_PUBLICATION
    assert cited == KEYS

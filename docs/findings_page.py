"""The page docs/findings.md: every finding with its sentence, remedy and numbers. Called by docs/make.py."""

from __future__ import annotations

import re

from quietlimb.engine.findings import FINDING_CODES
from quietlimb.words.findings import WORDINGS

FIELD = re.compile(r"\{(\w+)(?::[^}]*)?\}")

HEAD = """# Findings

Made from the program's own words by `python3 run.py docs`. A finding is one thing seen in a recording, a typed reading
or a series. It is a *note*, which changes nothing; a *doubt*, which makes the verdict at most doubtful; or it *spoils*
the reading, which is then discarded. How much one code matters may hang on its numbers. In text and JSON stand the
sentence and the remedy with the numbers in place; the JSON has the code and the numbers besides. When a finding is made
is told by its sentence; the thresholds stand beside the code in `engine/judgement/` and `engine/session/`. How often
each is made on simulated recordings is printed in `validation/findings.txt`.

| code | what is told | what to do | numbers |
|---|---|---|---|
"""


def shown(sentence: str | None) -> str:
    """A sentence with its places named in angle brackets; a dash where there is none."""
    return (
        "-" if sentence is None else FIELD.sub(r"<\1>", sentence).replace("<", "‹").replace(">", "›").replace("|", "/")
    )


def findings_page() -> str:
    """One row a code of `FINDING_CODES`, in its order."""
    rows = []
    for code, numbers in FINDING_CODES.items():
        wording = WORDINGS[code]
        cure = shown(wording.remedy)
        if wording.remedy_of_note is not None:
            cure += f" As a note: {shown(wording.remedy_of_note)}"
        rows.append(f"| `{code}` | {shown(wording.says)} | {cure} | {', '.join(f'`{n}`' for n in numbers) or '-'} |")
    return HEAD + "\n".join(rows) + "\n"

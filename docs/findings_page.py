"""The page docs/findings.md: every finding with its sentence, remedy and numbers. Called by docs/make.py."""

from __future__ import annotations

import re

from quietlimb.engine.findings import FINDING_CODES, REMARK_CODES
from quietlimb.words.findings import WORDINGS
from quietlimb.words.live import SENTENCES

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

LIVE = """
## Remarks while the pressure falls

What is said to whoever holds the valve, the most urgent first. A remark is about this moment and goes with it; what it
means for the reading stands in the findings of the finished recording. How it is made is told in
[reading-and-charting.md](reading-and-charting.md), how soon and how often for nothing in `validation/live.txt`.

| code | what is said | numbers |
|---|---|---|
"""


def shown(sentence: str | None) -> str:
    """A sentence with its places named in angle brackets; a dash where there is none."""
    return (
        "-" if sentence is None else FIELD.sub(r"<\1>", sentence).replace("<", "‹").replace(">", "›").replace("|", "/")
    )


def findings_page() -> str:
    """One row a code of `FINDING_CODES`, then of `REMARK_CODES`, in their order."""
    rows = []
    for code, numbers in FINDING_CODES.items():
        wording = WORDINGS[code]
        cure = shown(wording.remedy)
        if wording.remedy_of_note is not None:
            cure += f" As a note: {shown(wording.remedy_of_note)}"
        rows.append(f"| `{code}` | {shown(wording.says)} | {cure} | {listed(numbers)} |")
    said = [f"| `{code}` | {shown(SENTENCES[code])} | {listed(numbers)} |" for code, numbers in REMARK_CODES.items()]
    return HEAD + "\n".join(rows) + "\n" + LIVE + "\n".join(said) + "\n"


def listed(numbers: tuple[str, ...]) -> str:
    """The names of the numbers; a dash where there are none."""
    return ", ".join(f"`{name}`" for name in numbers) or "-"

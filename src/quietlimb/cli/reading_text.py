"""A reading as text."""

from __future__ import annotations

from quietlimb.cli.layout import bullets, estimate_table
from quietlimb.engine.findings import Finding
from quietlimb.engine.reading import Reading
from quietlimb.exchange.errors import one_line
from quietlimb.figures.invented import invented_words
from quietlimb.reports.phrases import finding_line
from quietlimb.words.findings import of_values_given


def finding_sentence(finding: Finding) -> str:
    """How much it matters, what was seen, what to do."""
    return f"{finding.severity}: {finding_line(finding)}"


def reading_lines(name: str, reading: Reading) -> list[str]:
    """Name and verdict, the values, the findings; what is no patient's says so in the first line, as a charted session
    does."""
    estimates = [
        ("systolic", reading.systolic),
        ("mean", reading.mean),
        ("diastolic", reading.diastolic),
        ("pulse rate", reading.pulse_rate),
    ]
    words = None if reading.evidence is None else invented_words(reading.evidence.recording.circumstances)
    mark = f" ({words})" if words else ""
    given = {name.replace(" ", "_") for name, estimate in estimates if estimate is not None}
    return [
        f"{one_line(name)}{mark}: {reading.verdict} ({reading.method})",
        *estimate_table(estimates),
        *bullets(finding_sentence(finding) for finding in of_values_given(reading.findings, given)),
    ]

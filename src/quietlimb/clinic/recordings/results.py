"""What each engine made of a recording, as a page shows it, and the picture drawn from its bytes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from quietlimb.clinic.recordings.files import recording_of
from quietlimb.clinic.sessions.models import Reading, Recording
from quietlimb.clinic.sessions.results import QUANTITIES, reading_of
from quietlimb.engine.circumstances import Species as EngineSpecies
from quietlimb.engine.reading import read
from quietlimb.engine.values import Estimate
from quietlimb.figures.export import svg
from quietlimb.figures.recording import recording_figure
from quietlimb.reports.phrases import finding_line, with_interval

REMEMBERED = 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What one engine made of it.

    values      : systolic, mean, diastolic, pulse rate, each with its interval, or a dash
    differences : how far the first three lie from those of the engine before it [mmHg]; empty for the first
    """

    engine: str
    verdict: str
    values: tuple[str, ...]
    differences: tuple[str, ...]
    findings: tuple[str, ...]


def results_told(recording: Recording) -> tuple[Result, ...]:
    """The results in the order of the engines' versions."""
    told: list[Result] = []
    before: tuple[Estimate | None, ...] = ()
    for engine in sorted(recording.results, key=_version):
        found = reading_of(recording.results[engine])
        estimates = tuple(getattr(found, name) for name in QUANTITIES)
        told.append(
            Result(
                engine=engine,
                verdict=found.verdict,
                values=tuple("-" if each is None else with_interval(each) for each in estimates),
                differences=tuple(_difference(a, b) for a, b in zip(before[:3], estimates[:3], strict=False)),
                findings=tuple(finding_line(finding) for finding in found.findings),
            )
        )
        before = estimates
    return tuple(told)


def _version(engine: str) -> tuple[tuple[int, str], ...]:
    """1.10 comes after 1.9."""
    return tuple((int(part), "") if part.isdecimal() else (-1, part) for part in engine.replace("+", ".").split("."))


def _difference(before: Estimate | None, now: Estimate | None) -> str:
    if before is None or now is None:
        return "" if before is now else "-"
    return f"{now.value - before.value:+.1f}"


def picture_of(reading: Reading, *, dark: bool) -> str:
    """The recording drawn by this engine, as SVG. Raises FileError where the bytes cannot be read any more."""
    kept = reading.recording
    assert kept is not None
    return _drawn(kept.pk.hex, kept.sha256, reading.series.session.animal.of_the_engine, dark)


@lru_cache(maxsize=REMEMBERED)
def _drawn(key: str, _sha256: str, species: EngineSpecies, dark: bool) -> str:
    kept = Recording.objects.get(pk=key)
    found = read(recording_of(kept.name, bytes(kept.content), species))
    return svg(recording_figure(found, title=kept.name, theme="dark" if dark else "light"))

"""A session, as a folder of recordings or a file of readings, through the whole engine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from quietlimb.cli.animal import NOTHING, AnimalTold
from quietlimb.cli.faults import Batch, remark_on
from quietlimb.engine.circumstances import Species
from quietlimb.engine.interpretation.interpret import interpret
from quietlimb.engine.interpretation.interpretation import Interpretation, Organ, OrganState
from quietlimb.engine.reading import Method, Reading, read
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.guideline import Variability
from quietlimb.engine.session.series import Series, series_from_readings
from quietlimb.engine.standards.rule_sets import DEFAULT
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.readings_csv import is_readings_file, read_readings
from quietlimb.exchange.recording_file import NO_CHANNELS, holds_channels, read_recording
from quietlimb.exchange.session_folder import SessionFolder, read_session_folder

NOT_EXAMINED: Mapping[Organ, OrganState] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Session:
    """What came of one session.

    names, readings : of the recordings, in the order taken; empty for readings typed from a display
    """

    names: tuple[str, ...]
    readings: tuple[Reading, ...]
    charted: ChartedPressure
    interpretation: Interpretation


def chart_session(
    path: str,
    batch: Batch,
    *,
    channel: str | None = None,
    species: Species | None,
    method: Method,
    variability: Variability = "range",
    organs: Mapping[Organ, OrganState] = NOT_EXAMINED,
    rules: str = DEFAULT,
    animal: AnimalTold = NOTHING,
) -> Session:
    """Read, chart and interpret one session. Recordings that cannot be read are told to `batch`; the others count.

    animal : what is told of it; the day of the session, and its breed where none is told, are those of the files

    Raises
    ------
    FileError : nothing could be read, the recordings belong to more than one series, or its history cannot be read.
    ParameterError : a rule set that is not for this species; a history, and nobody tells the day of the session.
    """
    names: tuple[str, ...] = ()
    readings: tuple[Reading, ...] = ()
    series: Series
    if not (Path(path).is_dir() or holds_channels(path)) and is_readings_file(path):
        series = read_readings(path, species=species)
        if channel is not None:
            remark_on(path)(NO_CHANNELS)
    else:
        names, minutes, readings = _readings(path, batch, channel, species, method)
        evidence = readings[0].evidence
        assert evidence is not None
        series = series_from_readings(readings, minutes, evidence.recording.circumstances)
    charted = chart(series, rules=rules, variability=variability)
    around = series.circumstances
    background, day_to_day_sd = animal.background_of(around.species, around.method, around.started_at)
    return Session(
        names=names,
        readings=readings,
        charted=charted,
        interpretation=interpret(
            charted,
            organs=organs,
            rules=rules,
            background=background,
            day_to_day_sd=day_to_day_sd,
            situational_likely=animal.situational,
            method_sd=animal.method_sd,
            low_mean_below=animal.low_mean,
        ),
    )


def _readings(
    path: str, batch: Batch, channel: str | None, species: Species | None, method: Method
) -> tuple[tuple[str, ...], list[float], tuple[Reading, ...]]:
    if not Path(path).is_dir():
        recording = read_recording(path, channel=channel, species=species, tell=remark_on(path))
        return (Path(path).name,), [0.0], (read(recording, method=method),)
    folder = read_session_folder(path, channel=channel, species=species)
    remark = remark_on(path)
    for sentence in dict.fromkeys(sentence for _, sentence in folder.told):
        first, *more = [name for name, other in folder.told if other == sentence]
        remark(f"{first}{f' and {len(more)} more' if more else ''}: {sentence}")
    for failure in folder.failures:
        batch.report(path, failure)
    _refuse_mixture(path, folder)
    if folder.minutes_assumed and len(folder.recordings) > 1:
        remark("not every recording tells started_at; taken in the order of their names, one minute apart")
    readings = read([found.recording for found in folder.recordings], method=method)
    names = tuple(found.path.name for found in folder.recordings)
    return names, [found.minute for found in folder.recordings], tuple(readings)


def _refuse_mixture(path: str, folder: SessionFolder) -> None:
    if not folder.recordings:
        raise FileError("no-recordings", "none of its recordings could be read", "see the lines above", path=path)
    if folder.differing:
        raise FileError(
            "several-series",
            f"the recordings differ in {', '.join(folder.differing)}, and series are never pooled",
            "put the recordings of each series into a folder of its own",
            path=path,
        )

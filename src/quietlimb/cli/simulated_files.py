"""Simulated recordings and sessions as files: CSV for what was measured, JSON beside it for what was true."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from quietlimb.exchange.arterial_channel import write_two_channels
from quietlimb.exchange.recording_csv import write_recording, write_text
from quietlimb.simulator.comparisons import Samples, SimulatedDetermination
from quietlimb.simulator.recordings import SimulatedRecording
from quietlimb.simulator.sessions import SimulatedSession

NOT_A_PATIENT = "made by the simulator, not a patient"
# Simulated sessions need times in their order; a day that no record of a patient can hold yet keeps them apart.
INVENTED_START = datetime(2100, 1, 1, 9, 0, tzinfo=UTC)


def write_recording_with_truth(
    made: SimulatedRecording, target: Path, *, seed: int, circumstances: Mapping[str, Any] | None = None
) -> None:
    """One recording as CSV and its truth as JSON; missing folders are made.

    circumstances : those to change
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    told = replace(made.recording.circumstances, **(circumstances or {}))
    write_recording(replace(made.recording, circumstances=told), target, extra={"invented": NOT_A_PATIENT})
    about = {"seed": seed, "scenario": made.scenario, "fingerprint": made.recording.fingerprint}
    _write_truth({**about, **asdict(made.truth)}, target)


def write_session_with_truth(
    made: SimulatedSession, folder: Path, *, seed: int, circumstances: Mapping[str, Any] | None = None
) -> list[Path]:
    """The recordings of a session in a folder, each with its truth, and the truth of the session beside the folder."""
    targets = []
    for k, (one, minute) in enumerate(zip(made.recordings, made.minute.tolist(), strict=True), start=1):
        started = INVENTED_START + timedelta(minutes=minute)
        target = folder / f"reading-{k:0{len(str(len(made.recordings)))}d}.csv"
        told = {**(circumstances or {}), "started_at": started.isoformat(timespec="seconds")}
        write_recording_with_truth(one, target, seed=seed, circumstances=told)
        targets.append(target)
    about = {"seed": seed, "course": asdict(made.course), "minute": made.minute, "spoiled": made.spoiled}
    _write_truth({**about, **asdict(made.truth)}, folder)
    return targets


def write_comparison_with_truth(
    determinations: Iterable[SimulatedDetermination], folder: Path, *, seed: int
) -> list[Path]:
    """The two-channel recordings of a comparison in a folder, each with its truth."""
    folder.mkdir(parents=True, exist_ok=True)
    targets = []
    for each in determinations:
        made, around = each.made, each.made.recording.circumstances
        name = f"simulated {around.species} {each.animal}"
        told = replace(made.recording, circumstances=replace(around, animal=name, sedation="anaesthetised"))
        target = folder / f"animal-{each.animal:02d}-reading-{each.occasion:02d}.csv"
        extra = {"arterial_zero_mmhg": 0, "transducer_below_heart_cm": 0, "invented": NOT_A_PATIENT}
        write_two_channels(told, each.told_mmhg, target, extra)
        about = {"seed": seed, "scenario": made.scenario, "fingerprint": made.recording.fingerprint}
        _write_truth({**about, **asdict(made.truth)}, target)
        targets.append(target)
    return targets


def write_flush(time_s: Samples, told_mmhg: Samples, target: Path) -> None:
    """A trace of a line that is flushed, by itself."""
    lines = [f"# invented: {NOT_A_PATIENT}", "time_s,arterial_pressure_mmHg"]
    lines += [f"{time!r},{told!r}" for time, told in zip(time_s.tolist(), told_mmhg.tolist(), strict=True)]
    write_text(target, "\n".join(lines) + "\n")


def truth_file(about: Path) -> Path:
    """Where the truth about a recording or a folder of them is written."""
    return about.with_name(about.name.removesuffix(".gz").removesuffix(".csv") + ".truth.json")


def _write_truth(truth: Mapping[str, Any], about: Path) -> None:
    told = {"about": about.name, "invented": NOT_A_PATIENT, **truth}
    text = json.dumps(told, ensure_ascii=False, allow_nan=False, indent=1, default=lambda array: array.tolist())
    truth_file(about).write_text(text + "\n", encoding="utf-8")

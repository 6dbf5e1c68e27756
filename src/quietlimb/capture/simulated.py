"""An invented animal whose cuff is inflated again and again, without end. Never a patient."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Final

import numpy as np

from quietlimb.capture.paced import Paced, Piece
from quietlimb.capture.source import INVENTED_KEY, NOT_A_PATIENT
from quietlimb.engine.circumstances import Species
from quietlimb.simulator.draws import streams
from quietlimb.simulator.recordings import take_recording
from quietlimb.simulator.subjects import Settings, Subject, draw_subject

# A day that no record of a patient can hold yet.
BEGAN: Final = datetime(2100, 1, 1, 9, 0, tzinfo=UTC)
RATE_HZ: Final = 200.0
PAUSE_S: Final = 5.0  # invented: between two inflations a hand lies on the animal, and not on the bulb


def simulated(seed: int, *, species: Species | None = None, fast: bool = False, pause_s: float = PAUSE_S) -> Paced:
    """A source of one animal, drawn from the seed: the same lines for the same seed, for ever.

    species : drawn when None
    fast    : as fast as possible instead of at its own pace
    pause_s : with an empty cuff, between two inflations [s]
    """
    for_subject, for_recordings = streams(seed, 2)
    subject = draw_subject(for_subject, species=species, settings=Settings(sampling_hz=RATE_HZ))
    return Paced(
        _inflations(for_recordings, subject, pause_s),
        rate_hz=RATE_HZ,
        header={INVENTED_KEY: NOT_A_PATIENT},
        circumstances=subject.animal.circumstances,
        fast=fast,
        began=BEGAN,
    )


def _inflations(rng: np.random.Generator, subject: Subject, pause_s: float) -> Iterator[Piece]:
    begin_s = 0.0
    while True:
        made = take_recording(rng, subject).recording
        yield begin_s + made.time_s, made.cuff_pressure_mmhg
        begin_s += float(made.time_s[-1]) + 1.0 / RATE_HZ
        quiet = np.arange(round(pause_s * RATE_HZ)) / RATE_HZ
        if quiet.size:
            yield begin_s + quiet, rng.normal(0.0, subject.sensor.sample_sd_mmhg, quiet.size)
            begin_s += quiet.size / RATE_HZ

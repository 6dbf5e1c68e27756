"""A recording, or what an earlier capture kept, played as if it were measured now."""

from __future__ import annotations

import os
from collections.abc import Mapping
from datetime import UTC, datetime

import numpy as np

from quietlimb.capture.keeping import recover
from quietlimb.capture.paced import Paced
from quietlimb.capture.source import INVENTED_KEY, NOT_A_PATIENT
from quietlimb.engine.circumstances import Species
from quietlimb.engine.quantiles import median
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.recording_file import read_recording
from quietlimb.figures.invented import is_invented

KEPT_NAMES = (".txt",)


def file_at_pace(
    path: str | os.PathLike[str],
    *,
    fast: bool = False,
    species: Species | None = None,
    defaults: Mapping[str, str | float] | None = None,
) -> Paced:
    """A source that plays a file: any recording that `read` takes, or the lines of an earlier capture (.txt).

    fast     : as fast as possible instead of at its own pace
    species  : needed where a recording does not tell it
    defaults : other circumstances, for where it is silent

    Raises
    ------
    FileError     : it cannot be read, or holds no sample.
    ProtocolError : lines that cannot be understood.
    """
    header = {"played": os.path.basename(os.fspath(path))}
    if os.fspath(path).casefold().endswith(KEPT_NAMES):
        found = recover(path)
        if found.time_s.size < 2:
            raise FileError("empty", "no two samples could be read", "name what a capture kept", path=path)
        header |= {key: found.header[key] for key in ("serial", INVENTED_KEY) if key in found.header}
        began = None if found.first_utc_s is None else datetime.fromtimestamp(found.first_utc_s, UTC).astimezone()
        pieces = [(found.time_s, found.cuff_pressure_mmhg)]
        rate_hz = 1.0 / median(np.diff(found.time_s))
        return Paced(
            pieces,
            rate_hz=rate_hz,
            header=header,
            circumstances=None,
            fast=fast,
            began=began,
            fails=found.failed,
            unfinished=found.unfinished,
            cuts=found.cuts,
        )
    recording = read_recording(path, species=species, defaults=defaults)
    if is_invented(recording.circumstances):
        header[INVENTED_KEY] = NOT_A_PATIENT
    pieces = [(recording.time_s, recording.cuff_pressure_mmhg)]
    started_at = recording.circumstances.started_at
    return Paced(
        pieces,
        rate_hz=recording.sampling_rate_hz,
        header=header,
        circumstances=recording.circumstances,
        fast=fast,
        began=None if started_at is None else datetime.fromisoformat(started_at),
        cuts=[(cut.by, cut.at) for cut in recording.cuts],
    )

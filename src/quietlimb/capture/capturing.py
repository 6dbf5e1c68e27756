"""A source, the watch over its cuff and the folder that keeps it all, joined."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import numpy as np

from quietlimb.capture.errors import CaptureError
from quietlimb.capture.keeping import Keeping
from quietlimb.capture.source import INVENTED_KEY, Frame, Source
from quietlimb.engine.circumstances import SIMULATOR, Circumstances
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.live.moment import Finished, Moment
from quietlimb.engine.live.watch import Watch
from quietlimb.engine.recording import Recording
from quietlimb.exchange.blood_pressure_service import InstrumentReading
from quietlimb.exchange.errors import ProtocolError
from quietlimb.exchange.line_decoder import Trouble
from quietlimb.exchange.pressure_lines import RECEIVED_BEGIN, RECEIVED_END, RECEIVED_NOTHING, clock_line

STEP_S: Final = 0.1  # of time in one step, where a frame holds more than two
_TOLD_IN_FILES: Final = {INVENTED_KEY: INVENTED_KEY, "serial": "sensor_serial", "played": "played_from"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inflation:
    """One inflation that has ended, and where its recording is; no path where it was refused."""

    finished: Finished
    path: Path | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Step:
    """What is known after one frame, or after 0.1 s of one that holds more.

    frame         : what came; empty of samples at the end
    time_s        : of the newest sample, by the source's clock [s]; None where nothing new came
    pressure_mmhg : there [mmHg]
    moment        : what the watch says; None also where pulses cannot be read from this source
    inflations    : that ended in this step
    readings      : that an instrument sent
    troubles      : what went wrong since the step before, how often
    kept_until_s  : everything up to this time, by the source's clock, is on the disk [s]; None before anything is
    is_last       : the source has ended, and this is what was left in the cuff
    """

    frame: Frame
    time_s: float | None
    pressure_mmhg: float | None
    moment: Moment | None
    inflations: tuple[Inflation, ...]
    readings: tuple[InstrumentReading, ...]
    troubles: Mapping[Trouble, int]
    kept_until_s: float | None
    is_last: bool = False


def capture(
    source: Source, keeping: Keeping, circumstances: Circumstances, *, began: datetime | None = None
) -> Iterator[Step]:
    """Steps until the source ends or is closed; then what was left in the cuff, and everything is on the disk.

    began : when the source's first sample was measured, if that was not when it came

    Raises
    ------
    CaptureError, ProtocolError : as the source, after a last step; what came before is kept.
    OSError                     : the folder cannot be written.
    """
    watch = Watch(circumstances)
    told: Mapping[Trouble, int] = {}
    # The earliest that the host's clock can have been at the source's 0 s: what is late was held up on its way.
    zero_utc_s = math.inf
    newest_s: float | None = None
    kept_until_s: float | None = None
    failed: QuietlimbError | None = None
    begun = False
    frames = source.frames()
    while True:
        try:
            frame = next(frames)
        except StopIteration:
            break
        except (CaptureError, ProtocolError) as error:
            failed = error
            break
        if frame.lines and not begun:
            begun = True
            keeping.add(clock_line(RECEIVED_BEGIN, frame.received_utc_s))
        is_kept = keeping.add(frame.lines)
        if frame.time_s.size:
            zero_utc_s = min(zero_utc_s, frame.received_utc_s - float(frame.time_s[-1]))
        for part in _parts(frame):
            time_s = pressure = moment = None
            if part.time_s.size:
                time_s, pressure = float(part.time_s[-1]), float(part.cuff_pressure_mmhg[-1])
                if source.is_waveform:
                    if newest_s is None and source.began_cut:
                        watch.begins_cut()
                    moment = watch.add(part.time_s, part.cuff_pressure_mmhg)
                    pressure = moment.pressure_mmhg
                newest_s = time_s
            kept_until_s = newest_s if is_kept else kept_until_s
            ended = () if moment is None or moment.finished is None else (moment.finished,)
            before, told = told, _to_tell(source.troubles, told, waits=time_s is None)
            yield Step(
                frame=part,
                time_s=time_s,
                pressure_mmhg=pressure,
                moment=moment,
                inflations=tuple(_keep(keeping, source, one, _begin(one, began, zero_utc_s)) for one in ended),
                readings=part.readings,
                troubles=_more(before, told),
                kept_until_s=kept_until_s,
            )
    left = []
    cut_by = source.cut_by
    if begun and failed is not None and cut_by is None:
        cut_by = "sensor"
        keeping.add(clock_line(RECEIVED_NOTHING, time.time()))
    while (finished := watch.end(cut_by=cut_by)) is not None:
        left.append(_keep(keeping, source, finished, _begin(finished, began, zero_utc_s)))
    if begun:
        keeping.add(clock_line(RECEIVED_END, time.time()))
    keeping.sync()
    yield Step(
        frame=Frame(received_utc_s=time.time()),
        time_s=None,
        pressure_mmhg=None,
        moment=None,
        inflations=tuple(left),
        readings=(),
        troubles=_more(told, source.troubles),
        kept_until_s=newest_s,
        is_last=True,
    )
    if failed is not None:
        raise failed


def _more(before: Mapping[Trouble, int], now: Mapping[Trouble, int]) -> dict[Trouble, int]:
    return {kind: count - before.get(kind, 0) for kind, count in now.items() if count > before.get(kind, 0)}


def _to_tell(now: Mapping[Trouble, int], told: Mapping[Trouble, int], *, waits: bool) -> Mapping[Trouble, int]:
    """What to tell up to here: samples before their unit once at the first, the rest when the unit has come."""
    first = told.get("before-unit", 0)
    return {**now, "before-unit": first} if waits and first else now


def _parts(frame: Frame) -> Iterator[Frame]:
    """The frame in pieces of 0.1 s, so that samples which come faster than they were measured pass no remark over.

    The first has what else it holds.
    """
    if frame.time_s.size == 0 or frame.time_s[-1] - frame.time_s[0] < 2.0 * STEP_S:
        yield frame
        return
    number = np.floor((frame.time_s - frame.time_s[0]) / STEP_S + 1e-9)
    lines, readings, unfinished = frame.lines, frame.readings, frame.unfinished
    for part in np.split(np.arange(frame.time_s.size), np.flatnonzero(np.diff(number)) + 1):
        yield replace(
            frame,
            time_s=frame.time_s[part],
            cuff_pressure_mmhg=frame.cuff_pressure_mmhg[part],
            lines=lines,
            readings=readings,
            unfinished=unfinished,
        )
        lines, readings, unfinished = b"", (), None


def _begin(finished: Finished, began: datetime | None, zero_utc_s: float) -> datetime | None:
    if finished.recording is None:
        return None
    return (began or datetime.fromtimestamp(zero_utc_s, UTC).astimezone()) + timedelta(
        seconds=float(finished.recording.time_s[0])
    )


def marked(recording: Recording, header: Mapping[str, str], began: datetime) -> Recording:
    """The recording with when it began; with the simulator as its instrument where the source says it is invented."""
    around = replace(recording.circumstances, started_at=began.isoformat(timespec="seconds"))
    if INVENTED_KEY in header:
        around = replace(around, instrument=SIMULATOR)
    return replace(recording, circumstances=around)


def _keep(keeping: Keeping, source: Source, finished: Finished, began: datetime | None) -> Inflation:
    recording = finished.recording
    if recording is None or began is None:
        return Inflation(finished=finished, path=None)
    header = source.header
    recording = marked(recording, header, began)
    extra = {name: header[key] for key, name in _TOLD_IN_FILES.items() if key in header}
    path = keeping.keep_recording(recording, {**extra, "lines_in": keeping.lines_path.name})
    reading = finished.reading
    if reading is not None and reading.evidence is not None:
        reading = replace(reading, evidence=replace(reading.evidence, recording=recording))
    # as its file tells it, invented or not
    return Inflation(finished=replace(finished, recording=recording, reading=reading), path=path)

"""Samples that exist, or are made, sent as by a sensor: at their own pace or as fast as possible."""

from __future__ import annotations

import threading
import time
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import datetime
from typing import Final

import numpy as np
from numpy.typing import NDArray

from quietlimb.capture.source import Frame
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.recording import CutBy, CutEnd
from quietlimb.exchange.errors import ProtocolError
from quietlimb.exchange.line_decoder import LineDecoder, Trouble
from quietlimb.exchange.pressure_lines import (
    RECEIVED_NOTHING,
    RECEIVED_UTC,
    VERSION,
    UnfinishedLine,
    clock_line,
    header_line,
    sample_line,
)

Piece = tuple[NDArray[np.float64], NDArray[np.float64]]  # (n,) times [s], rising over all pieces, and (n,) mmHg

PIECE_S: Final = 0.05  # of time in one frame
_PAUSE_US: Final = 500_000  # longer than any gap in a recording


class Paced:
    """A source of pieces.

    rate_hz    : samples a second; over a pause of more than 0.5 s as many are told to be missing
    header     : what the sensor would tell beside unit and rate
    fast       : as fast as possible; otherwise each frame at its own time
    speed      : how many times as fast as it was measured it comes, unless `fast`
    began      : when the first sample was measured; None where nobody knows, and it is taken for now
    fails      : what is raised after the last piece; None where that is the end
    unfinished : the line in whose middle its file ends, told after the last piece; None where there is none
    cuts       : where what is played was cut off
    """

    is_waveform = True

    def __init__(
        self,
        pieces: Iterable[Piece],
        *,
        rate_hz: float,
        header: Mapping[str, str],
        circumstances: Circumstances | None,
        fast: bool,
        speed: float = 1.0,
        began: datetime | None = None,
        fails: ProtocolError | None = None,
        unfinished: UnfinishedLine | None = None,
        cuts: Collection[tuple[CutBy, CutEnd]] = (),
    ) -> None:
        self.circumstances, self.began = circumstances, began
        self._pieces, self._told, self._fast, self._rate_hz = pieces, header, fast, rate_hz
        self._speed, self._fails, self._unfinished = speed, fails, unfinished
        self._cuts = cuts
        self._cut_by: CutBy | None = None
        self._closing = threading.Event()
        self._decoder = LineDecoder()

    @property
    def header(self) -> Mapping[str, str]:
        """What the sensor would tell."""
        return dict(self._decoder.header) or dict(self._told)

    @property
    def troubles(self) -> Mapping[Trouble, int]:
        """Pauses, as gaps, and a line that is not whole."""
        return dict(self._decoder.troubles)

    @property
    def began_cut(self) -> bool:
        """Whether what is played was cut off at its start."""
        return self._decoder.began_cut

    @property
    def cut_by(self) -> CutBy | None:
        """What cut off what is played, once all of it was."""
        return "sensor" if self._decoder.was_cut else self._cut_by

    def close(self) -> None:
        """Let `frames` end."""
        self._closing.set()

    def frames(self) -> Iterator[Frame]:
        """The pieces, cut to frames of 0.05 s."""
        head = {"proto": VERSION, "unit": "mmHg", "rate_hz": f"{self._rate_hz:g}", **self._told}
        yield self._frame([header_line(key, value) for key, value in head.items()], time.time())
        if ("sensor", "start") in self._cuts:
            yield self._frame([clock_line(RECEIVED_NOTHING, time.time())], time.time())
        began, number, newest_us, first_s = time.monotonic(), 0, 0, None
        for time_s, pressure in (frame for piece in self._pieces for frame in _cut(piece)):
            first_s = float(time_s[0]) if first_s is None else first_s
            if not self._fast:
                # the newest of its samples has to have been measured
                due_s = (float(time_s[-1]) - first_s) / self._speed
                self._closing.wait(max(0.0, due_s - (time.monotonic() - began)))
            if self._closing.is_set():
                return
            clock = np.round(1e6 * (time_s - first_s)).astype(np.int64)
            numbers = number + np.cumsum(self._counted(np.diff(clock, prepend=newest_us)))
            number, newest_us = int(numbers[-1]), int(clock[-1])
            rows = zip(numbers.tolist(), clock.tolist(), pressure.tolist(), strict=True)
            yield self._frame([sample_line(*row) for row in rows], time.time())
        if self._unfinished is not None:
            yield self._frame([self._unfinished.kept], time.time(), self._unfinished)
        if ("sensor", "end") in self._cuts:
            yield self._frame([clock_line(RECEIVED_NOTHING, time.time())], time.time())
        self._cut_by = "capture" if ("capture", "end") in self._cuts else None
        if self._fails is not None:
            raise self._fails

    def _counted(self, step_us: NDArray[np.int64]) -> NDArray[np.int64]:
        """By how much a sensor's number rises with each step of its clock: by one, and over a pause by its length."""
        return np.where(step_us > _PAUSE_US, np.round(step_us * self._rate_hz / 1e6).astype(np.int64), 1)

    def _frame(self, lines: list[bytes], now: float, unfinished: UnfinishedLine | None = None) -> Frame:
        lines = [clock_line(RECEIVED_UTC, now), *lines]
        samples = self._decoder.feed(line[:-1] for line in lines)
        return Frame(
            time_s=samples.time_s,
            cuff_pressure_mmhg=samples.cuff_pressure_mmhg,
            received_utc_s=now,
            lines=b"".join(lines),
            unfinished=unfinished,
        )


def _cut(piece: Piece) -> Iterator[Piece]:
    time_s, pressure = piece
    edges = np.searchsorted(time_s, np.arange(time_s[0] + PIECE_S, time_s[-1] + PIECE_S, PIECE_S))
    bounds = np.unique(np.concatenate(([0], edges, [time_s.size])))
    for start, stop in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True):
        yield time_s[start:stop], pressure[start:stop]

"""Inflations of a training animal read by the engine, each once, however often it is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from quietlimb.engine.reading import Method, Reading, read
from quietlimb.engine.recording import SHORTEST_S, Recording
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.session.charting import chart
from quietlimb.engine.session.series import series_from_readings
from quietlimb.simulator.training.animal import TrainingAnimal
from quietlimb.teaching.attempts import Attempt


class Bench:
    """Where one animal is measured again and again.

    taken : inflations as they were; those that tell how they were read at the table are not read anew
    """

    def __init__(self, animal: TrainingAnimal, method: Method, taken: Sequence[Attempt]) -> None:
        self.animal, self.method = animal, method
        self._known = {_key(each): each.as_read for each in taken if each.as_read is not None}
        self._lasted_min: dict[tuple[object, ...], float] = {}
        self._reached_mmhg: dict[tuple[object, ...], float] = {}

    def readings(self, attempts: Sequence[Attempt]) -> list[Reading]:
        """The reading of each inflation, in the order given."""
        self._take(attempts)
        return [self._known[_key(each)] for each in attempts]

    def lasted_min(self, attempt: Attempt) -> float:
        """How long the recording of an inflation is [min]."""
        if _key(attempt) not in self._lasted_min:
            self._recording(attempt)
        return self._lasted_min[_key(attempt)]

    def reached_mmhg(self, attempt: Attempt) -> float:
        """The highest pressure that the cuff showed in an inflation [mmHg]."""
        if _key(attempt) not in self._reached_mmhg:
            self._recording(attempt)
        return self._reached_mmhg[_key(attempt)]

    def charted(self, attempts: Sequence[Attempt]) -> ChartedPressure:
        """What the engine charts for these inflations; where none can be read, its findings say so."""
        return chart(
            series_from_readings(
                self.readings(attempts),
                [each.minute for each in attempts],
                self.animal.circumstances(attempts[-1].choices),
            )
        )

    def _take(self, attempts: Sequence[Attempt]) -> None:
        missing = list({_key(each): each for each in attempts if _key(each) not in self._known}.values())
        readings = read([self._recording(each) for each in missing], method=self.method)
        self._known.update((_key(each), reading) for each, reading in zip(missing, readings, strict=True))

    def _recording(self, attempt: Attempt) -> Recording:
        whole = self.animal.inflate(attempt.choices, minute=attempt.minute, number=attempt.number).recording
        made = _until_opened(whole, attempt.opened_at_mmhg)
        self._lasted_min[_key(attempt)] = float(made.time_s[-1] - made.time_s[0]) / 60.0
        self._reached_mmhg[_key(attempt)] = float(made.cuff_pressure_mmhg.max())
        return made


def _key(attempt: Attempt) -> tuple[object, ...]:
    return attempt.choices, attempt.minute, attempt.number, attempt.opened_at_mmhg


def _until_opened(whole: Recording, opened_at_mmhg: float | None) -> Recording:
    """The recording up to where the pressure, beyond its top, first comes down to where the valve was opened."""
    if opened_at_mmhg is None:
        return whole
    time_s, pressure = whole.time_s, whole.cuff_pressure_mmhg
    top = int(np.argmax(pressure))
    below = np.flatnonzero(pressure[top:] <= opened_at_mmhg)
    if not below.size:
        return whole
    # a recording has a least length, however soon the valve was opened
    end = max(top + int(below[0]), int(np.searchsorted(time_s, time_s[0] + SHORTEST_S)))
    return replace(whole, time_s=time_s[: end + 1], cuff_pressure_mmhg=pressure[: end + 1])

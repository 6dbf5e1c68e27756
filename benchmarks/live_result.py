"""From the cuff being empty to the result: how long somebody at the table waits, by the wall.

    python benchmarks/live_result.py > benchmarks/live_result.txt

An invented animal's inflations come through the source's port at their own pace from a second before the cuff is
empty until the result is there; what came before is given as fast as it is taken. Everything is on the disk meanwhile,
as in a capture. The 0.3 s for which a cuff has to lie empty are part of the wait.
"""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Iterator, Mapping
from pathlib import Path

import numpy as np

from quietlimb.capture.capturing import capture
from quietlimb.capture.keeping import Keeping
from quietlimb.capture.source import Frame
from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.deflation import IDLE_MMHG
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator.draws import streams
from quietlimb.simulator.recordings import take_recording
from quietlimb.simulator.subjects import Settings, draw_subject

INFLATIONS, SEED, RATE_HZ = 40, 3, 200.0
TOGETHER = 10  # samples in a frame: 20 a second
LAST_S, AFTER_S = 1.0, 3.0


class Played:
    """One recording, its end at its own pace."""

    is_waveform = True
    began_cut = False
    cut_by = None
    circumstances = None
    header: Mapping[str, str] = {}
    troubles: Mapping[str, int] = {}

    def __init__(self, time_s: np.ndarray, pressure: np.ndarray) -> None:
        late = np.arange(1, round(AFTER_S * RATE_HZ) + 1) / RATE_HZ
        self._time = np.concatenate((time_s, time_s[-1] + late))
        self._pressure = np.concatenate((pressure, np.full(late.size, 0.1)))
        self.empty_s = float(time_s[min(np.flatnonzero(pressure >= IDLE_MMHG)[-1] + 1, time_s.size - 1)])
        self.emptied_at = 0.0

    def frames(self) -> Iterator[Frame]:
        """The frames; the last ones wait for their time."""
        slow_from = int(np.searchsorted(self._time, self.empty_s - LAST_S))
        began = 0.0
        for first in range(0, self._time.size, TOGETHER):
            part = slice(first, first + TOGETHER)
            newest = float(self._time[part][-1])
            if first >= slow_from:
                began = began or time.monotonic()
                time.sleep(max(0.0, newest - float(self._time[slow_from]) - (time.monotonic() - began)))
            if newest >= self.empty_s and not self.emptied_at:
                self.emptied_at = time.monotonic()
            yield Frame(time_s=self._time[part], cuff_pressure_mmhg=self._pressure[part], received_utc_s=0.0)

    def close(self) -> None:
        """Nothing to close."""


def main() -> None:
    """Print how long the result took."""
    for_subject, for_recordings = streams(SEED, 2)
    subject = draw_subject(for_subject, species="cat", settings=Settings(sampling_hz=RATE_HZ))
    waited = []
    for _ in range(INFLATIONS):
        made = take_recording(for_recordings, subject).recording
        source = Played(made.time_s, made.cuff_pressure_mmhg)
        with tempfile.TemporaryDirectory() as folder:
            keeping = Keeping(Path(folder))
            for step in capture(source, keeping, Circumstances(species="cat")):
                if step.inflations:
                    waited.append(time.monotonic() - source.emptied_at)
                    break
            keeping.close()
    told = np.array(waited)
    print(f"Live: engine {ENGINE_VERSION}, {told.size} inflations of one invented cat at {RATE_HZ:g} Hz, seed {SEED}")
    print(f"load average over a minute at the end: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    quantiles = ", ".join(f"{name} {1e3 * np.quantile(told, q):.0f}" for name, q in (("median", 0.5), ("95th", 0.95)))
    print(f"from empty to result [ms]: {quantiles}, greatest {1e3 * told.max():.0f} (wanted: under 1000)")


if __name__ == "__main__":
    main()

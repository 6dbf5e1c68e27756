"""The watch over one cuff: samples in as they come, what stands now out."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.deflation import IDLE_MMHG, LEAST_FALL_MMHG
from quietlimb.engine.errors import RecordingError
from quietlimb.engine.live.course import BEGINS_MMHG, Course
from quietlimb.engine.live.look import Look, look_at
from quietlimb.engine.live.moment import Finished, Moment, Phase
from quietlimb.engine.live.motion import TICK_S
from quietlimb.engine.live.remarks import Remarks, after_the_end
from quietlimb.engine.quantiles import median
from quietlimb.engine.reading import Reading, read
from quietlimb.engine.recording import (
    KPA_SUSPECTED_BELOW_MMHG,
    LONGEST_GAP_S,
    SHORTEST_S,
    Cut,
    CutBy,
    recording,
)

Array = NDArray[np.float64]

BEFORE_S, LONGEST_BEFORE_S = 1.0, 5.0  # kept from before an inflation; of a slow rise from idle, so much
EMPTY_FOR_S = 0.3  # invented: below idle for so long, an inflation has come to its end
LONGEST_S = 300.0  # invented: an inflation that nobody ends is cut here, so that nothing grows for ever
LOOK_EVERY_S, LOOK_EVERY_OF_LENGTH = 0.5, 1.0 / 120.0  # a look at a longer deflation costs more: every 1 s at 2 min
# Where a look finds these, what it keeps as pulses may be a tail that wags, and takes no movement back.
NO_ARTERY = ("limb-kept-moving", "limb-loaded", "no-envelope", "no-pulse", "few-pulses")
NOW_S, NOW_TICKS = 0.1, 2


@dataclass(frozen=True, slots=True)
class _Tick:
    time: Array
    pressure: Array
    level_mmhg: float


class Watch:
    """One cuff, one animal, any number of inflations one after the other.

    A stream is split where the pressure stays under 12 mmHg for 0.3 s, where nothing comes for more than 0.5 s, where
    the cuff is pumped up again without having been emptied, and after 5 min under pressure. Only the present inflation,
    and about 1 s before it, is kept. What never reached 45 mmHg and was over within 3 s was a touch of the cuff and is
    no inflation.

    Where a stream is split, and so each finished recording, does not hang on the sizes of the pieces; looks do: one at
    most for each call of `add`, and one every 0.5 s.
    """

    def __init__(self, circumstances: Circumstances) -> None:
        self._circumstances = circumstances
        self._origin_s: float | None = None
        self._newest_s = float("-inf")
        self._open_time, self._open_pressure = np.empty(0), np.empty(0)  # of a tick that is not complete
        self._ticks: deque[_Tick] = deque()
        self._last_mean: float | None = None
        self._last_idle_s = float("-inf")
        self._course: Course | None = None
        self._begins_cut = self._after_gap = False
        self._look: Look | None = None
        self._most_counted = 0
        self._remarks = Remarks()
        self._ended: deque[Finished] = deque()
        self._shown: Finished | None = None

    @property
    def kept_samples(self) -> int:
        """How many samples are held of what has not come to its end."""
        return sum(tick.time.size for tick in self._ticks) + self._open_time.size

    def begins_cut(self) -> None:
        """What comes first begins where it does because the source had been silent, and not because of any hand."""
        self._begins_cut = True

    def add(self, time_s: ArrayLike, cuff_pressure_mmhg: ArrayLike) -> Moment:
        """What stands after these samples.

        Parameters
        ----------
        time_s             : (n,) n >= 1, strictly increasing, and later than all before [s]
        cuff_pressure_mmhg : (n,) [mmHg]

        Raises
        ------
        RecordingError : `shape`, `not-finite` or `time-backwards`; nothing of the piece is then taken.

        Notes
        -----
        Where more than one inflation ends within one piece, the next call tells the next one.
        """
        time, pressure = self._checked(time_s, cuff_pressure_mmhg)
        self._newest_s = float(time[-1])
        self._take(time, pressure)
        course = self._course
        if course is not None and course.deflating and course.fallen_mmhg >= LEAST_FALL_MMHG:
            self._look_if_due(course)
        return self._moment(self._next_finished())

    def end(self, *, cut_by: CutBy | None = None) -> Finished | None:
        """The source has ended: what is left becomes a recording. Called again, the next that was not told yet.

        cut_by : what ended it, where that was not whoever measures
        """
        if self._open_time.size:
            self._tick(self._open_time, self._open_pressure)
            self._open_time, self._open_pressure = np.empty(0), np.empty(0)
        self._close(self._cut_here(cut_by))
        self._ticks.clear()
        return self._next_finished()

    def _checked(self, time_s: ArrayLike, cuff_pressure_mmhg: ArrayLike) -> tuple[Array, Array]:
        time = np.atleast_1d(np.asarray(time_s, dtype=np.float64))
        pressure = np.atleast_1d(np.asarray(cuff_pressure_mmhg, dtype=np.float64))
        if time.ndim != 1 or time.shape != pressure.shape or time.size == 0:
            raise RecordingError(
                "shape",
                f"time has shape {time.shape} but cuff pressure has {pressure.shape}",
                "give two columns of equal length, one sample or more",
            )
        for name, column in (("time", time), ("cuff pressure", pressure)):
            bad = np.flatnonzero(~np.isfinite(column))
            if bad.size:
                raise RecordingError("not-finite", f"sample {bad[0] + 1}: {name} is not a number", "leave it out")
        before = np.concatenate(([self._newest_s], time[:-1]))
        back = np.flatnonzero(time <= before)
        if back.size:
            k = int(back[0])
            raise RecordingError(
                "time-backwards",
                f"sample {k + 1} of the piece: time goes from {before[k]:g} s to {time[k]:g} s",
                "give each sample once, in the order of time",
            )
        return time, pressure

    def _take(self, time: Array, pressure: Array) -> None:
        """Cut into ticks of 0.05 s by the source's clock, so that nothing hangs on the sizes of the pieces."""
        time = np.concatenate((self._open_time, time))
        pressure = np.concatenate((self._open_pressure, pressure))
        if self._origin_s is None:
            self._origin_s = float(time[0])
        number = np.floor((time - self._origin_s) / TICK_S + 1e-9)
        cuts = np.flatnonzero(np.diff(number)) + 1
        first = 0
        for cut in cuts.tolist():
            self._tick(time[first:cut], pressure[first:cut])
            first = cut
        self._open_time, self._open_pressure = time[first:].copy(), pressure[first:].copy()

    def _tick(self, time: Array, pressure: Array) -> None:
        begins, ends = float(time[0]), float(time[-1])
        after_gap = bool(self._ticks) and begins - float(self._ticks[-1].time[-1]) > LONGEST_GAP_S
        mean = float(pressure.mean())
        level = mean if self._last_mean is None or after_gap else 0.5 * (mean + self._last_mean)
        self._last_mean = mean
        self._after_gap, self._begins_cut = after_gap or self._begins_cut, False
        if after_gap:
            self._cut(goes_on=level >= IDLE_MMHG, ended=self._cut_here("sensor"), began_mmhg=level)
        elif self._course is not None and begins - float(self._ticks[0].time[0]) >= LONGEST_S:
            self._cut(goes_on=True)
        self._ticks.append(_Tick(time.copy(), pressure.copy(), level))
        if self._course is None:
            self._wait(ends, level)
        if self._course is None:
            return
        self._course.add(ends, level)
        if self._course.rose_from_s is not None:
            self._split(self._course.rose_from_s)
        if not self._course.deflating:
            self._look, self._remarks, self._most_counted = None, Remarks(), 0
        self._notice(self._course)
        empty_since = self._course.below_idle_since_s
        if empty_since is not None and ends - empty_since >= EMPTY_FOR_S:
            self._close()

    def _notice(self, course: Course) -> None:
        newest, before = self._ticks[-1], None if self._shown is None else self._shown.reading
        self._remarks.follow(float(newest.time[-1]), newest.level_mmhg, course, self._look, before)

    def _wait(self, now_s: float, level: float) -> None:
        """Without an inflation: forget what is older than is wanted before one, and see whether one begins."""
        if level < IDLE_MMHG:
            self._last_idle_s = now_s
        from_s = max(self._last_idle_s - BEFORE_S, now_s - LONGEST_BEFORE_S)
        while self._ticks[0].time[-1] < from_s:
            self._ticks.popleft()
        if level >= BEGINS_MMHG:
            self._begin(
                max(self._last_idle_s, float(self._ticks[0].time[0])), cut_mmhg=level if self._after_gap else None
            )

    def _begin(self, since_s: float, *, cut_mmhg: float | None = None, was_falling: bool = True) -> None:
        self._course = Course(since_s, cut_mmhg=cut_mmhg, was_falling=was_falling)
        self._look, self._remarks, self._most_counted = None, Remarks(), 0

    def _cut_here(self, by: CutBy | None) -> Cut | None:
        """The cut after the newest tick; None where nothing cut it, or the cuff was as good as empty."""
        if by is None or not self._ticks or self._ticks[-1].level_mmhg < BEGINS_MMHG:
            return None
        return Cut(at="end", by=by, pressure_mmhg=self._ticks[-1].level_mmhg)

    def _cut(self, *, goes_on: bool, ended: Cut | None = None, began_mmhg: float | None = None) -> None:
        """The recording ends here; the cuff may stay inflated, and then its time goes on.

        ended, began_mmhg : where the source cut it [mmHg]
        """
        before = self._course
        self._close(ended)
        self._ticks.clear()
        if goes_on and before is not None:
            self._begin(before.since_s, cut_mmhg=began_mmhg, was_falling=before.falls)

    def _split(self, at_s: float) -> None:
        """Pumped up again without having been emptied: what came before the rise is a recording by itself."""
        ticks, course = self._ticks, self._course
        assert course is not None
        self._ticks = deque(tick for tick in ticks if tick.time[-1] <= at_s)
        self._close()
        self._ticks = deque(tick for tick in ticks if tick.time[-1] > at_s)
        self._begin(course.since_s)

    def _close(self, ended: Cut | None = None) -> None:
        course, self._course = self._course, None
        if course is None:
            return
        ticks, self._ticks = self._ticks, deque()
        time = np.concatenate([tick.time for tick in ticks])
        if course.highest_mmhg < KPA_SUSPECTED_BELOW_MMHG and time[-1] - course.since_s < SHORTEST_S:
            return
        pressure = np.concatenate([tick.pressure for tick in ticks])
        whole, reading, refused = None, None, None
        cuts = _cuts(course) if ended is None else (*_cuts(course), ended)
        try:
            whole = recording(time, pressure, self._circumstances, cuts)
        except RecordingError as error:
            refused = error
        else:
            reading = read(whole)
        self._ended.append(Finished(recording=whole, reading=reading, refused=refused, cuts=cuts))

    def _next_finished(self) -> Finished | None:
        if not self._ended:
            return None
        self._shown = self._ended.popleft()
        return self._shown

    def _look_if_due(self, course: Course) -> None:
        now_s = float(self._ticks[-1].time[-1])
        every_s = max(LOOK_EVERY_S, LOOK_EVERY_OF_LENGTH * (now_s - course.since_s))
        if self._look is not None and now_s - self._look.at_s < every_s:
            return
        time = np.concatenate([tick.time for tick in self._ticks])
        pressure = np.concatenate([tick.pressure for tick in self._ticks])
        try:
            so_far = recording(time, pressure, self._circumstances, _cuts(course))
        except RecordingError:
            return
        self._look = look_at(read(so_far), at_s=now_s, level_mmhg=self._ticks[-1].level_mmhg, before=self._look)
        self._most_counted = max(self._most_counted, self._look.counted)
        evidence = self._look.so_far.evidence
        pulses = None if evidence is None else evidence.pulses
        if pulses is not None and not self._look.is_spoiled_by(NO_ARTERY):
            course.motion.learn(pulses, now_s)
        self._notice(course)

    def _pressure_now(self) -> float:
        newest = [self._ticks[-k] for k in range(min(NOW_TICKS, len(self._ticks)), 0, -1)]
        time = np.concatenate((*(tick.time for tick in newest), self._open_time))
        pressure = np.concatenate((*(tick.pressure for tick in newest), self._open_pressure))
        return median(pressure[time > self._newest_s - NOW_S])

    def _moment(self, finished: Finished | None) -> Moment:
        course = self._course
        phase: Phase
        reading: Reading | None
        if course is not None:
            phase = "deflating" if course.falls else "inflating"
            reading = None if self._look is None else self._look.reading
            remarks = self._remarks.now()
        else:
            phase = "idle" if self._shown is None else "emptied"
            reading = None if self._shown is None else self._shown.reading
            remarks = () if self._shown is None else after_the_end(self._shown)
        return Moment(
            time_s=self._newest_s,
            pressure_mmhg=self._pressure_now(),
            phase=phase,
            inflated_s=0.0 if course is None else self._newest_s - course.since_s,
            fall_mmhg_per_s=None if course is None else course.fall_mmhg_per_s,
            pulses_counted=None if course is None or self._look is None else self._look.counted,
            pulses_dropped=0 if course is None or self._look is None else self._most_counted - self._look.counted,
            pulses=None if reading is None or reading.evidence is None else reading.evidence.pulses,
            reading=reading,
            remarks=remarks,
            finished=finished,
        )


def _cuts(course: Course) -> tuple[Cut, ...]:
    """Where the source, and not whoever inflates, began it."""
    if course.cut_mmhg is None:
        return ()
    return (Cut(at="start", by="sensor", pressure_mmhg=course.cut_mmhg),)

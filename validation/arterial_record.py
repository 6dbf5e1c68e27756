"""How right a reading is on real beats: the simulator's cuff around a recorded arterial pressure.

    python validation/arterial_record.py RECORD --channel ABP [--start S] [--count N] [--family F] [--deflation steps]

RECORD is a WFDB record (its header .hea), an EDF or EDF+ file (.edf) or a CSV table (a column time_s or time_ms, and
the pressure in a column such as ABP_mmHg). The channel is named by its label, in any case, or by its number counted
from 1.

The record is cut into stretches as long as one cuff course. The first 10 s of each tell about where the pressure lies;
a course that suits it is drawn, with an artery, a cuff and a sensor, and the stretch drives the cuff. Truth is the mean
over the beats from the top of the inflation to the dump of each beat's highest pressure, time mean and lowest pressure,
found in the arterial pressure itself. A catheter's own errors (damping, height against the heart) are in that truth,
and the artery under the cuff stays an invented one: only the beats are real.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from arterial_file import ArterialRecord, read_arterial
from numpy.typing import NDArray
from reading import FAMILIES as UNKNOWN_FAMILIES
from reading import QUANTITIES, Outcome, report
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import uniform_filter1d
from scipy.signal import find_peaks

from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.reading import METHODS, Method, read
from quietlimb.engine.recording import Recording, recording
from quietlimb.engine.values import Estimate
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.errors import FileError, quoted
from quietlimb.simulator import FAMILIES
from quietlimb.simulator.cuff_course import draw_course
from quietlimb.simulator.disturbances import breathing_and_tone
from quietlimb.simulator.pulse_shape import PulseShape
from quietlimb.simulator.sensor import TRACE_HZ
from quietlimb.simulator.subjects import Settings, Subject, draw_subject

Samples = NDArray[np.float64]

FIRST_LOOK_S = 10.0  # invented: six beats at 40 a minute
FEWEST_BEATS = 5  # invented: in a first look; a deflation has many more
LONGEST_BEAT_S = 2.5  # invented: where no beat comes for so long, beats were missed or the catheter was
BEAT_SHARE = 0.15  # invented: of the pulse pressure; a premature beat rises so much, and hardly a dicrotic wave
SMOOTHED_OVER_S = 0.02  # only to find the tops: pressures are taken from the record as it is
PULSE_WINDOW_S = 2.0  # holds a whole beat down to 30 a minute
FLAT_S, CLIPPED_S = 0.5, 0.15  # invented: a pulse never stands still so long, least at its top or foot
MISSING_FROM = 1.5  # sampling intervals from sample to sample
PHASES = 512  # of PulseShape
SENSOR_ENDS_MMHG = (-15.0, 345.0)
NO_SUCH_ANIMAL = ("impossible-animal", "impossible-course", "coupling-too-strong")


class UnusableError(Exception):
    """A stretch that cannot drive the cuff; its text is the reason."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Beats:
    """What each of m whole beats was: samples of its foot and of the next one, pressures [mmHg]."""

    foot: NDArray[np.intp]
    next_foot: NDArray[np.intp]
    systolic: Samples
    mean: Samples
    diastolic: Samples

    def between(self, first: int, last: int) -> Beats:
        """Those that begin and end within these samples."""
        inside = (self.foot >= first) & (self.next_foot <= last)
        return Beats(**{name: getattr(self, name)[inside] for name in self.__slots__})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Driven:
    """A cuff recording driven by an arterial pressure, and what was true: as in the simulator's `Truth`.

    arterial_mmhg : the pressure in the artery, at 1000 Hz [mmHg]
    """

    recording: Recording
    arterial_mmhg: Samples
    systolic: float
    mean: float
    diastolic: float
    pulse_rate: float
    peak_to_noise: float
    family: str
    deflation: str


def stretch(record: ArterialRecord, start_s: float, length_s: float) -> Samples:
    """The pressure from `start_s` on at 1000 Hz [mmHg], by a curve that never goes beyond two neighbouring samples.

    Raises
    ------
    UnusableError : with a gap, or a pressure that stands still.
    """
    interval = 1.0 / record.rate_hz
    first, last = np.searchsorted(record.time_s, (start_s - 1e-9, start_s + length_s + interval))
    time, pressure = record.time_s[first:last], record.pressure_mmhg[first:last]
    steps = np.diff(np.concatenate(([start_s - interval], time, [start_s + length_s + interval])))
    if np.isnan(pressure).any() or time.size < 2 or steps[1:-1].max() > MISSING_FROM * interval:
        raise UnusableError("gap")
    if max(steps[0], steps[-1]) > (1.0 + MISSING_FROM) * interval:
        raise UnusableError("gap")
    still = np.concatenate(([True], np.diff(pressure) != 0.0, [True]))
    edges = np.flatnonzero(still)
    seconds, level = np.diff(edges) * interval, pressure[edges[:-1]]
    extreme = (level == pressure.max()) | (level == pressure.min())
    if (seconds[~extreme] >= FLAT_S).any() or np.ptp(pressure) == 0.0:
        raise UnusableError("flat")
    if (seconds[extreme] >= CLIPPED_S).any():
        raise UnusableError("saturated")
    at = start_s + np.arange(int(length_s * TRACE_HZ) + 1) / TRACE_HZ
    return np.asarray(PchipInterpolator(time, pressure)(np.clip(at, time[0], time[-1])))


def find_beats(arterial_mmhg: Samples, rate_hz: float) -> Beats:
    """The beats of an arterial pressure: tops that stand out by 0.15 of the pulse, feet lowest between two tops.

    Raises
    ------
    UnusableError : with fewer than five whole beats, or 2.5 s without one.
    """
    window = int(PULSE_WINDOW_S * rate_hz)
    pieces = arterial_mmhg[: arterial_mmhg.size // window * window].reshape(-1, window)
    pulse = float(np.median(np.ptp(pieces, axis=1)))
    smooth = uniform_filter1d(arterial_mmhg, max(1, round(SMOOTHED_OVER_S * rate_hz)))
    tops, _ = find_peaks(smooth, prominence=max(BEAT_SHARE * pulse, 1.0))
    feet = np.array([a + int(arterial_mmhg[a:b].argmin()) for a, b in pairwise(tops)], dtype=np.intp)
    longest = np.diff(np.concatenate(([0], tops, [arterial_mmhg.size]))).max() / rate_hz
    if feet.size <= FEWEST_BEATS or longest > LONGEST_BEAT_S:
        raise UnusableError("not enough beats")
    within, first = arterial_mmhg[: feet[-1]], feet[:-1]
    return Beats(
        foot=feet[:-1],
        next_foot=feet[1:],
        systolic=np.maximum.reduceat(within, first),
        mean=np.add.reduceat(within, first) / np.diff(feet),
        diastolic=np.minimum.reduceat(within, first),
    )


def mean_shape(arterial_mmhg: Samples, beats: Beats) -> PulseShape:
    """The form of the mean beat, which sets how high the pulses of a given cuff are."""
    phase = np.arange(PHASES) / PHASES
    at = beats.foot[:, np.newaxis] + phase * (beats.next_foot - beats.foot)[:, np.newaxis]
    height = np.interp(at, np.arange(arterial_mmhg.size), arterial_mmhg).mean(axis=0)
    height = np.roll(height, -int(height.argmin())) - height.min()
    height /= height.max()
    return PulseShape(height=height, form_factor=float(height.mean()), upstroke=float(phase[height.argmax()]))


def drive(
    record: ArterialRecord, start_s: float, seed: tuple[int, int], *, species: Species, family: str, settings: Settings
) -> tuple[Driven | str, float]:
    """The cuff driven by the stretch from `start_s`, or why it cannot be; and the seconds that were looked at."""
    looked_at = FIRST_LOOK_S
    for_subject, for_course, for_unrest, for_noise = (
        np.random.default_rng(child) for child in np.random.SeedSequence(seed).spawn(4)
    )
    try:
        look = stretch(record, start_s, FIRST_LOOK_S)
        beats = find_beats(look, TRACE_HZ)
        suited: Settings = {
            **settings,
            "systolic": float(beats.systolic.mean()),
            "diastolic": float(beats.diastolic.mean()),
            "pulse_rate": 60.0 * TRACE_HZ / float(np.mean(beats.next_foot - beats.foot)),
            "shape": mean_shape(look, beats),
        }
        subject = draw_subject(for_subject, species=species, family=family, settings=suited)
        course = draw_course(for_course, subject.animal, deflation=settings.get("deflation"))
        looked_at = course.end_s
        if start_s + looked_at > record.time_s[-1]:
            return "end of the record", looked_at
        arterial = stretch(record, start_s, course.end_s)
        first, last = (round(edge * TRACE_HZ) for edge in course.deflation_s)
        met = find_beats(arterial, TRACE_HZ).between(first, last)
        if met.foot.size < FEWEST_BEATS:
            return "not enough beats", looked_at
        time_s = np.arange(arterial.size) / TRACE_HZ
        base = course.base(time_s, TRACE_HZ)
        base += breathing_and_tone(for_unrest, time_s, subject.animal.breaths, subject.peak_height_mmhg)
        cuff = cuff_recording(subject, arterial, base, for_noise)
    except UnusableError as unusable:
        return str(unusable), looked_at
    except ParameterError as error:
        if error.code not in NO_SUCH_ANIMAL:
            raise
        return "no animal of the simulator has such pressures", looked_at
    noise = subject.height_sd_mmhg
    driven = Driven(
        recording=cuff,
        arterial_mmhg=arterial,
        systolic=float(met.systolic.mean()),
        mean=float(met.mean.mean()),
        diastolic=float(met.diastolic.mean()),
        pulse_rate=60.0 * TRACE_HZ / float(np.mean(met.next_foot - met.foot)),
        peak_to_noise=subject.peak_height_mmhg / noise if noise > 0.0 else np.inf,
        family=family,
        deflation=course.deflation,
    )
    return driven, looked_at


def cuff_recording(subject: Subject, arterial_mmhg: Samples, base_mmhg: Samples, rng: np.random.Generator) -> Recording:
    """What the sensor records of this subject's cuff, for arterial and base pressure at 1000 Hz [mmHg]."""
    cuff = subject.limb.cuff_pressure(arterial_mmhg, base_mmhg, TRACE_HZ)
    time_s, pressure = subject.sensor.record(rng, np.clip(cuff, *SENSOR_ENDS_MMHG))
    return recording(time_s, pressure, subject.animal.circumstances)


def drive_all(
    record: ArterialRecord,
    *,
    start_s: float = 0.0,
    count: int | None = None,
    seed: int = 20260101,
    species: Species = "dog",
    family: str | None = None,
    settings: Settings | None = None,
) -> tuple[list[Driven], Counter[str]]:
    """The cuff driven stretch after stretch, at most `count` times; and how many were skipped for which reason.

    family : of the artery; None to take in turn the families that the reading was not set on
    """
    found: list[Driven] = []
    skipped: Counter[str] = Counter()
    now, tried, end = max(start_s, float(record.time_s[0])), 0, float(record.time_s[-1])
    while now + FIRST_LOOK_S <= end and (count is None or len(found) < count):
        artery = family or UNKNOWN_FAMILIES[tried % len(UNKNOWN_FAMILIES)]
        one, seconds = drive(record, now, (seed, tried), species=species, family=artery, settings=settings or {})
        if isinstance(one, Driven):
            found.append(one)
        else:
            skipped[one] += 1
        now, tried = now + seconds, tried + 1
    return found, skipped


def outcomes(driven: list[Driven], species: Species, method: Method) -> list[Outcome]:
    """Each read and set against its truth."""
    found = []
    for one, reading in zip(driven, read([each.recording for each in driven], method=method), strict=True):
        values = {}
        for name in QUANTITIES:
            estimate: Estimate | None = getattr(reading, name)
            if estimate is not None:
                truth = float(getattr(one, name))
                width = estimate.high - estimate.low
                outside = max(estimate.low - truth, truth - estimate.high, 0.0)
                held = outside == 0.0
                values[name] = (estimate.value - truth, estimate.own_sd, width, width + 40.0 * outside, held)
        found.append(
            Outcome(
                scenario="arterial record",
                noise=one.peak_to_noise,
                rate=one.pulse_rate,
                family=one.family,
                deflation=one.deflation,
                species=species,
                verdict=reading.verdict,
                values=values,
            )
        )
    return found


def main(arguments: list[str] | None = None) -> int:
    """Print the table; 0 where it could be made."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("record", help="a WFDB header (.hea), an EDF file (.edf) or a CSV table")
    parser.add_argument("--channel", required=True, help="of the arterial pressure: its label, or its number from 1")
    parser.add_argument("--start", type=float, default=0.0, help="where to begin [s]")
    parser.add_argument("--count", type=int, help="stretches at most (default: as many as the record holds)")
    parser.add_argument("--family", choices=list(FAMILIES), help="of the artery (default: four in turn)")
    parser.add_argument("--species", choices=("cat", "dog"), default="dog", help="whose limb, cuff and pulse height")
    parser.add_argument("--deflation", choices=("linear", "steps"), help="default: drawn")
    parser.add_argument("--noise", type=float, help="of the sensor, standard deviation of a sample [mmHg]")
    parser.add_argument("--sampling", type=float, help="of the sensor [Hz]")
    parser.add_argument("--peak-height", type=float, help="of the pulses in the cuff [mmHg]")
    parser.add_argument("--seed", type=int, default=20260101)
    parser.add_argument("--method", choices=METHODS, default=METHODS[0])
    wish = parser.parse_args(arguments)
    given = {
        "deflation": wish.deflation,
        "noise_mmhg": wish.noise,
        "sampling_hz": wish.sampling,
        "peak_height_mmhg": wish.peak_height,
    }
    settings: Settings = {name: value for name, value in given.items() if value is not None}  # type: ignore[assignment]
    try:
        record = read_arterial(wish.record, wish.channel)
        driven, skipped = drive_all(
            record,
            start_s=wish.start,
            count=wish.count,
            seed=wish.seed,
            species=wish.species,
            family=wish.family,
            settings=settings,
        )
    except (FileError, ParameterError) as error:
        print(error, file=sys.stderr)
        return 1
    seconds = record.time_s[-1] - record.time_s[0]
    print(f"Readings against an arterial record: {wish.method}, engine {ENGINE_VERSION}, seed {wish.seed}")
    print(f"Channel {quoted(record.channel)}: {seconds:.0f} s at {record.rate_hz:g} Hz. Errors in mmHg (rate: /min).")
    reasons = ", ".join(f"{count} {reason}" for reason, count in skipped.most_common())
    print(f"Stretches used: {len(driven)}; skipped: {skipped.total()}{f' ({reasons})' if reasons else ''}")
    if not driven:
        print("No stretch of the record can drive the cuff.", file=sys.stderr)
        return 1
    report("arterial record", outcomes(driven, wish.species, wish.method))
    return 0


if __name__ == "__main__":
    sys.exit(main())

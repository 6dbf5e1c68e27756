"""A series: readings of one session under the same circumstances, in the order taken."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import SeriesError
from quietlimb.engine.findings import Finding, Verdict, verdict_of
from quietlimb.engine.reading import Reading

Values = NDArray[np.float64]
Origin = Literal["recorded", "typed"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """n readings. Missing values are nan; arrays are read-only.

    minute                                 : (n,) minutes from the start of the session, not decreasing
    systolic, mean, diastolic              : (n,) mmHg
    pulse_rate                             : (n,) /min
    systolic_sd, mean_sd, diastolic_sd     : (n,) own standard deviation of each reading [mmHg]; nan where not known
    systolic_shared_sd, ...                : the part that all readings share [mmHg], one number each; 0 where not known
    findings                               : per reading
    origin                                 : `recorded` when Quietlimb read the recordings, `typed` from a display
    """

    circumstances: Circumstances
    origin: Origin
    minute: Values
    systolic: Values
    mean: Values
    diastolic: Values
    pulse_rate: Values
    systolic_sd: Values
    mean_sd: Values
    diastolic_sd: Values
    systolic_shared_sd: float
    mean_shared_sd: float
    diastolic_shared_sd: float
    findings: tuple[tuple[Finding, ...], ...]

    def __post_init__(self) -> None:
        n = self.minute.size
        for name in ("minute", "systolic", "mean", "diastolic", "pulse_rate", "systolic_sd", "mean_sd", "diastolic_sd"):
            if getattr(self, name).shape != (n,):
                found = getattr(self, name).size
                raise SeriesError("shape", f"{name} has {found} values for {n} readings", "give one for each reading")
        if len(self.findings) != n:
            raise SeriesError("shape", f"{len(self.findings)} sets of findings for {n} readings", "give one for each")
        if not np.isfinite(self.minute).all():
            raise SeriesError("not-finite", "a minute is not a number", "give the minute of every reading")
        if (np.diff(self.minute) < 0).any():
            k = int(np.flatnonzero(np.diff(self.minute) < 0)[0])
            raise SeriesError(
                "time-backwards",
                f"reading {k + 2} is at minute {self.minute[k + 1]:g}, before reading {k + 1} at {self.minute[k]:g}",
                "give the readings in the order taken",
            )

    def __len__(self) -> int:
        return int(self.minute.size)

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """The verdict on each reading by itself, before the series is looked at as a whole."""
        return tuple(verdict_of(findings) for findings in self.findings)

    @property
    def fingerprint(self) -> str:
        """The fingerprint without parameters."""
        return self.fingerprint_with({})

    def fingerprint_with(self, parameters: Mapping[str, str | float | None]) -> str:
        """sha256 of the ordered readings with their standard deviations, the circumstances, and the parameters under
        which they are charted.

        Numbers as little-endian float64, one column after the other, then circumstances and parameters as JSON with
        sorted keys.
        """
        digest = hashlib.sha256()
        for column in (
            self.minute,
            self.systolic,
            self.mean,
            self.diastolic,
            self.pulse_rate,
            self.systolic_sd,
            self.mean_sd,
            self.diastolic_sd,
            np.array([self.systolic_shared_sd, self.mean_shared_sd, self.diastolic_shared_sd]),
        ):
            digest.update(column.astype("<f8").tobytes())
        for mapping in (asdict(self.circumstances), dict(parameters)):
            digest.update(json.dumps(mapping, sort_keys=True, ensure_ascii=True, allow_nan=False).encode("ascii"))
        return digest.hexdigest()


def _column(values: Sequence[float | None]) -> Values:
    column = np.array([np.nan if value is None else value for value in values], dtype=np.float64)
    column.setflags(write=False)
    return column


def series_from_values(
    *,
    circumstances: Circumstances,
    minute: Sequence[float],
    systolic: Sequence[float | None],
    mean: Sequence[float | None] | None = None,
    diastolic: Sequence[float | None] | None = None,
    pulse_rate: Sequence[float | None] | None = None,
    findings: Sequence[tuple[Finding, ...]] | None = None,
) -> Series:
    """A typed series from plain numbers; a column left out is missing throughout."""
    n = len(minute)
    nothing: list[float | None] = [None] * n
    return Series(
        circumstances=circumstances,
        origin="typed",
        minute=_column(list(minute)),
        systolic=_column(systolic),
        mean=_column(nothing if mean is None else mean),
        diastolic=_column(nothing if diastolic is None else diastolic),
        pulse_rate=_column(nothing if pulse_rate is None else pulse_rate),
        systolic_sd=_column(nothing),
        mean_sd=_column(nothing),
        diastolic_sd=_column(nothing),
        systolic_shared_sd=0.0,
        mean_shared_sd=0.0,
        diastolic_shared_sd=0.0,
        findings=tuple(findings) if findings is not None else ((),) * n,
    )


def series_from_readings(readings: Sequence[Reading], minute: Sequence[float], circumstances: Circumstances) -> Series:
    """A recorded series from readings of recordings, in the order taken.

    The shared part is the root mean square of the readings' shared parts: they share artery, cuff and offset, so it is
    added once and never averaged away.
    """

    def part(name: str, attribute: str) -> list[float | None]:
        estimates = [getattr(reading, name) for reading in readings]
        return [None if estimate is None else getattr(estimate, attribute) for estimate in estimates]

    def shared(name: str) -> float:
        known = [value for value in part(name, "shared_sd") if value is not None]
        return float(np.sqrt(np.mean(np.square(known)))) if known else 0.0

    return Series(
        circumstances=circumstances,
        origin="recorded",
        minute=_column(list(minute)),
        systolic=_column(part("systolic", "value")),
        mean=_column(part("mean", "value")),
        diastolic=_column(part("diastolic", "value")),
        pulse_rate=_column(part("pulse_rate", "value")),
        systolic_sd=_column(part("systolic", "own_sd")),
        mean_sd=_column(part("mean", "own_sd")),
        diastolic_sd=_column(part("diastolic", "own_sd")),
        systolic_shared_sd=shared("systolic"),
        mean_shared_sd=shared("mean"),
        diastolic_shared_sd=shared("diastolic"),
        findings=tuple(reading.findings for reading in readings),
    )

"""A series: readings of one session under the same circumstances, in the order taken."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import NUMERIC_CIRCUMSTANCES, Circumstances
from quietlimb.engine.errors import SeriesError
from quietlimb.engine.findings import Finding, Verdict, verdict_of
from quietlimb.engine.reading import Reading

Values = NDArray[np.float64]
Origin = Literal["recorded", "typed"]

# The columns of numbers, in the order in which the fingerprint takes them.
COLUMNS = (
    "minute",
    "systolic",
    "mean",
    "diastolic",
    "pulse_rate",
    "systolic_sd",
    "mean_sd",
    "diastolic_sd",
    "systolic_shared_sd",
    "mean_shared_sd",
    "diastolic_shared_sd",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """n readings. Missing values are nan; arrays are read-only.

    minute                                 : (n,) minutes from the start of the session, not decreasing
    systolic, mean, diastolic              : (n,) mmHg
    pulse_rate                             : (n,) /min
    systolic_sd, mean_sd, diastolic_sd     : (n,) own standard deviation of each reading [mmHg]; nan where not known
    systolic_shared_sd, ...                : (n,) what each reading knows of the part that all readings share [mmHg];
                                             nan where not known. A display does not tell its own error, so in a typed
                                             series it is never known
    findings                               : per reading
    origin                                 : `recorded` when Quietlimb read the recordings, `typed` from a display
    reading_method                         : by which the recordings were read; None where they were typed
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
    systolic_shared_sd: Values
    mean_shared_sd: Values
    diastolic_shared_sd: Values
    findings: tuple[tuple[Finding, ...], ...]
    reading_method: str | None = None

    def __post_init__(self) -> None:
        n = self.minute.size
        for name in COLUMNS:
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
    def set_aside(self) -> tuple[int, ...]:
        """Ordinals, from 1, of the readings that whoever took them set aside: the one verdict that no number tells."""
        return tuple(
            k
            for k, findings in enumerate(self.findings, start=1)
            if any(finding.code == "set-aside" for finding in findings)
        )

    def fingerprint_with(self, parameters: Mapping[str, str]) -> str:
        """sha256 of the ordered readings with their standard deviations, the circumstances, and the parameters under
        which they are charted.

        `COLUMNS` as little-endian float64, one whole column after the other; then the circumstances, those not told as
        null, and the parameters, each as a JSON object in ASCII with sorted keys; where readings were set aside by
        whoever took them, then the list of their ordinals.
        """
        digest = hashlib.sha256()
        for name in COLUMNS:
            column = getattr(self, name)
            # There are many nan in float64; one of them stands for every missing value.
            digest.update(np.where(np.isnan(column), np.nan, column).astype("<f8").tobytes())
        told = {
            # 2 and 2.0 cm are the same width.
            name: float(value) if value is not None and name in NUMERIC_CIRCUMSTANCES else value
            for name, value in asdict(self.circumstances).items()
        }
        for part in (told, dict(parameters), *([self.set_aside] if self.set_aside else [])):
            digest.update(json.dumps(part, sort_keys=True, ensure_ascii=True, allow_nan=False).encode("ascii"))
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
        systolic_shared_sd=_column(nothing),
        mean_shared_sd=_column(nothing),
        diastolic_shared_sd=_column(nothing),
        findings=tuple(findings) if findings is not None else ((),) * n,
    )


def series_from_readings(readings: Sequence[Reading], minute: Sequence[float], circumstances: Circumstances) -> Series:
    """A recorded series from readings of recordings, in the order taken."""

    def part(name: str, attribute: str) -> list[float | None]:
        estimates = [getattr(reading, name) for reading in readings]
        return [None if estimate is None else getattr(estimate, attribute) for estimate in estimates]

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
        systolic_shared_sd=_column(part("systolic", "shared_sd")),
        mean_shared_sd=_column(part("mean", "shared_sd")),
        diastolic_shared_sd=_column(part("diastolic", "shared_sd")),
        findings=tuple(reading.findings for reading in readings),
        reading_method=" and ".join(dict.fromkeys(reading.method for reading in readings)) or None,
    )

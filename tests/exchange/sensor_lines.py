"""Lines as an invented sensor would send them."""

from __future__ import annotations

from collections.abc import Iterable

from quietlimb.exchange.pressure_lines import header_line, sample_line

RATE_HZ = 200
STEP_US = 1_000_000 // RATE_HZ


def header(unit: str = "mmHg", *, rate_hz: int | None = RATE_HZ, check: bool = False) -> list[bytes]:
    """The header lines, without their ends."""
    told: dict[str, object] = {"proto": 1, "unit": unit}
    if rate_hz is not None:
        told["rate_hz"] = rate_hz
    return [header_line(key, value, check=check).rstrip(b"\n") for key, value in told.items()]


def pressure_of(seq: int) -> float:
    """Of a number, where none is chosen: up and down between 0 and 100."""
    return float(abs((seq + 100) % 200 - 100))


def samples(
    seqs: Iterable[int], *, start_us: int = 0, pressure: float | None = None, check: bool = False
) -> list[bytes]:
    """A line for each number; the clock stands at `start_us` for number 0, the pressure is the number's own
    unless one is given."""
    return [
        sample_line(
            seq, start_us + seq * STEP_US, pressure_of(seq) if pressure is None else pressure, check=check
        ).rstrip(b"\n")
        for seq in seqs
    ]

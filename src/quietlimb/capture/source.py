"""The port behind which every source of cuff pressure stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.recording import CutBy
from quietlimb.exchange.blood_pressure_service import InstrumentReading
from quietlimb.exchange.line_decoder import Trouble
from quietlimb.exchange.pressure_lines import UnfinishedLine

MEASUREMENT_KEY = "measurement"  # of the line that keeps what an instrument sent as its reading, in hexadecimal digits
INVENTED_KEY = "invented"
NOT_A_PATIENT = "made by the simulator, not a patient"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """What came at one time. All may be empty: then the source only tells that it is still asked.

    time_s             : (n,) by the source's own clock, from its first sample, strictly increasing over all frames [s]
    cuff_pressure_mmhg : (n,) mmHg
    received_utc_s     : host clock at its arrival, seconds since 1970
    lines              : the same as lines of the protocol, to be kept; they read back as exactly these samples
    readings           : what an instrument with a mind of its own measured
    unfinished         : the line in whose middle the stream ended; None where it ended with a whole one, or goes on
    """

    time_s: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    cuff_pressure_mmhg: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    received_utc_s: float
    lines: bytes = b""
    readings: tuple[InstrumentReading, ...] = ()
    unfinished: UnfinishedLine | None = None


class Source(Protocol):
    """Where cuff pressure comes from. The device's clock spaces the samples, the host's tells when they came."""

    @property
    def header(self) -> Mapping[str, str]:
        """What the source has told of itself so far."""

    @property
    def troubles(self) -> Mapping[Trouble, int]:
        """How often each thing went wrong so far."""

    @property
    def is_waveform(self) -> bool:
        """Whether pulses can be read from its samples; otherwise they only show where the pressure is."""

    @property
    def began_cut(self) -> bool:
        """Whether the source, and no hand, began what came: it had been silent before the first sample."""

    @property
    def cut_by(self) -> CutBy | None:
        """What ended what came so far, as a source that went away or is silent since; None where no such thing did."""

    @property
    def circumstances(self) -> Circumstances | None:
        """What the source itself knows of animal and cuff, as a file does; None where it knows nothing."""

    def frames(self) -> Iterator[Frame]:
        """What comes, until the source ends by its nature or is closed. At least four frames a second, maybe empty.

        Raises
        ------
        CaptureError  : it cannot be opened.
        ProtocolError : what it sends cannot be understood.
        """

    def close(self) -> None:
        """Let `frames` end soon; what had arrived still comes. From any thread, and more than once."""

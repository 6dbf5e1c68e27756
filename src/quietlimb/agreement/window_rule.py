"""Which beats in the artery a reading of the cuff is held against.

An arterial pressure moves from beat to beat by as much as methods differ, and a window chosen afterwards can be chosen
to please; so the rule is told before, and kept with the pairs that it made.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, get_args

from quietlimb.engine.errors import ParameterError

Window = Literal["deflation", "before", "after", "around"]
WINDOWS: Final[tuple[Window, ...]] = get_args(Window)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """Which beats in the artery a reading of the cuff is held against: the mean of all whole beats in a window.

    window       : `deflation`: from the top of the inflation to its end, for a catheter in another limb, or one that
                   the cuff does not close off; `before`: ended a second before the inflation; `after`: begun a second
                   after the recording's deflation; `around`: both of these
    seconds      : length of the window on each side; of no meaning for `deflation`
    fewest_beats : a window with fewer gives no reference
    later_s      : by how much the clock of the arterial channel is late against that of the cuff
    """

    window: Window = "deflation"
    seconds: float = 10.0
    fewest_beats: int = 5
    later_s: float = 0.0

    def __post_init__(self) -> None:
        if self.window not in WINDOWS:
            raise ParameterError("unknown-window", f"window is {self.window!r}", f"use one of: {', '.join(WINDOWS)}")
        if not 1.0 <= self.seconds <= 120.0 or not 1 <= self.fewest_beats <= 100 or not abs(self.later_s) <= 60.0:
            raise ParameterError(
                "impossible-rule",
                f"a window of {self.seconds:g} s, {self.fewest_beats} beats, clocks {self.later_s:g} s apart",
                "give 1 to 120 s, 1 to 100 beats and up to 60 s",
            )

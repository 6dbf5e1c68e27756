"""Whether the limb moves now, told from the rises of the cuff pressure.

The valve only lowers the pressure, so what rises is the pulse or the limb. All rises of the last 0.6 s together are
held against what the pulses of the last seconds brought. Pulses grow and shrink slowly along the fall; a movement
comes at once. A movement that goes on and on would be learned in the end; one that stood there from the top of the
fall, where an artery under a full cuff hardly pulses, is not, until a look finds pulses of an artery in it. Means over
0.1 s hold hardly anything of a purr (21 Hz and up) or of trembling (9 to 14 Hz).

The limits are invented: set on simulated recordings of two artery families, 40 of each scenario; FROM_THE_TOP_S on 24
of a tail that wags, 10 shaken evenly, and 51 of other scenarios, of all families that are drawn.
"""

from __future__ import annotations

from collections import deque

from quietlimb.engine.pulses import Pulses

TICK_S = 0.05
TICKS_TOGETHER = 12
SLACK_MMHG_PER_S = 1.0  # air that warms after a step rises more slowly, for the most part
TIMES_USUAL, LEAST_MMHG = 2.2, 0.7  # so many times what is usual, and so much, is a movement
LEARNING_S, LEARNED_MMHG = 1.0, 0.5  # at the top the pulses are small: what rises more is not learned at first
FROM_THE_TOP_S = 1.5  # into the fall: what moves so early is not learned by itself
# In a cuff that is held at a pressure pulses are the same from the beginning on: they are learned.
FALLS_MMHG_PER_S, FALLS_SEEN_S = 0.5, 1.0
GROWS_A_SECOND, FADES_A_SECOND = 2.6, 0.9  # what is usual, at most
FAR_ABOVE, GROWS_FAR_ABOVE = 1.5, 1.1  # times the limit: no pulses that grow, so little is learned of it
HOLDS_S = 0.7  # between two signs of one movement
TOLD_AFTER_S = 0.3  # from the start of a movement to its first sign, usually
KEPT_SHARE, FEWEST_KEPT, LAST_S = (
    2.0 / 3.0,
    2,
    1.5,
)  # of the last pulses: where the reader keeps these, the limb is quiet
LEARNS_SHARE = 2.0 / 3.0  # of the rises that seemed a movement


class Motion:
    """Watches one deflation, tick by tick of 0.05 s."""

    def __init__(self, since_s: float) -> None:
        self._since_s = since_s
        self._last: float | None = None
        self._rises: deque[float] = deque(maxlen=TICKS_TOGETHER)
        self._usual = LEAST_MMHG / TIMES_USUAL
        self._first_sign_s = self._last_sign_s = float("-inf")
        self._most_risen = 0.0  # since the first sign
        self._usual_before = self._usual  # as it was at the first sign
        self._line = _Line()

    def add(self, time_s: float, level_mmhg: float) -> None:
        """One tick: its time, and the mean pressure over 0.1 s up to it."""
        rise = 0.0 if self._last is None else max(level_mmhg - self._last - SLACK_MMHG_PER_S * TICK_S, 0.0)
        self._last = level_mmhg
        self._line.add(time_s - self._since_s, level_mmhg)
        self._rises.append(rise)
        risen = sum(self._rises)
        limit = max(TIMES_USUAL * self._usual, LEAST_MMHG)
        if time_s - self._since_s < LEARNING_S:
            self._usual = max(self._usual, min(risen, LEARNED_MMHG))
            limit = max(TIMES_USUAL * LEARNED_MMHG, LEAST_MMHG)
        if risen > limit:
            if time_s - self._last_sign_s > HOLDS_S:
                self._first_sign_s, self._most_risen, self._usual_before = time_s, 0.0, self._usual
            self._last_sign_s = time_s
            self._most_risen = max(self._most_risen, risen)
        growth = GROWS_A_SECOND if risen < FAR_ABOVE * limit else GROWS_FAR_ABOVE
        self._usual = max(
            self._usual * FADES_A_SECOND**TICK_S,
            min(risen, self._usual * growth**TICK_S),
            LEAST_MMHG / TIMES_USUAL,
        )
        from_the_top = self.moving_s(time_s) > 0.0 and self._first_sign_s - self._since_s < FROM_THE_TOP_S
        if from_the_top and (time_s - self._since_s < FALLS_SEEN_S or self._line.slope < -FALLS_MMHG_PER_S):
            self._usual = min(self._usual, self._usual_before)

    def learn(self, pulses: Pulses, time_s: float) -> None:
        """What a look found: where the reader keeps most of the last pulses, the limb is quiet, or never moved."""
        if self.moving_s(time_s) == 0.0:
            return
        since = max(self._first_sign_s - TOLD_AFTER_S, time_s - LAST_S)
        judged = [
            reason == "limb-moved"
            for at, reason in zip(pulses.time_s, pulses.set_aside, strict=True)
            if at > since and reason in ("", "limb-moved")
        ]
        if judged.count(False) >= max(FEWEST_KEPT, KEPT_SHARE * len(judged)):
            self._usual = max(self._usual, LEARNS_SHARE * self._most_risen)
            self._last_sign_s = float("-inf")

    def moving_s(self, time_s: float) -> float:
        """How long the limb has been moving at this time, about [s]; 0 when it is quiet."""
        if time_s - self._last_sign_s >= HOLDS_S:
            return 0.0
        return self._last_sign_s - self._first_sign_s + TOLD_AFTER_S


class _Line:
    """The straight line through all points so far, by least squares."""

    def __init__(self) -> None:
        self._count = self._x = self._y = self._xy = self._xx = 0.0

    def add(self, x: float, y: float) -> None:
        """One point more."""
        self._count += 1.0
        self._x, self._y = self._x + x, self._y + y
        self._xy, self._xx = self._xy + x * y, self._xx + x * x

    @property
    def slope(self) -> float:
        """Its slope; 0 through fewer than two points."""
        spread = self._count * self._xx - self._x**2
        return (self._count * self._xy - self._x * self._y) / spread if self._count > 1.0 else 0.0

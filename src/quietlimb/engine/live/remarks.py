"""What to say now, the most urgent first."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.deflation import DUMP_MMHG_PER_S
from quietlimb.engine.findings import Finding, Severity
from quietlimb.engine.judgement.course import FAST_MMHG_PER_PULSE
from quietlimb.engine.judgement.movement import MOVING_TOO_LONG_S
from quietlimb.engine.live.course import Course
from quietlimb.engine.live.look import Look
from quietlimb.engine.live.moment import Finished
from quietlimb.engine.quantiles import median
from quietlimb.engine.reading import Reading
from quietlimb.engine.values import Cited

HIGHEST = Cited(300.0, "mmHg", source="IEC80601", place="highest cuff pressure, adults", standing="from memory")
LONGEST_INFLATED = Cited(90.0, "s", source="IEC80601", place="longest under pressure, newborns", standing="from memory")
# That a limb is squeezed no longer than the reading takes is common practice; how long that is, ours.
HELD = Cited(20.0, "s", "Quietlimb", "held without falling; that it is too long, by common practice", "invented")
CALM_AGAIN_MMHG = 290.0  # invented: a pulse at the limit must not make the remark come and go
BAND_MMHG = 15.0  # beyond systolic and diastolic pressure, as a reading takes it
ALMOST_EMPTY = Cited(20.0, "mmHg", "Quietlimb", "no pulse is read below, so no fall is too fast", "invented")
ANOTHER_MMHG = 15.0  # invented: advice on how far to inflate that differs by less is the same
GOES_ON_SHARE = 0.5  # invented: of the time between two looks, so much more found disturbed is a limb that moves still

# Invented, set on 110 simulated recordings of 11 scenarios: where pulses so high do not rise and fall with the cuff
# pressure over so long a fall, in so many looks running, they are a limb's. One that began low shows its flank by then.
UNLIKE_AN_ARTERY = ("limb-kept-moving", "no-envelope")
UNLIKE_OVER_MMHG, UNLIKE_FROM_MMHG, UNLIKE_LOOKS = 60.0, 0.7, 2
# Invented, set on 368 simulated recordings of 17 scenarios, two artery families. Where looks running find so far into
# the fall, for so long, that the limb kept moving or is loaded, so it is, however usual its rises have become.
LOADED = ("limb-loaded",)
FOUND_OVER_MMHG, FOUND_FOR_S = 30.0, 1.5
# Nothing like an artery in so many looks running, over so long a fall: all 30 empty cuffs there, no undisturbed limb.
BARE_LOOKS, BARE_OVER_MMHG, BARE_FOR_S = 4, 60.0, 8.0


class _Running:
    """How many looks running have found the same, since when, and how long that has lasted [s]."""

    def __init__(self) -> None:
        self.looks = 0
        self.since_s = self.lasted_s = 0.0

    def look(self, at_s: float, found: bool) -> None:
        """One look more."""
        self.since_s = self.since_s if self.looks else at_s
        self.looks = self.looks + 1 if found else 0
        self.lasted_s = at_s - self.since_s if found else 0.0


class Remarks:
    """What was noticed in one inflation so far."""

    def __init__(self) -> None:
        self._too_high = False
        self._too_fast: float | None = None
        self._moved_too_long_s = self._moves_since_s = 0.0
        self._moving_s = 0.0
        self._looked_at_s: float | None = None
        self._disturbed_s = 0.0
        self._disturbed_still = False
        self._unlike = _Running()
        self._found_moving = _Running()
        self._found_loaded = _Running()
        self._found_bare = _Running()
        self._bare = False
        self._enough = False
        self._inflate_to: float | None = None
        self._cut_mmhg: float | None = None
        self._held_s = 0.0
        self._at_s = self._level = self._inflated_s = self._fallen = 0.0

    def follow(
        self, time_s: float, level_mmhg: float, course: Course, look: Look | None, before: Reading | None
    ) -> None:
        """One tick later. before : the reading of the inflation before this one"""
        self._at_s, self._level, self._inflated_s = time_s, level_mmhg, time_s - course.since_s
        self._fallen = course.fallen_mmhg
        falls_long = course.fallen_mmhg > BARE_OVER_MMHG and time_s - course.top_s > BARE_FOR_S
        self._held_s = course.held_s(time_s)
        self._cut_mmhg = course.cut_mmhg
        self._too_high = level_mmhg > (CALM_AGAIN_MMHG if self._too_high else HIGHEST.value)
        self._moving_s = course.motion.moving_s(time_s)
        if self._moving_s > MOVING_TOO_LONG_S and _counts(level_mmhg, look, before):
            if not self._moved_too_long_s:
                self._moves_since_s = time_s - self._moving_s
            self._moved_too_long_s = max(self._moved_too_long_s, self._moving_s)
        self._too_fast = _too_fast(level_mmhg, course, look, before)
        self._bare = falls_long and self._found_bare.looks >= BARE_LOOKS
        if look is not None:
            self._take_in(look, course, counts=_counts(level_mmhg, look, before))
            # However fast it falls there, a slower fall would bring nothing more.
            self._enough |= look.enough or (self._too_fast is not None and _all_known_above(level_mmhg, look))
            # before the top of the envelope was passed, nothing is known of the flank above
            if look.reading.mean is not None:
                self._inflate_to = _steadied(self._inflate_to, _inflate_to(look.reading, course.top_mmhg))

    def _take_in(self, look: Look, course: Course, *, counts: bool) -> None:
        """What looks running find, each look once.

        A limb that moves on and on becomes usual to the watch over its rises, or hardly rises against the fall.
        The reader still finds it disturbed: that lets a remark that stands count on, and begins one where look after
        look finds it. Or it finds pulses that are not an artery's over a long fall: that begins one too.

        counts : whether a motion now can spoil what is to be read
        """
        if self._looked_at_s == look.at_s:
            return
        self._unlike.look(look.at_s, course.fallen_mmhg >= UNLIKE_OVER_MMHG and _is_unlike_an_artery(look))
        self._found_bare.look(look.at_s, look.shows_no_artery)
        found = [each.numbers["seconds"] for each in look.so_far.findings if each.code == "limb-kept-moving"]
        disturbed_s = found[0] if found else 0.0
        passed_s = 0.0 if self._looked_at_s is None else look.at_s - self._looked_at_s
        more_s = disturbed_s - self._disturbed_s
        self._disturbed_still = bool(found) and more_s >= GOES_ON_SHARE * passed_s
        deep = course.fallen_mmhg > FOUND_OVER_MMHG
        self._found_moving.look(look.at_s, deep and bool(found))
        self._found_loaded.look(look.at_s, deep and look.is_spoiled_by(LOADED))
        if counts and not self._moved_too_long_s:
            self._begin_by_looks(look.at_s, disturbed_s)
        if self._moved_too_long_s and self._disturbed_still:
            # what lies before the first sign does not count, however much of it the reader finds disturbed
            self._moved_too_long_s = max(self._moved_too_long_s, min(disturbed_s, look.at_s - self._moves_since_s))
        self._looked_at_s, self._disturbed_s = look.at_s, disturbed_s

    def _begin_by_looks(self, at_s: float, disturbed_s: float) -> None:
        """Tell a motion that goes on too long by what looks running found, where the rises do not tell it."""
        if self._found_moving.lasted_s >= FOUND_FOR_S:
            self._moved_too_long_s = max(disturbed_s, MOVING_TOO_LONG_S)
        elif self._unlike.looks >= UNLIKE_LOOKS and self._unlike.lasted_s > MOVING_TOO_LONG_S:
            self._moved_too_long_s = self._unlike.lasted_s
        self._moves_since_s = at_s - self._moved_too_long_s

    def now(self) -> tuple[Finding, ...]:
        """What to say now."""
        said: list[Finding] = []

        def say(code: str, severity: Severity, numbers: Mapping[str, float]) -> None:
            said.append(Finding(code=code, severity=severity, at_s=self._at_s, at_mmhg=self._level, numbers=numbers))

        if self._too_high or self._inflated_s > LONGEST_INFLATED.value:
            say("valve-open-now", "note", {"pressure_mmhg": self._level, "inflated_s": self._inflated_s})
        if self._moved_too_long_s:
            goes_on = bool(self._moving_s) or self._disturbed_still
            say("limb-moved-too-long", "spoils", {"seconds": self._moved_too_long_s, "goes_on": float(goes_on)})
        elif self._moving_s or self._unlike.looks >= UNLIKE_LOOKS:
            unlike_s = self._at_s - self._unlike.since_s if self._unlike.looks >= UNLIKE_LOOKS else 0.0
            say("limb-moving", "doubt", {"seconds": max(self._moving_s, unlike_s)})
        if self._found_loaded.lasted_s >= FOUND_FOR_S and not self._moved_too_long_s:
            say("cuff-pressed", "spoils", {"seconds": self._found_loaded.lasted_s})
        if self._too_fast is not None and not self._enough:
            say("falling-too-fast", "doubt", {"mmhg_per_s": self._too_fast})
        if self._bare and not self._moved_too_long_s:
            say("no-artery-yet", "note", {"fallen_mmhg": self._fallen})
        if self._held_s > HELD.value and self._level >= ALMOST_EMPTY.value and not self._enough:
            say("held-inflated", "note", {"pressure_mmhg": self._level, "held_s": self._held_s})
        if self._enough and not self._moved_too_long_s:
            say("enough", "note", {})
        if self._cut_mmhg is not None:
            say("recording-cut", "doubt", {"pressure_mmhg": self._cut_mmhg})
        elif self._inflate_to is not None:
            say("inflate-higher", "doubt", {"to_mmhg": self._inflate_to})
        return tuple(said)


def after_the_end(finished: Finished) -> tuple[Finding, ...]:
    """What to say when the cuff is empty."""
    cut = cuts(finished)
    if finished.refused is not None:
        return (Finding(code="recording-refused", severity="spoils", told=str(finished.refused)), *cut)
    if finished.reading is None or finished.recording is None:
        return cut
    to_mmhg = _inflate_to(finished.reading, float(finished.recording.cuff_pressure_mmhg.max()))
    if to_mmhg is None:
        return cut
    return (*cut, Finding(code="inflate-higher", severity="doubt", numbers={"to_mmhg": to_mmhg}))


def cuts(finished: Finished) -> tuple[Finding, ...]:
    """Where the sensor, and not whoever holds the valve, began or ended the recording."""
    return tuple(
        Finding(
            code="recording-cut",
            severity="doubt",
            at_mmhg=cut.pressure_mmhg,
            numbers={"pressure_mmhg": cut.pressure_mmhg},
        )
        for cut in finished.cuts
        if cut.by == "sensor"
    )


def _is_unlike_an_artery(look: Look) -> bool:
    """Whether this look keeps high pulses that do not rise and fall with the cuff pressure."""
    evidence = look.so_far.evidence
    if evidence is None or evidence.pulses is None or not look.kept:
        return False
    if not look.is_spoiled_by(UNLIKE_AN_ARTERY):
        return False
    return median(evidence.pulses.height_mmhg[evidence.pulses.kept]) >= UNLIKE_FROM_MMHG


def _counts(level_mmhg: float, look: Look | None, before: Reading | None) -> bool:
    """Whether a motion at this pressure can spoil what is to be read: not well below the diastolic pressure, nor well
    above the systolic one that the inflation before had."""
    if look is not None and look.reading.diastolic is not None:
        return level_mmhg > look.reading.diastolic.low - BAND_MMHG
    return before is None or before.systolic is None or level_mmhg < before.systolic.high + BAND_MMHG


def _all_known_above(level_mmhg: float, look: Look) -> bool:
    """Whether systolic, mean and diastolic pressure are known, and all lie well above this pressure."""
    known = look.reading
    if known.systolic is None or known.mean is None or known.diastolic is None:
        return False
    return level_mmhg < known.diastolic.low - BAND_MMHG


def _too_fast(level_mmhg: float, course: Course, look: Look | None, before: Reading | None) -> float | None:
    """The rate of the last 2 s where it, and the whole fall so far, is more than this pulse bears. [mmHg/s]

    Before the pulse is known it is that of the inflation before; without one, only a fall that nobody can read. None in
    a cuff that is almost empty.
    """
    whole, lately = course.whole_fall_mmhg_per_s, course.fall_mmhg_per_s
    if whole is None or lately is None or level_mmhg < ALMOST_EMPTY.value:
        return None
    limit = DUMP_MMHG_PER_S
    if look is not None and look.period_s is not None:
        limit = FAST_MMHG_PER_PULSE / look.period_s
    elif before is not None and before.pulse_rate is not None:
        limit = FAST_MMHG_PER_PULSE * before.pulse_rate.value / 60.0
    return lately if min(whole, lately) > limit else None


def _steadied(said: float | None, found: float | None) -> float | None:
    """Advice that wavers by ten from look to look is one advice."""
    if said is None or found is None or abs(found - said) >= ANOTHER_MMHG:
        return found
    return said


def _inflate_to(reading: Reading, reached_mmhg: float) -> float | None:
    """How far to inflate next time, where the reading misses the flank above and the cuff had not been there."""
    for finding in reading.findings:
        if finding.code == "systolic-side-missing" and finding.numbers["inflate_to_mmhg"] > reached_mmhg:
            return finding.numbers["inflate_to_mmhg"]
    return None

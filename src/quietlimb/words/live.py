"""What to say to whoever holds the valve: one short sentence for each remark, with what to do now."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.deflation import IDLE_MMHG
from quietlimb.engine.findings import Finding
from quietlimb.engine.live.remarks import CALM_AGAIN_MMHG
from quietlimb.words.language import _, mark

SENTENCES: Mapping[str, str] = {
    "valve-open-now": mark("Open the valve now: the cuff has held pressure for {inflated_s:.0f} s."),
    "limb-moved-too-long": mark("Moved for {seconds:.1f} s: let the air out, let the limb rest, and start again."),
    "limb-moving": mark("The limb is moving: hold it gently and wait."),
    "cuff-pressed": mark("Something presses on the cuff: free the limb, let the air out, and start again."),
    "falling-too-fast": mark(
        "Falling {mmhg_per_s:.0f} mmHg a second, too fast for this pulse: close the valve a little."
    ),
    "no-artery-yet": mark(
        "No pulse of an artery yet, {fallen_mmhg:.0f} mmHg below the top: see that the cuff sits on the limb."
    ),
    "held-inflated": mark(
        "Held at {pressure_mmhg:.0f} mmHg for {held_s:.0f} s: let the pressure fall, or let the air out."
    ),
    "enough": mark("Enough: let the air out."),
    "inflate-higher": mark("Inflate to {to_mmhg:.0f} mmHg next time."),
    "recording-cut": mark(
        "Cut at {pressure_mmhg:.0f} mmHg by the sensor, not by the valve: see to its cable and unit."
    ),
    "recording-refused": mark("This one cannot be read: inflate again."),
}
MOVES_STILL = mark("Moving for {seconds:.1f} s: let the air out, let the limb rest, and start again.")
TOO_HIGH = mark("Open the valve now: {pressure_mmhg:.0f} mmHg in the cuff.")
REFUSED = mark("This one cannot be read: {told}.")
LOST_FULL = mark(
    "Look at the manometer, and let the air out: nothing comes from the sensor, and the cuff was last at "
    "{pressure_mmhg:.0f} mmHg."
)
LOST = mark("Nothing comes from the sensor: look at the manometer, and let the air out if the cuff is full.")
INSTRUMENT_SILENT = mark("The instrument tells no pressure now: look at its display.")
NOBODY_WATCHES = mark("Let the air out: the cuff was last at {pressure_mmhg:.0f} mmHg, and nobody watches it any more.")


COUNTED = mark("pulses {counted}")
DROPPED = mark("pulses {counted}, {dropped} taken back: not like the others")


def pulses_line(counted: int, dropped: int) -> str:
    """How many pulses count so far; where they were more, that some were taken back, and why."""
    return _(DROPPED if dropped else COUNTED).format(counted=counted, dropped=dropped)


def at_the_end(pressure_mmhg: float | None) -> str | None:
    """What to say first, whatever ended a capture; None where the cuff was last seen empty, or never seen.

    pressure_mmhg : the last one measured [mmHg]
    """
    if pressure_mmhg is None or pressure_mmhg < IDLE_MMHG:
        return None
    return _(NOBODY_WATCHES).format(pressure_mmhg=pressure_mmhg)


def when_lost(pressure_mmhg: float | None) -> str:
    """What to say while a sensor that is listened to tells nothing.

    pressure_mmhg : the last one measured [mmHg]; None where none ever was
    """
    if pressure_mmhg is None or pressure_mmhg < IDLE_MMHG:
        return _(LOST)
    return _(LOST_FULL).format(pressure_mmhg=pressure_mmhg)


def when_an_instrument_is_silent() -> str:
    """What to say while an instrument that measures by itself tells no pressure."""
    return _(INSTRUMENT_SILENT)


def say(remark: Finding) -> str:
    """The sentence of a remark."""
    return _(sentence_of(remark)).format(**remark.numbers, told=remark.told)


def sentence_of(remark: Finding) -> str:
    """The same with its places still open: two remarks that differ in their numbers only have the same."""
    sentence = SENTENCES[remark.code]
    if remark.code == "valve-open-now" and remark.numbers["pressure_mmhg"] > CALM_AGAIN_MMHG:
        sentence = TOO_HIGH
    elif remark.code == "limb-moved-too-long" and remark.numbers["goes_on"]:
        sentence = MOVES_STILL
    elif remark.code == "recording-refused" and remark.told:
        sentence = REFUSED
    return sentence

"""What went wrong between a sensor and this machine, and what an instrument saw or may have meant, as sentences."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.words.language import _, mark, plural

# One and many of each; a remedy where somebody at the table can do something.
TROUBLES: Mapping[str, tuple[str, str, str | None]] = {
    "cut-line": (mark("The first line was cut."), mark("The first lines were cut: {count}."), None),
    "unfinished-line": (
        mark("A line was not finished when the source ended, and was left out."),
        mark("Lines that were not finished when the source ended, left out: {count}."),
        None,
    ),
    "long-line": (
        mark("A line was too long to be one."),
        mark("Lines too long to be one: {count}."),
        mark("Is this the right port, at the right speed?"),
    ),
    "unreadable-line": (
        mark("A line could not be read."),
        mark("Lines that could not be read: {count}."),
        mark("Is this the right port, at the right speed?"),
    ),
    "wrong-check": (
        mark("A line was damaged on its way."),
        mark("Lines damaged on their way: {count}."),
        mark("See to the cable and its plugs."),
    ),
    "before-unit": (
        mark("A sample came before its unit was told."),
        mark("Samples that came before their unit was told: {count}."),
        None,
    ),
    "other-unit": (
        mark("The sensor told another unit once; no pressure counts until it tells its unit again."),
        mark("The sensor told another unit once, {count} times; no pressure counts until it tells its unit again."),
        mark("Let the air out if the cuff is full; then check the sensor's unit and cable."),
    ),
    "unit-changed": (
        mark("The sensor measures in another unit now; the inflation ends there and a new one begins."),
        mark("The sensor changed its unit {count} times; each time the inflation ended and a new one began."),
        mark("Leave it at one unit."),
    ),
    "gap": (
        mark("Samples are missing in one place."),
        mark("Samples are missing in {count} places."),
        mark("Close other programs, or use a shorter cable."),
    ),
    "sample-missing": (mark("One sample is missing."), mark("Samples missing: {count}."), None),
    "repeated": (mark("One came twice and counts once."), mark("Came twice and count once: {count}."), None),
    "stray": (
        mark("A sample did not fit and was left out."),
        mark("Samples that did not fit and were left out: {count}."),
        None,
    ),
    "began-anew": (
        mark("The sensor began to count anew."),
        mark("The sensor began to count anew {count} times."),
        mark("Does it have enough power?"),
    ),
    "out-of-range": (
        mark("A pressure outside -20 to 350 mmHg was left out."),
        mark("Pressures outside -20 to 350 mmHg, left out: {count}."),
        mark("Open the valve if the cuff is full; then check the unit and the zero of the sensor."),
    ),
    "jumped": (
        mark("The pressure jumped from one sample to the next as no air does."),
        mark("The pressure jumped {count} times from one sample to the next as no air does."),
        mark("Look at the manometer, and let the air out if the cuff is full; then check the sensor's unit and plugs."),
    ),
    "went-away": (
        mark("The sensor is gone."),
        mark("The sensor went away {count} times."),
        mark("Let the air out. What was received is kept; plug it in again and it goes on."),
    ),
    "came-back": (mark("The sensor is there again."), mark("The sensor came back {count} times."), None),
    "silent": (
        mark("Nothing has come for a second."),
        mark("Nothing came for a second or longer: {count} times."),
        mark("Is the sensor switched on?"),
    ),
}
SIGNS: Mapping[str, str] = {
    "movement": mark("movement"),
    "loose cuff": mark("loose cuff"),
    "irregular pulse": mark("irregular pulse"),
    "pulse too fast": mark("pulse above the instrument's range"),
    "pulse too slow": mark("pulse below the instrument's range"),
    "position": mark("wrong position"),
}
SEEN: Mapping[str, str] = {
    "detected": mark("detected"),
    "not detected": mark("not detected"),
    "not able to detect": mark("this instrument is not able to detect it"),
    "not known": mark("not known"),
}
QUESTIONS: Mapping[str, str] = {
    "pressure-impossible": mark("No cuff has such a pressure. Does the instrument name another unit than it means?"),
    "not-in-order": mark(
        "The diastolic, mean and systolic pressures do not rise in this order. What does its display show?"
    ),
    "rate-impossible": mark("No heart beats so often. What does its display show?"),
    "word-doubtful": mark("Instruments mean different things by one of these numbers. What does its display show?"),
    "longer-than-told": mark("It sent more than it announced. What does its display show?"),
    "flags-reserved": mark("It uses a sign that has no meaning yet."),
    "status-reserved": mark("It reports a state that has no meaning yet."),
    "date-impossible": mark("Its clock shows a date that there is not. Set it."),
}


def trouble_sentence(kind: str, count: int) -> str:
    """What happened so often, and what to do about it."""
    one, many, remedy = TROUBLES[kind]
    says = plural(one, many, count).format(count=count)
    return says if remedy is None else f"{says} {_(remedy)}"


def unfinished_sentence(number: int, text: str) -> str:
    """Which line a stream ended in, and what was left out with it.

    number : of the line, from 1
    text   : what had come of it, fit to be shown
    """
    return _(
        "The source ended in the middle of line {number}: what had come of it, '{text}', was left out, for its rest "
        "may have been cut off. It is kept beside the other lines. A whole line ends with a line feed."
    ).format(number=number, text=text)


def sign_sentence(sign: str, seen: str) -> str:
    """What an instrument says of a sign: `movement: not detected`."""
    return f"{_(SIGNS[sign])}: {_(SEEN[seen])}"


def question_sentence(question: str) -> str:
    """What has to be asked about a reading."""
    return _(QUESTIONS[question])

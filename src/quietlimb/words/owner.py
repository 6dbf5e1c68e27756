"""What an owner takes home, as sentences: plain, no interval, no drug and no dose.

How to prepare and when to ring is common practice; nothing of it is taken from a print.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Literal

from quietlimb.engine.circumstances import Species
from quietlimb.engine.interpretation.interpretation import OrganCheck
from quietlimb.words.dates import date_and_time
from quietlimb.words.language import _, in_a_sentence, mark
from quietlimb.words.organs import organ_name

Height = Literal["none", "low", "at goal", "not raised", "somewhat raised", "high", "very high"]

HEIGHTS: Mapping[Height, str] = {
    "none": mark("This time no blood pressure of {animal} was obtained that can be relied on."),
    "low": mark("The blood pressure of {animal} was low: {mmhg} mmHg."),
    "at goal": mark("The blood pressure of {animal} was where it should be under treatment: {mmhg} mmHg."),
    "not raised": mark("The blood pressure of {animal} was not raised: {mmhg} mmHg."),
    "somewhat raised": mark("The blood pressure of {animal} was somewhat raised: {mmhg} mmHg."),
    "high": mark("The blood pressure of {animal} was high: {mmhg} mmHg."),
    "very high": mark("The blood pressure of {animal} was very high: {mmhg} mmHg."),
}
AGAIN: Mapping[Height, str] = {
    "low": mark("Measured once more that day it was low: {mmhg} mmHg."),
    "at goal": mark("Measured once more that day it was where it should be under treatment: {mmhg} mmHg."),
    "not raised": mark("Measured once more that day it was not raised: {mmhg} mmHg."),
    "somewhat raised": mark("Measured once more that day it was somewhat raised: {mmhg} mmHg."),
    "high": mark("Measured once more that day it was high: {mmhg} mmHg."),
    "very high": mark("Measured once more that day it was very high: {mmhg} mmHg."),
}
_HOW: Mapping[Species, str] = {
    "cat": mark("Leave the carrier open at home for some days before, with something soft in it."),
    "dog": mark("Keep the way here calm: no hard play and no running just before."),
}
_ONE_EYE: Mapping[str, str] = {"left eye": mark("the left eye"), "right eye": mark("the right eye")}


def height_sentence(height: Height, *, animal: str, mmhg: str) -> str:
    """How high the pressure was, in one sentence."""
    return _(HEIGHTS[height]).format(animal=animal, mmhg=mmhg)


def same_day_sentence(height: Height, *, mmhg: str) -> str:
    """How high it was in another session of the same day."""
    return _(AGAIN[height]).format(mmhg=mmhg)


def not_looked_at(checks: Collection[OrganCheck]) -> list[str]:
    """The organs, and the eye where it is one alone, that nobody looked at, as they stand in a list."""
    told = []
    for check in checks:
        missed = [eye for eye, state in check.eyes if state == "not examined"]
        if check.state == "not examined" and len(missed) != 1:
            told.append(in_a_sentence(organ_name(check.organ)))
        elif len(missed) == 1:
            told.append(_(_ONE_EYE[missed[0]]))
    return told


def not_looked_at_sentence(told: Collection[str]) -> str:
    """That those were not looked at; empty where all were."""
    return _("Not looked at this time: {organs}.").format(organs=", ".join(told)) if told else ""


def next_sentence(first: str | None, last: str | None, *, today: str) -> str:
    """When to come again. Days as ISO 8601; both None where none is set."""
    if first is None or last is None:
        return _("No day is set yet: ask us when to measure again.")
    if last < today:
        return _("The next measurement was due by {last}: please ring us.").format(last=date_and_time(last))
    if first <= today or first == last:
        return _("Please come again by {last}.").format(last=date_and_time(last))
    return _("Please come again between {first} and {last}.").format(
        first=date_and_time(first), last=date_and_time(last)
    )


def preparing(species: Species, *, animal: str, treated: bool) -> list[str]:
    """How to prepare, where the practice has no words of its own."""
    told = [
        _(_HOW[species]),
        _("Plan a quiet hour: {animal} needs time to settle here before anything is measured.").format(animal=animal),
    ]
    if treated:
        told.append(_("Give the tablets that day as usual, unless we have told you otherwise, and note down the hour."))
    return told


def danger_sentence(animal: str) -> str:
    """When not to wait."""
    return _(
        "Ring at once, by day or by night, if {animal} suddenly does not see or bumps into things, has a fit, "
        "collapses, is very weak, or struggles for breath."
    ).format(animal=animal)


def tablets_sentence(animal: str) -> str:
    """That treatment is not stopped at home."""
    return _(
        "Do not stop or change the tablets on your own, even if {animal} seems well. If a tablet was missed, or "
        "something worries you, ask us."
    ).format(animal=animal)

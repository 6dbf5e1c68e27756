"""Whether the readings are enough, in one sentence or two, and how wide the interval is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from quietlimb.words.language import _, mark, plural

if TYPE_CHECKING:
    from quietlimb.engine.session.enough import Enough

ENOUGH = mark("Enough, by the numbers and by the protocol.")
_STOP = mark(
    "Stop here: interval and protocol have what they ask for, and more readings of today would hardly tell on which "
    "side of {mmhg:.0f} mmHg it lies; another session may."
)
_HARDLY = mark("Three readings more would hardly tell on which side of {mmhg:.0f} mmHg it lies; another session may.")


def enough_sentences(found: Enough) -> list[str]:
    """What to do next about the number of readings, the most pressing first; then what else asks for something."""
    why, more = found.why, found.more or 0
    told = []
    if "still-falling" in why:
        told.append(_("Still falling: let the animal sit, then go on."))
    if "not-consistent" in why:
        told.append(
            _("The readings disagree by the protocol's rule: rest, then start again with another cuff or site.")
        )
    if "more-will-not-do" in why:
        told.append(
            _("Three readings more are not expected to do: rest, another cuff or site, or take the interval as it is.")
        )
    elif not told and not found.by_numbers:
        told.append(_asked(found, more))
    if "category-cannot-be-told" in why and found.boundary_mmhg is not None:
        stop = not told and found.by_protocol
        told.append(_(_STOP if stop else _HARDLY).format(mmhg=found.boundary_mmhg))
    if "fewer-than-the-protocol" in why:
        told.append(_by_protocol(found))
    return told or [_(ENOUGH)]


def _asked(found: Enough, more: int) -> str:
    """How many readings should settle what is open; the protocol's count has a sentence of its own."""
    if "category-open" in found.why and found.boundary_mmhg is not None:
        return plural(
            "{count} reading more may settle on which side of {mmhg:.0f} mmHg it lies.",
            "{count} readings more may settle on which side of {mmhg:.0f} mmHg it lies.",
            more,
        ).format(count=more, mmhg=found.boundary_mmhg)
    if found.expected_half_width_mmhg[-1] > found.wanted_mmhg:
        return _(
            "The interval is wider than wanted, and three readings more are not expected to mend that: rest, then go "
            "on, or try another cuff or site."
        )
    return plural(
        "{count} reading more should bring the interval to {wanted:.0f} mmHg either way.",
        "{count} readings more should bring the interval to {wanted:.0f} mmHg either way.",
        more,
    ).format(count=more, wanted=found.wanted_mmhg)


def _by_protocol(found: Enough) -> str:
    missing = found.protocol_needed - found.protocol_kept
    if found.by_numbers:
        told = plural(
            "Narrow enough by the numbers; the protocol still asks for {count} reading (it has {kept} of {needed}).",
            "Narrow enough by the numbers; the protocol still asks for {count} readings (it has {kept} of {needed}).",
            missing,
        )
    else:
        told = plural(
            "The protocol still asks for {count} reading (it has {kept} of {needed}).",
            "The protocol still asks for {count} readings (it has {kept} of {needed}).",
            missing,
        )
    return told.format(count=missing, kept=found.protocol_kept, needed=found.protocol_needed)


def width_sentence(found: Enough) -> str:
    """The half-width now and the ones to expect."""
    one, two, three = found.expected_half_width_mmhg
    return _(
        "The interval reaches {now:.0f} mmHg either way; to expect after 1, 2, 3 readings more: {one:.0f}, {two:.0f}, "
        "{three:.0f} mmHg (wanted: {wanted:g})."
    ).format(now=found.half_width_mmhg, one=one, two=two, three=three, wanted=found.wanted_mmhg)

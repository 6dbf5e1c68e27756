"""Whether the readings are enough, in one sentence or two, and how wide the interval is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from quietlimb.words.language import _, mark, plural
from quietlimb.words.numerals import percent

if TYPE_CHECKING:
    from quietlimb.engine.session.enough import Enough

ENOUGH = mark("Enough, by the numbers and by the protocol.")
_STOP = mark(
    "Stop here: interval and protocol have what they ask for, and more readings of today would hardly tell on which "
    "side of {mmhg:.0f} mmHg it lies; another session may."
)
_MORE_WILL_NOT_DO = mark(
    "Three readings more are not expected to do: rest, another cuff or site, or take the interval as it is."
)
# Another cuff or site would bring a shared part of its own, so it is not advised for this.
_SHARED_PART_LEADS = mark(
    "Three readings more are not expected to bring the interval to {wanted:g} mmHg either way: most of it is what all "
    "readings of this animal by this cuff and method share, and no number of them narrows that."
)
_SETTLED = mark(
    "The interval is wider than wanted, but the category is settled with a probability of {percent}: that excuses it."
)
_HARDLY = mark("Three readings more would hardly tell on which side of {mmhg:.0f} mmHg it lies; another session may.")


def enough_sentences(found: Enough) -> list[str]:
    """What to do next about the number of readings, the most pressing first; then what else asks for something."""
    why, more = found.why, found.more or 0
    told = []
    if "still-falling" in why:
        told.append(_("Still falling: let the animal sit, then go on."))
    if "still-rising" in why:
        told.append(_("Still rising: let the animal settle, then go on."))
    if "not-consistent" in why:
        told.append(
            _("The readings disagree by the protocol's rule: rest, then start again with another cuff or site.")
        )
    if "more-will-not-do" in why:
        said = _SHARED_PART_LEADS if found.shared_part_leads else _MORE_WILL_NOT_DO
        told.append(_(said).format(wanted=found.wanted_mmhg))
    elif not told and not found.by_numbers:
        told.append(_asked(found, more))
    if "category-cannot-be-told" in why and found.boundary_mmhg is not None:
        stop = not told and found.by_protocol
        told.append(_(_STOP if stop else _HARDLY).format(mmhg=found.boundary_mmhg))
    if "fewer-than-the-protocol" in why:
        told.append(_by_protocol(found))
    told = told or [_(ENOUGH)]
    if found.by_numbers and "category-told-though-wide" in why:
        told.append(_(_SETTLED).format(percent=percent(found.category_probability)))
    return told


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
            "The interval is wider than wanted, and three readings more are not expected to bring it to {wanted:g} "
            "mmHg either way."
        ).format(wanted=found.wanted_mmhg)
    return plural(
        "{count} reading more should bring the interval to {wanted:g} mmHg either way.",
        "{count} readings more should bring the interval to {wanted:g} mmHg either way.",
        more,
    ).format(count=more, wanted=found.wanted_mmhg)


def _by_protocol(found: Enough) -> str:
    missing = found.protocol_needed - found.protocol_kept
    if found.by_numbers:
        told = plural(
            "Enough by the numbers; the protocol still asks for {count} reading (it has {kept} of {needed}).",
            "Enough by the numbers; the protocol still asks for {count} readings (it has {kept} of {needed}).",
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
    """The half-width now and the ones to expect, and under which no number of readings brings it.

    With a decimal where whole numbers would show a width as reached that is not.
    """
    shared = found.shared_half_width_mmhg
    widths = [found.half_width_mmhg, *found.expected_half_width_mmhg, *([] if shared is None else [shared])]
    hidden = any((round(width) > found.wanted_mmhg) != (width > found.wanted_mmhg) for width in widths)
    now, one, two, three, *least = (f"{width:.{int(hidden)}f}" for width in widths)
    told = _(
        "The interval reaches {now} mmHg either way; to expect after 1, 2, 3 readings more: {one}, {two}, {three} mmHg "
        "(wanted: {wanted:g})."
    ).format(now=now, one=one, two=two, three=three, wanted=found.wanted_mmhg)
    if not least:
        return told
    never = _("What all readings share makes {least} mmHg by itself: no number of them brings it lower.")
    return f"{told} {never.format(least=least[0])}"

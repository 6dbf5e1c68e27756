"""The effect of the place in one animal, as sentences."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.session.place import PlaceEffect
from quietlimb.words.language import _, mark, plural
from quietlimb.words.numerals import percent

PLACES: Mapping[str, str] = {
    "home": mark("at home"),
    "carrier": mark("in the carrier"),
    "waiting-room": mark("in the waiting room"),
    "consulting-room": mark("in the consulting room"),
    "hospital-cage": mark("in the hospital cage"),
}

CIRCUMSTANCES: Mapping[str, str] = {
    "side": mark("side"),
    "position": mark("position"),
    "cuff": mark("cuff"),
    "cuff_width_cm": mark("width of the cuff"),
    "read_by": mark("who read"),
    "held_by": mark("who held"),
}

NEVER_SUBTRACT = mark(
    "What the place did to this animal is no correction: it is never subtracted from a reading, and says nothing of "
    "another animal. Chart each place for itself."
)


def place_name(place: str) -> str:
    """Readable place: at home, in the carrier."""
    return _(PLACES[place])


def effect_sentence(effect: PlaceEffect) -> str:
    """By how much the systolic pressure differed, with its interval and the chance that it is higher at all."""
    change = effect.effect
    return plural(
        "Systolic pressure {there} minus {here}: {value:+z.0f} mmHg (95 % interval {low:+z.0f} to {high:+z.0f}), from "
        "{pairs} pair; higher {there} with a probability of {percent}.",
        "Systolic pressure {there} minus {here}: {value:+z.0f} mmHg (95 % interval {low:+z.0f} to {high:+z.0f}), from "
        "{pairs} pairs; higher {there} with a probability of {percent}.",
        effect.pairs,
    ).format(
        there=place_name(effect.second_place),
        here=place_name(effect.first_place),
        value=change.value,
        low=change.low,
        high=change.high,
        pairs=effect.pairs,
        percent=percent(effect.probability_higher),
    )


def place_remarks(effect: PlaceEffect) -> list[str]:
    """What a further pair may show, what else may have been measured, and that nothing is subtracted."""
    low, high = effect.next_pair
    further = _("In a further pair the difference would lie between {low:+z.0f} and {high:+z.0f} mmHg.")
    told = [further.format(low=low, high=high)]
    if effect.confounded_by:
        names = ", ".join(_(CIRCUMSTANCES[name]) for name in effect.confounded_by)
        also = _("Not only the place differed, in every pair: {names}. That may be what was measured.")
        told.append(also.format(names=names))
    if effect.order_confounded:
        told.append(
            _("One place always came first, so the settling of the animal is in the difference. Turn the order around.")
        )
    if effect.uneven:
        told.append(
            plural(
                "The readings of {count} session broke the protocol's rule on variability. The interval allows for "
                "their scatter, but repeat such a session before relying on the difference.",
                "The readings of {count} sessions broke the protocol's rule on variability. The interval allows for "
                "their scatter, but repeat such sessions before relying on the difference.",
                effect.uneven,
            ).format(count=effect.uneven)
        )
    return [*told, _(NEVER_SUBTRACT)]

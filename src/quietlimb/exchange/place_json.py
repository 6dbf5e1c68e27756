"""The effect of the place as one JSON object; what each member means is written in `schemas/place.json`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from quietlimb.engine.session.place import PlaceEffect
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.json_values import JsonObject, estimate_or_null, number_or_null, share_or_null
from quietlimb.words.place import effect_sentence, place_remarks

PLACE: Final = "quietlimb/place/1"


def place_object(pairs: Sequence[tuple[str, str]], effect: PlaceEffect) -> JsonObject:
    """What `place` tells about pairs of sessions, given by their paths."""
    return {
        "schema": PLACE,
        "pairs": [list(pair) for pair in pairs],
        "first_place": effect.first_place,
        "second_place": effect.second_place,
        "effect": estimate_or_null(effect.effect),
        "next_pair": [number_or_null(limit) for limit in effect.next_pair],
        "probability_higher": share_or_null(effect.probability_higher),
        "confounded_by": list(effect.confounded_by),
        "order_confounded": effect.order_confounded,
        "uneven": effect.uneven,
        "says": [effect_sentence(effect), *place_remarks(effect)],
        "engine": ENGINE_VERSION,
    }

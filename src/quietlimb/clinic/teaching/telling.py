"""The debrief as it is shown and kept: sentences and numbers."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from quietlimb.teaching import Debrief
from quietlimb.words.training import (
    besides_sentences,
    cost_sentence,
    done_sentence,
    engine_sentence,
    grade_sentence,
    inflations_sentence,
    invented_sentence,
    owner_rule_line,
    owner_sentences,
    readings_sentences,
    rule_line,
    truth_sentence,
)


def told_of(made: Debrief) -> dict[str, Any]:
    """Everything that the page of a debrief says."""
    return {
        "invented": invented_sentence(),
        "truth": truth_sentence(made),
        "grade": grade_sentence(made.grade),
        "engine": engine_sentence(made),
        "costs": [
            {
                "done": done_sentence(each.departure),
                "cost": cost_sentence(each),
                "rule": rule_line(each),
                "inflations": inflations_sentence(each),
            }
            for each in made.costs
        ],
        "owner": {
            "says": owner_sentences(made),
            "rule": "" if made.owner is None else owner_rule_line(made.owner),
        },
        "besides": besides_sentences(made),
        "readings": readings_sentences(made),
        "inflations": [
            {
                "number": each.number,
                "minute": round(each.minute, 1),
                "kept": each.kept,
                "why": each.why or "",
                "systolic": None if each.systolic is None else round(each.systolic.value),
                "true": round(each.true_systolic),
                "counts": each.counts,
                "reached": None if each.reached_mmhg is None else round(each.reached_mmhg),
                "broken_off": None if each.broken_off_at is None else round(each.broken_off_at),
            }
            for each in made.inflations
        ],
    }


def told_of_nothing() -> dict[str, Any]:
    """The same where the cuff was never inflated: there is nothing to look at, and no result."""
    return {
        "invented": invented_sentence(),
        "truth": _("The cuff was never inflated, so there is nothing to look at. Take the case on again."),
        "grade": "",
        "engine": "",
        "costs": [],
        "owner": {"says": [], "rule": ""},
        "besides": [],
        "readings": [],
        "inflations": [],
    }

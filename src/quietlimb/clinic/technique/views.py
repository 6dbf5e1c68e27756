"""Technique, over a period told in the address."""

from __future__ import annotations

from datetime import timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from quietlimb.clinic.equipment.models import Technique as Method
from quietlimb.clinic.rights import needs, person_of
from quietlimb.clinic.sessions.models import Spoiled
from quietlimb.clinic.technique.forms import PeriodForm
from quietlimb.clinic.technique.reckoning import Share, Technique, by_reader, technique_of
from quietlimb.clinic.technique.selectors import MOST_CHARTED, MOST_SESSIONS, measured_between, readings_asked_for
from quietlimb.engine.standards.acvim_2018 import SHORTEST_ACCLIMATISATION
from quietlimb.words.sources import source_and_standing

USUAL_DAYS = 90


@needs("lead")
@require_safe
def technique(request: HttpRequest) -> HttpResponse:
    """The practice's figures; with ?by=person those of who read, which are shown only when asked for."""
    person, today = person_of(request), timezone.localdate()
    usual = {"from": today - timedelta(days=USUAL_DAYS), "to": today}
    form = PeriodForm({**{name: day.isoformat() for name, day in usual.items()}, **request.GET.dict()})
    context: dict[str, object] = {"form": form}
    if form.is_valid():
        sessions, beyond = measured_between(person, form.cleaned_data["from"], form.cleaned_data["to"])
        asked_for, dropped = readings_asked_for(person.practice.rules)
        found = technique_of(sessions, asked_for=asked_for)
        context |= {
            "period": form.cleaned_data,
            "first": form.cleaned_data["from"],
            "last": form.cleaned_data["to"],
            "found": found,
            "reasons": [(Spoiled(reason).label, count) for reason, count in found.reasons],
            "digits": _digits(found),
            "people": _people(by_reader(sessions, asked_for=asked_for)) if request.GET.get("by") == "person" else None,
            "asked_for": asked_for,
            "dropped": dropped,
            "kept": asked_for - dropped,
            "without": found.sessions - found.told.of,
            "settled_from": SHORTEST_ACCLIMATISATION,
            "settled_source": source_and_standing(SHORTEST_ACCLIMATISATION.source, SHORTEST_ACCLIMATISATION.standing),
            "beyond": beyond,
            "most_sessions": MOST_SESSIONS,
            "most_charted": min(MOST_CHARTED, len(sessions)),
        }
    return render(request, "technique/technique.html", context, status=200 if form.is_valid() else 422)


BAR_HEIGHT = 60


def _digits(found: Technique) -> list[dict[str, object]]:
    """For each method its digits as bars: the tallest count fills the height, a line stands where all are alike."""
    lines = []
    for method, each in found.digits.items():
        most = max(each.counts) or 1
        expected = each.zeros.of * each.expected_zeros
        lines.append(
            {
                "method": Method(method).label,
                "each": each,
                "bars": [
                    {
                        "digit": digit,
                        "count": count,
                        "height": round(BAR_HEIGHT * count / max(most, expected)),
                        "top": BAR_HEIGHT - round(BAR_HEIGHT * count / max(most, expected)),
                    }
                    for digit, count in enumerate(each.counts)
                    if digit % each.step_mmhg == 0
                ],
                "line": BAR_HEIGHT - round(BAR_HEIGHT * expected / max(most, expected)),
                "p": "" if each.p_value is None else "< 0.001" if each.p_value < 0.001 else f"= {each.p_value:.3f}",
                "expected_percent": round(100 * each.expected_zeros),
            }
        )
    return lines


def _people(found: dict[str, Technique]) -> list[tuple[str, Technique, list[tuple[object, Share]]]]:
    """Who read, her figures, and her share of zeros by method."""
    return [
        (name, each, [(Method(method).label, digits.zeros) for method, digits in each.digits.items()])
        for name, each in found.items()
    ]

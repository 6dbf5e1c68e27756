"""The practice at a glance, and its settings."""

from __future__ import annotations

from copy import copy

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from quietlimb.clinic.changes import changes_asked
from quietlimb.clinic.journal.changing import change, changes_of
from quietlimb.clinic.practice.forms import SETTINGS, SettingsForm
from quietlimb.clinic.rights import colleagues, needs, person_of
from quietlimb.clinic.staff.selectors import ending_competences
from quietlimb.engine.standards.rule_sets import RULE_SETS


@needs("lead")
@require_safe
def practice(request: HttpRequest) -> HttpResponse:
    """Everything that the practice lead looks after, each with its state in a line."""
    person, today = person_of(request), timezone.localdate()
    context = {
        "today": today,
        "rules": RULE_SETS[person.practice.rules],
        "people": colleagues(person).count(),
        "competences": ending_competences(person, today),
    }
    return render(request, "practice/practice.html", context)


@needs("lead")
@require_http_methods(["GET", "POST"])
def settings(request: HttpRequest) -> HttpResponse:
    """The settings, with what was changed before."""
    person = person_of(request)
    # A copy, so that what is refused does not show in the frame.
    form = SettingsForm(request.POST or None, instance=copy(person.practice))
    if form.is_valid():
        change(person, "settings changed", form.save(commit=False), fields=SETTINGS)
        return redirect("practice")
    asked = changes_asked(request)
    context = {"form": form, "changes": changes_of(person.practice, asked=asked), "asked_changes": asked}
    return render(request, "practice/settings.html", context, status=200 if request.method == "GET" else 422)

"""Outside the teaching room: cases to take on, what came of them, the lead's own cases and the figures of a class."""

from __future__ import annotations

import uuid

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quietlimb.clinic.rights import fetch, may, needs, person_of
from quietlimb.clinic.teaching import services
from quietlimb.clinic.teaching.cases import cases_for
from quietlimb.clinic.teaching.figures import figures_of
from quietlimb.clinic.teaching.forms import CaseForm
from quietlimb.clinic.teaching.models import OwnCase
from quietlimb.clinic.teaching.room import ROOM
from quietlimb.clinic.teaching.selectors import done_by, own_cases_of, results_of, runs_of
from quietlimb.words.training import difficulty_name


@needs()
@require_safe
def teaching(request: HttpRequest) -> HttpResponse:
    """Cases, the easy ones first, and one's own runs."""
    person = person_of(request)
    done = done_by(person)
    context = {
        "cases": [
            {"key": key, "case": case, "difficulty": difficulty_name(case.difficulty), "done": key in done}
            for key, case in cases_for(person).items()
        ],
        "runs": [{"run": run, "session": session, "title": run.case["title"]} for run, session in runs_of(person)],
        "room": ROOM,
        "may_lead": may(person, "lead"),
    }
    return render(request, "teaching/teaching.html", context)


@needs()
@require_POST
def begin(request: HttpRequest) -> HttpResponse:
    """Take on a case: into the room, to the page on which a session is started."""
    person = person_of(request)
    key = request.POST.get("case", "")
    case = cases_for(person).get(key)
    if case is None:
        raise Http404(_("There is no such case here."))
    run = services.run_begin(person, key=key, case=case, fast=request.POST.get("time") != "real")
    return redirect(f"{ROOM}/start/{run.animal_id}")


@needs()
@require_POST
def claim(request: HttpRequest, run_id: uuid.UUID) -> HttpResponse:
    """Put one's own result beside one's competence."""
    if not services.result_claim(person_of(request), run_id=run_id):
        raise Http404(_("There is no such result."))
    return redirect("teaching")


@needs()
@require_POST
def take_back(request: HttpRequest, run_id: uuid.UUID) -> HttpResponse:
    """Take one's own result away from one's competence again."""
    if not services.result_take_back(person_of(request), run_id=run_id):
        raise Http404(_("There is no such result."))
    return redirect("own-page" if request.POST.get("from") == "me" else "teaching")


@needs("lead")
@require_safe
def of_a_class(request: HttpRequest) -> HttpResponse:
    """Figures of all runs month by month and case by case; of persons only where they wished it."""
    person = person_of(request)
    return render(
        request, "teaching/class.html", {"figures": figures_of(results_of(person)), "own": own_cases_of(person)}
    )


@needs("lead")
@require_http_methods(["GET", "POST"])
def case_add(request: HttpRequest) -> HttpResponse:
    """A case of the practice's own."""
    taken = [case.title for case in cases_for(person_of(request)).values()]
    form = CaseForm(request.POST or None, taken=taken)
    if form.is_valid():
        services.case_add(person_of(request), case=form.cleaned_data["case"])
        return redirect("teaching-class")
    return render(request, "teaching/case.html", {"form": form}, status=200 if request.method == "GET" else 422)


@needs("lead")
@require_POST
def case_retire(request: HttpRequest, case_id: uuid.UUID) -> HttpResponse:
    """Give a case of the practice's own no longer."""
    person = person_of(request)
    services.case_retire(person, row=fetch(person, "lead", OwnCase, pk=case_id))
    return redirect("teaching-class")

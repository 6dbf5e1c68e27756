"""Comparisons: everybody looks, practice lead and researcher keep and retire."""

from __future__ import annotations

import io
import tempfile
import uuid
import zipfile
from pathlib import Path
from typing import Any

from django.core.paginator import Page
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from quietlimb.agreement.schemes import SCHEMES
from quietlimb.clinic.comparisons import services, showing
from quietlimb.clinic.comparisons.forms import FileForm, KeepForm, PairsForm, RetireForm, carried
from quietlimb.clinic.comparisons.models import Comparison
from quietlimb.clinic.comparisons.reckoning import (
    MOST_BYTES,
    MOST_PLAN_BYTES,
    MOST_ROWS,
    PLAN,
    Chosen,
    Made,
    made_of,
)
from quietlimb.clinic.downloads import download
from quietlimb.clinic.equipment.models import Technique
from quietlimb.clinic.lists import asked_of_a_list, page_of, query_without_page
from quietlimb.clinic.rights import fetch, may, needs, person_of, visible
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.comparison_json import comparison_text, differing
from quietlimb.exchange.errors import FileError

CHOICES = {
    "show": (_l("Show"), [("", _l("in use")), ("retired", _l("retired")), ("all", _l("all"))]),
    "sort": (_l("Sort by"), [("", _l("the latest first")), ("name", _l("name"))]),
}
MOST_SHOWN = 300  # lines that could not be used, or members that came out otherwise
ONE_DATE = (1980, 1, 1, 0, 0, 0)  # the first that the format knows


@needs("compared")
@require_safe
def comparisons(request: HttpRequest) -> HttpResponse:
    """All that were kept, with their verdicts."""
    person = person_of(request)
    asked = asked_of_a_list(request, CHOICES)
    found = visible(person, Comparison, action="compared").defer("content", "plan").select_related("made_by")
    if asked.of("show") != "all":
        found = found.filter(retired_at__isnull=asked.of("show") == "")
    found = found.order_by("name", "id") if asked.of("sort") == "name" else found.order_by("-made_at", "id")
    page: Page[Comparison] = page_of(request, found)
    context = {
        "asked": asked,
        "page": page,
        "query": query_without_page(request),
        "comparisons": [(each, showing.verdicts(each.results)) for each in page],
        "may_compare": may(person, "compare"),
        "form": PairsForm(),
    }
    return render(request, "comparisons/comparisons.html", context)


@needs("compare")
@require_http_methods(["GET", "POST"])
def comparison_add(request: HttpRequest) -> HttpResponse:
    """What the file should look like; with a file, what was understood of it. Nothing is written."""
    form = FileForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        content, plan = form.content(), form.plan_content()
        for field, found, most in (("file", content, MOST_BYTES), ("plan", plan, MOST_PLAN_BYTES)):
            if len(found) > most:
                sentence = _("This is more than {kb} kB; compare it by the command line: quietlimb compare pairs.")
                form.add_error(field, sentence.format(kb=most // 1000))
        if not form.errors:
            try:
                made = made_of(content, plan, form.chosen())
            except QuietlimbError as error:
                form.add_error(*_blamed(error))
            else:
                return _looked_at(request, form, made, content, plan)
    context = {"form": form, "most_bytes": MOST_BYTES // 1000, "most_rows": MOST_ROWS}
    return render(request, "comparisons/file.html", context, status=200 if request.method == "GET" else 422)


@needs("compare")
@require_POST
def comparison_keep(request: HttpRequest) -> HttpResponse:
    """Keep what was looked at."""
    form = KeepForm(request.POST)
    if not form.is_valid():
        return render(request, "plain.html", {"sentence": _("Choose the file again.")}, status=422)
    told = form.cleaned_data
    dropped = services.Dropped(
        **{name: told[name] for name in ("key", "name", "file_name", "content", "plan_name", "plan")},
        chosen=form.chosen(),
    )
    try:
        row = services.comparison_keep(person_of(request), dropped=dropped, at=timezone.now())
    except QuietlimbError as error:
        status = 409 if error.code == "key-taken" else 422
        return render(request, "plain.html", {"sentence": f"{error.says}; {error.remedy}."}, status=status)
    return redirect("comparison", row.pk)


@needs("compare")
@require_POST
def comparison_pairs(request: HttpRequest) -> HttpResponse:
    """Pairs of the practice's own sessions, to be looked at and compared like any other file."""
    form = PairsForm(request.POST)
    if not form.is_valid():
        return render(request, "plain.html", {"sentence": _("Choose the tested method.")}, status=422)
    try:
        text = services.pairs_take(person_of(request), tested=Technique(form.cleaned_data["technique"]))
    except QuietlimbError as error:
        return render(request, "plain.html", {"sentence": f"{error.says}; {error.remedy}."}, status=409)
    return download(text.encode(), "pairs.csv", "text/csv; charset=utf-8")


@needs("compared")
@require_safe
def comparison(request: HttpRequest, comparison_id: uuid.UUID) -> HttpResponse:
    """Verdicts, bias and limits, figures, what is missing, the methods paragraph."""
    return _page(request, _fetch(request, comparison_id), RetireForm())


@needs("compared")
@require_safe
def comparison_figure(request: HttpRequest, comparison_id: uuid.UUID) -> HttpResponse:
    """The picture with the name in the address, or the first, by itself."""
    from quietlimb.figures.export import svg

    row = _fetch(request, comparison_id)
    try:
        spec = showing.figure(
            _made(row),
            request.GET.get("name", ""),
            theme="dark" if request.GET.get("theme") == "dark" else "light",
        )
    except QuietlimbError as error:
        return _not_made(error)
    if spec is None:
        raise Http404(_("There is no such picture."))
    return HttpResponse(svg(spec), content_type="image/svg+xml")


@needs("compared")
@require_safe
def comparison_file(request: HttpRequest, comparison_id: uuid.UUID) -> HttpResponse:
    """The pairs as they came."""
    row = _fetch(request, comparison_id)
    return download(bytes(row.content), row.file_name)


@needs("compared")
@require_safe
def comparison_results(request: HttpRequest, comparison_id: uuid.UUID) -> HttpResponse:
    """The results as they were kept."""
    row = _fetch(request, comparison_id)
    return download(comparison_text(row.results).encode(), f"{row.name}.json", "application/json")


@needs("compared")
@require_safe
def comparison_report(request: HttpRequest, comparison_id: uuid.UUID) -> HttpResponse:
    """The report as PDF."""
    from quietlimb.reports.comparison import comparison_pdf

    row = _fetch(request, comparison_id)
    try:
        made = _made(row)
        content = comparison_pdf(made.rows, made.comparisons, made.told)
    except QuietlimbError as error:
        return _not_made(error)
    return download(content, f"{row.name}.pdf", "application/pdf")


@needs("compared")
@require_safe
def comparison_bundle(request: HttpRequest, comparison_id: uuid.UUID) -> HttpResponse:
    """The folder that a reviewer runs again, as a ZIP."""
    from quietlimb.reports.comparison_bundle import write_bundle

    row = _fetch(request, comparison_id)
    held = io.BytesIO()
    try:
        made = _made(row)
        with tempfile.TemporaryDirectory(prefix="quietlimb-bundle-") as folder:
            plan = Path(folder) / PLAN
            plan.write_bytes(bytes(row.plan))
            target = Path(folder) / "comparison"
            told = None if made.plan is None else plan
            write_bundle(target, made.rows, made.comparisons, made.analysis, made.told, plan=told)
            with zipfile.ZipFile(held, "w") as archive:
                for path in sorted(target.iterdir()):
                    name = zipfile.ZipInfo(f"comparison/{path.name}", ONE_DATE)
                    archive.writestr(name, path.read_bytes(), zipfile.ZIP_DEFLATED)
    except QuietlimbError as error:
        return _not_made(error)
    return download(held.getvalue(), f"{row.name}.zip", "application/zip")


@needs("compare")
@require_POST
def comparison_retire(request: HttpRequest, comparison_id: uuid.UUID) -> HttpResponse:
    """Say that it is no longer to be used, and why."""
    person = person_of(request)
    row = fetch(person, "compare", Comparison, pk=comparison_id)
    form = RetireForm(request.POST)
    if not form.is_valid():
        return _page(request, row, form, status=422)
    services.comparison_retire(person, comparison=row, why=form.cleaned_data["why"], at=timezone.now())
    return redirect("comparison", row.pk)


def _fetch(request: HttpRequest, comparison_id: uuid.UUID) -> Comparison:
    return fetch(person_of(request), "compared", Comparison, pk=comparison_id)


def _made(row: Comparison) -> Made:
    """By the engine that is here now."""
    return made_of(bytes(row.content), bytes(row.plan), Chosen.of(row.chosen))


def _page(request: HttpRequest, row: Comparison, form: RetireForm, *, status: int = 200) -> HttpResponse:
    context: dict[str, Any] = {
        "comparison": row,
        "form": form,
        "kept": showing.verdicts(row.results),
        "may_retire": may(request.user, "compare", row) and row.retired_at is None,
        "engine_now": ENGINE_VERSION,
    }
    try:
        made = _made(row)
    except QuietlimbError as error:
        context["trouble"] = f"{error.says}; {error.remedy}."
        return render(request, "comparisons/comparison.html", context, status=status)
    otherwise = [each.where for each in differing(row.results, dict(made.told)) if each.where != "engine"]
    context |= {
        "made": made,
        "understood": showing.understood(made.rows).lines,
        "compared": showing.parts(made),
        "plan_lines": showing.plan_lines(made),
        "before": showing.before(made),
        "cautions": showing.cautions(made),
        "left_out": made.left_out[:MOST_SHOWN],
        "more_left_out": len(made.left_out[MOST_SHOWN:]),
        "otherwise": otherwise[:MOST_SHOWN],
    }
    return render(request, "comparisons/comparison.html", context, status=status)


def _looked_at(request: HttpRequest, form: FileForm, made: Made, content: bytes, plan: bytes) -> HttpResponse:
    same = visible(person_of(request), Comparison, action="compared").filter(sha256=services.sha256_of(content))
    context = {
        "file_name": form.file_name(),
        "name": form.cleaned_data["name"],
        "made": made,
        "understood": showing.understood(made.rows).lines,
        "schemes": [SCHEMES[each].name for each in made.analysis.schemes],
        "plan_lines": showing.plan_lines(made),
        "left_out": made.left_out[:MOST_SHOWN],
        "more_left_out": len(made.left_out[MOST_SHOWN:]),
        "carried": carried(form, content, plan),
        "same": same.defer("content", "plan")[:5],
    }
    return render(request, "comparisons/look.html", context)


def _blamed(error: QuietlimbError) -> tuple[str, str]:
    """The field to look at, and what to do."""
    field, where = "file", ""
    if isinstance(error, FileError):
        field = "plan" if error.path.endswith(PLAN) else "file"
        where = "" if error.line is None else _("line {line}: ").format(line=error.line)
    return field, f"{where}{error.says}; {error.remedy}."


def _not_made(error: QuietlimbError) -> HttpResponse:
    return HttpResponse(f"{error.says}; {error.remedy}", status=422, content_type="text/plain; charset=utf-8")

"""The one page of a researcher."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from quietlimb.clinic.research.deidentified import ExportError
from quietlimb.clinic.research.services import export_make
from quietlimb.clinic.rights import needs, person_of


@needs("export")
@require_http_methods(["GET", "POST"])
def export(request: HttpRequest) -> HttpResponse:
    """What is in it and what is not; then the ZIP."""
    if request.method == "GET":
        return render(request, "research/export.html")
    try:
        content = export_make(person_of(request))
    except ExportError as error:
        return render(request, "plain.html", {"sentence": f"{error.says}; {error.remedy}."}, status=409)
    headers = {"Content-Disposition": 'attachment; filename="deidentified.zip"'}
    return HttpResponse(content, content_type="application/zip", headers=headers)

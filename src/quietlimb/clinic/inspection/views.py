"""The inspection folder of any day."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from quietlimb.clinic.inspection.folder import FolderError
from quietlimb.clinic.inspection.forms import USUAL_MONTHS, FolderForm
from quietlimb.clinic.inspection.services import folder_make
from quietlimb.clinic.rights import needs, person_of


@needs("lead")
@require_http_methods(["GET", "POST"])
def inspection(request: HttpRequest) -> HttpResponse:
    """Which day; then the folder as a ZIP."""
    person = person_of(request)
    form = FolderForm(request.POST or None, initial={"day": timezone.localdate(), "months": USUAL_MONTHS})
    if form.is_valid():
        period = form.period()
        try:
            content = folder_make(person, period=period, at=timezone.now())
        except FolderError as error:
            form.add_error("months", f"{error.says}; {error.remedy}.")
        else:
            name = f"{'invented-' if person.practice.invented else ''}inspection-{period.last.isoformat()}.zip"
            headers = {"Content-Disposition": f'attachment; filename="{name}"'}
            return HttpResponse(content, content_type="application/zip", headers=headers)
    status = 200 if request.method == "GET" else 422
    return render(request, "inspection/inspection.html", {"form": form}, status=status)

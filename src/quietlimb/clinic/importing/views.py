"""Import: a look at what would happen, then, if wanted, that."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from quietlimb.clinic.importing.forms import ApplyForm, FileForm, as_text
from quietlimb.clinic.importing.lines import Agreed, agreed
from quietlimb.clinic.importing.plan import Plan, plan
from quietlimb.clinic.importing.services import import_apply
from quietlimb.clinic.importing.table import (
    HEADERS,
    MOST_BYTES,
    MOST_LINES,
    OF_ANIMAL,
    OF_OWNER,
    ImportFileError,
    Table,
    read_table,
)
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.rights import needs, person_of

MOST_SHOWN = 300


@needs("lead")
@require_http_methods(["GET", "POST"])
def import_file(request: HttpRequest) -> HttpResponse:
    """What the file should look like; with a file, what importing it would do. Nothing is written."""
    form = FileForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        content = form.content()
        try:
            table, said = _read(content)
        except ImportFileError as error:
            form.add_error("file", f"{error.says}; {error.remedy}.")
        else:
            return _shown(request, table, said, content, form.file_name())
    context = {
        "form": form,
        "of_animal": OF_ANIMAL,
        "of_owner": OF_OWNER,
        "example": ";".join(HEADERS),
        "most_bytes": MOST_BYTES // 1000,
        "most_lines": MOST_LINES,
    }
    status = 200 if request.method == "GET" else 422
    return render(request, "importing/file.html", context, status=status)


@needs("lead")
@require_POST
def import_done(request: HttpRequest) -> HttpResponse:
    """Do what was shown. Where something has changed here since, show it again instead."""
    person = person_of(request)
    form = ApplyForm(request.POST)
    if not form.is_valid():
        return render(request, "plain.html", {"sentence": _("Choose the file again.")}, status=422)
    told = form.cleaned_data
    try:
        table, said = _read(told["content"])
    except ImportFileError as error:
        return render(request, "plain.html", {"sentence": f"{error.says}; {error.remedy}."}, status=422)
    if plan(person.practice_id, said).fingerprint != told["fingerprint"]:
        return _shown(request, table, said, told["content"], told["file_name"], meanwhile=True)
    done = import_apply(person, said=said, overwrite=told["overwrite"], file_name=told["file_name"])
    return render(request, "importing/done.html", {"plan": done, "counts": counts(done)})


def counts(of: Plan) -> dict[str, int]:
    """How many owners and animals are new, changed, the same; how many fields stay; how many lines are refused."""
    return {
        "new_owners": sum(part.new for part in of.owners),
        "new_animals": sum(part.new for part in of.animals),
        "changed": sum(part.changed for part in of.parts),
        "same": sum(not part.takes and not part.stays for part in of.parts),
        "stays": sum(bool(part.stays) for part in of.parts),
        "refused": len(of.refused),
    }


def _read(content: bytes) -> tuple[Table, Agreed]:
    table = read_table(content)
    said = agreed(table.lines, today=timezone.localdate())
    return table, Agreed(owners=said.owners, animals=said.animals, refused=(*table.refused, *said.refused))


def _shown(
    request: HttpRequest, table: Table, said: Agreed, content: bytes, file_name: str, *, meanwhile: bool = False
) -> HttpResponse:
    person: Person = person_of(request)
    found = plan(person.practice_id, said)
    busy = sorted((part for part in found.parts if part.takes or part.stays), key=lambda part: not part.stays)
    context: dict[str, Any] = {
        "table": table,
        "plan": found,
        "counts": counts(found),
        "content": as_text(content),
        "file_name": file_name,
        "meanwhile": meanwhile,
        "shown": busy[:MOST_SHOWN],
        "more": len(busy[MOST_SHOWN:]),
    }
    return render(request, "importing/plan.html", context, status=409 if meanwhile else 200)

"""How a tablet comes to trust this clinic's certificate. Anybody may see it: there is nothing in it to hide."""

from __future__ import annotations

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from quietlimb.clinic.configuration import Configuration


@require_safe
def trust(request: HttpRequest) -> HttpResponse:
    """The page that explains it, with the digits to compare."""
    from quietlimb.clinic.certificates import fingerprint

    told = _with_authority()
    context = {"host": told.lan_host, "digits": fingerprint(told.authority_files[0])}
    return render(request, "trust.html", context)


@require_safe
def authority(request: HttpRequest) -> HttpResponse:
    """The certificate to trust, as a file."""
    content = _with_authority().authority_files[0].read_bytes()
    answer = HttpResponse(content, content_type="application/x-x509-ca-cert")
    answer.headers["Content-Disposition"] = 'attachment; filename="quietlimb-clinic.crt"'
    return answer


def _with_authority() -> Configuration:
    told: Configuration = settings.CONFIGURATION
    if not (told.encrypted and told.authority_files[0].exists()):
        raise Http404(_("There is no such page here."))
    return told

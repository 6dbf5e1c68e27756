"""The application as a server calls it: pages from the framework, files from one folder, no more than is taken."""

from __future__ import annotations

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "quietlimb.clinic.settings")

from django.conf import settings
from django.core.asgi import get_asgi_application
from servestatic import ServeStaticASGI

from quietlimb.clinic.kept_threads import KeptThreads
from quietlimb.clinic.size_limit import SizeLimit

# Files are asked for again each time and answered "not modified": a new release must not meet an old script.
application = ServeStaticASGI(
    SizeLimit(KeptThreads(get_asgi_application())),
    root=settings.STATIC_FOLDER,
    prefix="static/",
    max_age=0,
    allow_all_origins=False,
)

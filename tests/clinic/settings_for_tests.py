"""The clinic's own settings, on a data folder that is thrown away. QUIETLIMB_DATABASE chooses PostgreSQL."""

import atexit
import os
import shutil
import tempfile

_FOLDER = tempfile.mkdtemp(prefix="quietlimb-tests-")
atexit.register(shutil.rmtree, _FOLDER, ignore_errors=True)
os.environ["QUIETLIMB_DATA"] = _FOLDER
os.environ.pop("QUIETLIMB_FIRST_CODE", None)

from quietlimb.clinic.configuration import Configuration  # noqa: E402

Configuration.from_environment().prepare()

from quietlimb.clinic.settings import *  # noqa: E402, F403

ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]

# The browser driver keeps an event loop in this thread, and the framework would refuse every query after that.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

"""The clinic's own settings, on a data folder that is thrown away.

QUIETLIMB_DATABASE names a PostgreSQL to run on; with QUIETLIMB_POSTGRESQL=1 the tests start one of their own.
"""

import atexit
import contextlib
import os
import shutil
import tempfile

_FOLDER = tempfile.mkdtemp(prefix="quietlimb-tests-")
atexit.register(shutil.rmtree, _FOLDER, ignore_errors=True)
os.environ["QUIETLIMB_DATA"] = _FOLDER
os.environ.pop("QUIETLIMB_FIRST_CODE", None)

from clinic.postgresql import postgresql, programs  # noqa: E402
from quietlimb.clinic.configuration import Configuration  # noqa: E402

if os.environ.get("QUIETLIMB_POSTGRESQL") == "1" and "QUIETLIMB_DATABASE" not in os.environ:
    _AT = programs()
    assert _AT is not None, "QUIETLIMB_POSTGRESQL=1 asks for a PostgreSQL, and there is none here"
    _RUNNING = contextlib.ExitStack()
    atexit.register(_RUNNING.close)
    os.environ["QUIETLIMB_DATABASE"] = _RUNNING.enter_context(postgresql(_AT))

Configuration.from_environment().prepare()

from quietlimb.clinic.settings import *  # noqa: E402, F403

ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]

# The browser driver keeps an event loop in this thread, and the framework would refuse every query after that.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

PASSWORD_HASHERS = ["clinic.quick_hashing.Hasher"]

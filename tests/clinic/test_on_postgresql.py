"""The clinic's tests once more, on a PostgreSQL that this test starts; without one it is skipped, or fails."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import psycopg
import pytest

from clinic.missing import missing
from clinic.postgresql import database_for, postgresql, programs
from clinic.serving import BARE

HERE = Path(__file__).parent


@pytest.mark.skipif("QUIETLIMB_DATABASE" in os.environ, reason="these tests run on PostgreSQL already")
def test_the_same_tests_pass_on_postgresql(tmp_path: Path) -> None:
    """All tests of this room but those in a browser, each of them and none skipped for the database.

    Those in a browser too: QUIETLIMB_POSTGRESQL=1 before pytest.

    Oracle: the tests' own; reference, PostgreSQL as installed.
    """
    at = programs() or missing("there is no PostgreSQL here")
    told = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-p",
        "no:cacheprovider",
        "--ignore",
        str(HERE / "browser"),
        str(HERE),
    ]
    with postgresql(at) as address:
        environment = {**BARE, "QUIETLIMB_DATABASE": address}
        root = HERE.parents[1]
        done = subprocess.run(told, cwd=root, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]
    passed = re.search(r"(\d+) passed", done.stdout)
    assert passed
    assert int(passed[1]) > 150, done.stdout


def test_a_postgresql_of_the_tests_keeps_databases_apart(tmp_path: Path) -> None:
    """Each data folder gets one of its own, the same at the second asking, and nobody enters without the password.

    Oracle: by construction.
    """
    at = programs() or missing("there is no PostgreSQL here")
    with postgresql(at) as address:
        one, other = (database_for(address, tmp_path / name) for name in ("one", "other"))
        assert database_for(address, tmp_path / "one") == one != other
        with psycopg.connect(one) as connection:
            assert connection.execute("SELECT 1").fetchone() == (1,)
        with pytest.raises(psycopg.OperationalError, match="password"):
            psycopg.connect(re.sub(r":[^:@]+@", ":guessed@", one))

"""Files of others are as their authors released them."""

from __future__ import annotations

import hashlib
import tomllib
from pathlib import Path

import quietlimb.clinic

VENDOR = Path(quietlimb.clinic.__file__).parent / "static" / "vendor"


def test_every_vendored_file_has_the_hash_that_is_written_down() -> None:
    """Each file but the list itself is named in it, with its licence, and its sha256 is the one in the list.

    Oracle: by construction, hashes taken from the packages as released.
    """
    told = tomllib.loads((VENDOR / "VENDOR.toml").read_text(encoding="utf-8"))["file"]
    for each in told:
        assert hashlib.sha256((VENDOR / each["path"]).read_bytes()).hexdigest() == each["sha256"]
        assert (VENDOR / each["licence_path"]).stat().st_size > 100
    named = {each[key] for each in told for key in ("path", "licence_path")}
    assert {path.name for path in VENDOR.iterdir()} == named | {"VENDOR.toml"}

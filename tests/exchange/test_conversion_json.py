"""A conversion as a file."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from agreement.invented_rows import invented_rows
from quietlimb.agreement.conversion import estimate_conversion
from quietlimb.engine.conversion import Conversion
from quietlimb.exchange.conversion_json import conversion_text, read_conversion
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.schemas import faults


@pytest.fixture(scope="module")
def found() -> Conversion:
    """Of invented pairs."""
    return estimate_conversion(
        invented_rows(5).pairs("systolic"),
        reference_is="intra-arterial",
        converts_to="catheter in a pedal artery",
        species="cat",
        site="tail",
        technique="oscillometric",
        sedation="anaesthetised",
        study="Invented study",
        version="1",
        cuff_shares=(0.3, 0.4),
    )


def test_a_conversion_comes_back_to_the_last_digit(found: Conversion, tmp_path: Path) -> None:
    """And the same one gives the same bytes.

    Oracle: by construction; the committed schema.
    """
    text = conversion_text(found, invented=True)
    path = tmp_path / "tail.json"
    path.write_text(text, encoding="utf-8")
    again = read_conversion(path)
    assert again.conversion == found
    assert again.invented
    assert conversion_text(again.conversion, invented=True) == text
    assert faults("conversion", json.loads(text)) == []


@pytest.mark.parametrize(
    ("member", "value", "code"),
    [
        ("slope", 2.0, "conversion-changed"),
        ("schema", "quietlimb/read/1", "not-as-described"),
        ("df", "many", "not-as-described"),
        ("df", math.nan, "not-json"),
        ("low", -math.inf, "not-json"),
    ],
)
def test_a_changed_conversion_is_refused(
    found: Conversion, tmp_path: Path, member: str, value: object, code: str
) -> None:
    """Whoever edits it, edits its fingerprint away.

    Oracle: by construction.
    """
    told = json.loads(conversion_text(found, invented=False))
    told[member] = value
    path = tmp_path / "changed.json"
    path.write_text(json.dumps(told), encoding="utf-8")
    with pytest.raises(FileError) as caught:
        read_conversion(path)
    assert caught.value.code == code


@pytest.mark.parametrize("text", ["{}", "[1]", '{"schema": "quietlimb/read/1"}'])
def test_another_json_is_told_as_no_conversion(tmp_path: Path, text: str) -> None:
    """Not by what a schema lacks in it.

    Oracle: by construction.
    """
    path = tmp_path / "other.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FileError, match="this file is no conversion"):
        read_conversion(path)

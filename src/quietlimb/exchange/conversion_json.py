"""A conversion as a file: found in one study, of one version, used only where it is asked for by name."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, Final

from quietlimb.engine.conversion import Conversion
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.errors import FileError
from quietlimb.exchange.plan_json import fingerprint_of, read_json

CONVERSION: Final = "quietlimb/conversion/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class ConversionFile:
    """A conversion, the fingerprint of its file, and whether it rests on invented pairs."""

    conversion: Conversion
    fingerprint: str
    invented: bool


def conversion_text(conversion: Conversion, *, invented: bool) -> str:
    """A conversion as the text of its file, to the last digit; the same conversion gives the same bytes.

    invented : whether it rests on pairs that are made up or simulated
    """
    content: dict[str, Any] = {"schema": CONVERSION, **asdict(conversion), "invented": invented}
    content["cuff_shares"] = None if conversion.cuff_shares is None else list(conversion.cuff_shares)
    content["engine"] = ENGINE_VERSION
    told = {**content, "fingerprint": fingerprint_of(content)}
    return json.dumps(told, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def read_conversion(path: str | os.PathLike[str]) -> ConversionFile:
    """The conversion in a file.

    Raises
    ------
    FileError : no conversion, figures that cannot be, or changed since it was written (`conversion-changed`).
    """
    return conversion_of(read_json(path, "conversion"), path=path)


def conversion_of(told: Mapping[str, Any], *, path: str | os.PathLike[str]) -> ConversionFile:
    """The conversion that such an object tells, its schema checked before.

    path : where it came from, for what is said of an error

    Raises
    ------
    FileError : figures that cannot be, or changed since it was written (`conversion-changed`).
    """
    found = fingerprint_of({name: value for name, value in told.items() if name != "fingerprint"})
    if found != told["fingerprint"]:
        raise FileError(
            "conversion-changed",
            "the conversion was changed after it was written: its fingerprint does not fit",
            "use the file as it was written, or estimate the conversion anew",
            path=path,
        )
    values = {each.name: told[each.name] for each in fields(Conversion)}
    if values["cuff_shares"] is not None:
        values["cuff_shares"] = tuple(values["cuff_shares"])
    try:
        conversion = Conversion(**values)
    except QuietlimbError as error:
        raise FileError(error.code, error.says, error.remedy, path=path) from None
    return ConversionFile(conversion=conversion, fingerprint=found, invented=told["invented"])

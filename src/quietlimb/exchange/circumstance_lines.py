"""Circumstances as remarks "# key: value" in a file, such as the lines above a table."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import asdict
from datetime import date, datetime
from typing import Any, Final, get_args

from quietlimb.engine.circumstances import (
    CIRCUMSTANCE_NAMES,
    NUMERIC_CIRCUMSTANCES,
    SIMULATOR,
    Circumstances,
    Side,
    Site,
    Species,
)
from quietlimb.engine.errors import CircumstancesError, ParameterError
from quietlimb.engine.recording import HIGHEST_MMHG, LOWEST_MMHG, Cut, CutBy, CutEnd, Recording
from quietlimb.exchange.errors import quoted
from quietlimb.exchange.table import Decimals, Remark, Remarked

_WORDS = frozenset({"species", "site", "side", "position", "place", "method", "sedation"})
_DATE_REMEDY = "write date and time as 2026-11-25T10:30:00+01:00"
YEARS: Final = range(1900, 2200)  # the ends of the calendar cannot be carried over to UTC
_KEY = re.compile(r"[a-z][a-z0-9_]*")
_SIDED = re.compile(rf"({'|'.join(get_args(Side))})[\s-]+(\S.*)", re.IGNORECASE)
INVENTED_KEY: Final = "invented"  # with any text: what this file holds was made up
# Where the recording was cut off, and by what: the cuff pressure there [mmHg]. Where there is no such line it was not.
CUT_KEYS: Final[Mapping[str, tuple[CutBy, CutEnd]]] = {
    "sensor_cut_start_mmhg": ("sensor", "start"),
    "sensor_cut_end_mmhg": ("sensor", "end"),
    "capture_cut_end_mmhg": ("capture", "end"),
}
MISSPELT_FROM = 0.8  # likeness of a key to that of a circumstance, 0..1 [invented]
# One wrong letter makes a name of four letters less like itself than that, and would pass as a key of one's own.
SHORT_MISSPELT_FROM = 0.75
_SHORT_NAMES = tuple(name for name in CIRCUMSTANCE_NAMES if len(name) <= 4)
_OTHER_WORDS = frozenset({"size", "sire"})  # one letter from "site" and "side", and meant as they stand


def circumstances_of(
    file: Remarked, *, species: Species | None = None, defaults: Mapping[str, str | float] | None = None
) -> Circumstances:
    """The circumstances that a file tells, filled up from `defaults` where it is silent.

    Unknown keys are left out unless they look like a misspelt one; an empty value is not told. A site may say the side
    with it ("left forelimb"). A file with a line "# invented: ..." has the simulator as its instrument. The species
    must be told by the file or by `species`; where both tell it they must agree, because one of them is then about
    another animal.

    Raises
    ------
    FileError          : `species-missing`, `species-conflict`, `told-twice`, `misspelt-key`, `unknown-circumstance`,
                         `impossible-circumstance`, `not-a-number`, `not-a-date`, with the line.
    CircumstancesError : a default is at fault, not the file.
    """
    defaults = dict(defaults or {})
    unknown = set(defaults) - set(CIRCUMSTANCE_NAMES)
    if unknown:
        raise CircumstancesError(
            "unknown-circumstance",
            f"there is no circumstance {sorted(unknown)}",
            f"use {', '.join(CIRCUMSTANCE_NAMES)}",
        )
    started_at = defaults.get("started_at")
    if started_at is not None and not _is_date_and_time(str(started_at)):
        raise CircumstancesError("not-a-date", f"started_at is {started_at!r}", _DATE_REMEDY)
    if species is not None:
        defaults["species"] = species
    told = _told(file)
    values: dict[str, Any] = defaults | {key: _value(file, remark) for key, remark in told.items()}
    if "species" not in values:
        raise file.error(
            "species-missing",
            "the species is not told",
            f"give --species cat or --species dog, or add '# species: cat' or '# species: dog' as {file.remark_place}",
            None,
        )
    if species is not None and values["species"] != species:
        raise file.error(
            "species-conflict",
            f"the file says {quoted(values['species'])} and the option says '{species}'",
            "correct the line or leave the option out",
            told["species"].line,
        )
    if any(remark.key == INVENTED_KEY and remark.value for remark in file.remarks):
        values["instrument"] = SIMULATOR  # whatever else it says: what is made up must be known by it
    try:
        return Circumstances(**values)
    except CircumstancesError as error:
        # The sentence begins with the name of the circumstance at fault.
        name = error.says.split(" ", 1)[0]
        if name not in told:
            raise
        says, remedy = error.says, error.remedy
        if error.code == "unknown-circumstance":
            says = f"{name} is {quoted(told[name].value)}"  # as it was typed
            if name == "site" and _SIDED.fullmatch(told[name].value):
                remedy += "; the side has a line of its own, '# side: left' or '# side: right'"
        raise file.error(error.code, says, remedy, told[name].line) from None


def cuts_of(file: Remarked) -> tuple[Cut, ...]:
    """Where the file says that its recording was cut off; an empty value is not told.

    Raises
    ------
    FileError : `not-a-number`, `impossible-circumstance`, `told-twice`, with the line.
    """
    found: dict[CutEnd, Cut] = {}
    for remark in file.remarks:
        if remark.key not in CUT_KEYS or not remark.value:
            continue
        by, at = CUT_KEYS[remark.key]
        pressure = Decimals(file).number(remark.value, remark.key, remark.line)
        if not LOWEST_MMHG <= pressure <= HIGHEST_MMHG:
            raise file.error(
                "impossible-circumstance",
                f"{remark.key} is {pressure:g}",
                f"give a pressure between {LOWEST_MMHG:g} and {HIGHEST_MMHG:g} mmHg, or leave the line out",
                remark.line,
            )
        cut = Cut(at=at, by=by, pressure_mmhg=pressure)
        if found.setdefault(at, cut) != cut:
            raise file.error("told-twice", f"what cut the {at} is told twice", "keep one of the lines", remark.line)
    return tuple(found[at] for at in get_args(CutEnd) if at in found)


def recording_lines(recording: Recording, extra: Mapping[str, object] | None = None) -> list[str]:
    """`circumstance_lines` of a recording, with where it was cut off among the extra ones."""
    keys = {what: key for key, what in CUT_KEYS.items()}
    cuts = {keys[cut.by, cut.at]: cut.pressure_mmhg for cut in recording.cuts}
    return circumstance_lines(recording.circumstances, {**cuts, **(extra or {})})


def _told(file: Remarked) -> dict[str, Remark]:
    told: dict[str, Remark] = {}
    for remark in file.remarks:
        likely = likely_key(remark.key)
        if likely is not None and remark.value:
            raise file.error(
                "misspelt-key",
                f"there is no circumstance {quoted(remark.key)}",
                f"if you mean '{likely}', write '# {likely}: ...'; otherwise choose a key less like it",
                remark.line,
            )
        if remark.key in CIRCUMSTANCE_NAMES and remark.value:
            if remark.key in told and told[remark.key].value != remark.value:
                raise file.error("told-twice", f"{remark.key} is told twice", "keep one of the lines", remark.line)
            told.setdefault(remark.key, remark)
    return _with_side(file, told)


def _with_side(file: Remarked, told: dict[str, Remark]) -> dict[str, Remark]:
    """`told`, a side that was written with the site apart from it."""
    site = told.get("site")
    sided = _SIDED.fullmatch(site.value) if site is not None else None
    if site is None or sided is None or _word(sided[2]) not in get_args(Site):
        return told
    side = Remark(key="side", value=sided[1], line=site.line)
    if "side" in told and _word(told["side"].value) != _word(side.value):
        raise file.error(
            "told-twice",
            f"site is {quoted(site.value)} but side is {quoted(told['side'].value)}",
            "correct one of the lines",
            site.line,
        )
    return {**told, "site": Remark(key="site", value=sided[2], line=site.line), "side": side}


def likely_key(key: str) -> str | None:
    """The circumstance that an unknown key is probably meant for; None for a known key and for one of its own.

    A key that only adds a word to that of a circumstance, such as `animal_id`, says something else.
    """
    if key in CIRCUMSTANCE_NAMES or key in _OTHER_WORDS:
        return None
    for names, cutoff in ((CIRCUMSTANCE_NAMES, MISSPELT_FROM), (_SHORT_NAMES, SHORT_MISSPELT_FROM)):
        close = difflib.get_close_matches(key, names, n=3, cutoff=cutoff)
        # Of names equally near, the one whose letters only changed places.
        for name in sorted(close, key=lambda name: sorted(name) != sorted(key)):
            if not key.startswith(f"{name}_"):
                return name
    return None


def _value(file: Remarked, remark: Remark) -> str | float:
    key = remark.key
    if key in NUMERIC_CIRCUMSTANCES:
        return Decimals(file).number(remark.value, key, remark.line)
    if key in _WORDS:
        return _word(remark.value)
    if key == "started_at" and not _is_date_and_time(remark.value):
        raise file.error(
            "not-a-date",
            f"started_at is {quoted(remark.value)}",
            _DATE_REMEDY,
            remark.line,
        )
    return remark.value


def _word(text: str) -> str:
    return "-".join(text.lower().split())


def _is_date_and_time(text: str) -> bool:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return False
    try:
        date.fromisoformat(text)
    except ValueError:
        return moment.year in YEARS
    return False


def circumstance_lines(circumstances: Circumstances, extra: Mapping[str, object] | None = None) -> list[str]:
    """The lines that say what is known, then those of `extra` (keys of small letters, digits and underscores).

    Line ends and other signs that do not print become spaces: a value has one line.
    """
    extra = extra or {}
    for key in extra:
        if not _KEY.fullmatch(key) or key in CIRCUMSTANCE_NAMES or likely_key(key):
            raise ParameterError(
                "extra-key", f"{key!r} cannot be the key of an extra line", "use small letters, digits and underscores"
            )
    known = {key: value for key, value in asdict(circumstances).items() if value is not None}
    return [f"# {key}: {printed(value)}" for key, value in {**known, **extra}.items()]


def printed(value: object) -> str:
    """A value on one line: line ends and other signs that do not print become spaces."""
    text = repr(value) if isinstance(value, float) else str(value)
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())

"""Parts of an untrusted resource, each of the type that it must have, or an error that names the entry."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, NoReturn

from quietlimb.engine.units import mmhg_from_kpa
from quietlimb.exchange import fhir_codes as codes
from quietlimb.exchange.circumstance_lines import YEARS
from quietlimb.exchange.errors import BundleError, quoted
from quietlimb.exchange.readings_csv import LIMITS

LONGEST_TEXT: Final = 400
LONGEST_ADDRESS: Final = 500
_MOMENT: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")
_MMHG: Final = frozenset({"mm[Hg]", "mmHg", "mm Hg"})
_PER_MINUTE: Final = frozenset({"/min", "{beats}/min", "beats/min", "bpm"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A JSON object of a bundle, with the entry that it stands in."""

    held: dict[str, Any]
    entry: int
    kind: str

    def refuse(self, code: str, says: str, remedy: str) -> NoReturn:
        """Raise the error that names this entry."""
        raise BundleError(code, says, remedy, entry=self.entry, kind=self.kind)

    def _wrong(self, name: str, wanted: str) -> NoReturn:
        self.refuse("wrong-type", f"{name} is not {wanted}", "export the bundle again")

    def part(self, name: str) -> Part:
        """The object under a name; empty where there is none."""
        found = self.held.get(name, {})
        if not isinstance(found, dict):
            self._wrong(name, "an object")
        return Part(held=found, entry=self.entry, kind=self.kind)

    def parts(self, name: str) -> list[Part]:
        """The objects in the list under a name; empty where there is none."""
        found = self.held.get(name, [])
        if not isinstance(found, list) or not all(isinstance(each, dict) for each in found):
            self._wrong(name, "a list of objects")
        return [Part(held=each, entry=self.entry, kind=self.kind) for each in found]

    def text(self, name: str, longest: int = LONGEST_TEXT) -> str:
        """The text under a name; empty where there is none."""
        found = self.held.get(name, "")
        if not isinstance(found, str):
            self._wrong(name, "text")
        if len(found) > longest:
            self.refuse("too-long", f"{name} has {len(found)} letters", f"shorten it to {longest}")
        if any("\ud800" <= letter <= "\udfff" or letter == "\0" for letter in found):
            self.refuse("not-text", f"{name} holds what is no letter", "export the bundle again")
        return found

    def codings(self) -> list[tuple[str, str]]:
        """System and code of each coding of this concept."""
        return [(each.text("system"), each.text("code")) for each in self.parts("coding")]

    def codes_of(self, system: str) -> list[str]:
        """The codes of one system."""
        return [code for of, code in self.codings() if of == system]

    def words(self) -> str:
        """What a concept says as text: its own, or what stands beside a code."""
        return self.text("text") or next((each.text("display") for each in self.parts("coding")), "")

    def number(self, name: str) -> float | None:
        """The number under a name."""
        found = self.held.get(name)
        if found is None:
            return None
        # compared, not converted: an integer may be too large for any float, and no comparison holds for nan
        if isinstance(found, bool) or not isinstance(found, int | float) or not -1e9 < found < 1e9:
            self.refuse("not-a-number", f"{name} is not a number of a usual size", "export the bundle again")
        return float(found)

    def moment(self, name: str) -> datetime | None:
        """The time under a name, with its offset; None where there is none."""
        told = self.text(name)
        if not told:
            return None
        try:
            found = datetime.fromisoformat(told) if _MOMENT.fullmatch(told) else None
        except ValueError:
            found = None
        if found is None or found.year not in YEARS:
            self.refuse(
                "not-a-time",
                f"{name} is {quoted(told)}",
                "a reading needs date, time to the second and offset, as 2031-02-04T10:30:00+01:00",
            )
        return found

    def reference(self) -> str:
        """Where this reference leads; empty where it only shows a name."""
        return self.text("reference", LONGEST_ADDRESS)

    def references(self, name: str) -> tuple[str, ...]:
        """Where the references under a name lead."""
        return tuple(filter(None, (each.reference() for each in self.parts(name))))


def quantity(part: Part, name: str) -> float | None:
    """The number of a component, or of an observation that is one, in mmHg or /min; None where there is none."""
    has_value = [key for key in part.held if key.startswith("value")]
    spoken = name.replace("_", " ")
    if "dataAbsentReason" in part.held and has_value:
        part.refuse("told-twice", f"{spoken} has a value and a reason why it has none", "keep one of them")
    if not has_value:
        return None
    if has_value != ["valueQuantity"]:
        part.refuse("wrong-type", f"{spoken} is told as {has_value[0]}", "tell it as valueQuantity")
    told = part.part("valueQuantity")
    value = told.number("value")
    if value is None:
        part.refuse("not-a-number", f"{spoken} has a quantity without a number", "give the number")
    if "comparator" in told.held:
        part.refuse("inexact", f"{spoken} is only told as more or less than a number", "leave this reading out")
    unit = told.text("code") or told.text("unit")
    if name == "pulse_rate":
        known, factor = _PER_MINUTE, value
    elif unit == "kPa":
        known, factor = frozenset({"kPa"}), mmhg_from_kpa(value)
    else:
        known, factor = _MMHG, value
    if unit not in known:
        remedy = "give it in /min" if name == "pulse_rate" else "give it in mm[Hg] or kPa"
        part.refuse("unknown-unit", f"{spoken} is in {quoted(unit)}", remedy)
    lowest, highest = LIMITS[name]
    if not lowest.value <= factor <= highest.value:
        part.refuse(
            "out-of-range",
            f"{spoken} is {factor:g} {lowest.unit}, outside {lowest.value:g} to {highest.value:g}",
            "look at the record it comes from and correct the number",
        )
    return factor


def own_components(parts: Iterable[Part]) -> dict[str, Part]:
    """Components of our own by name."""
    return {name: part for part in parts for name in part.part("code").codes_of(codes.CIRCUMSTANCE)}

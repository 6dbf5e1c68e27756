"""A FHIR R4B bundle read back into sessions of one animal: ours to the last digit, a stranger's as far as it tells.

Nothing is guessed silently. What is left out, and what had to be taken for granted, is told in a sentence each; what
is wrong or impossible ends the reading with an error that names the entry. A value that somebody signed elsewhere is
told as theirs and never taken for one of this place.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any, Final, cast, get_args

from quietlimb.engine.circumstances import Circumstances, Position, Side, Site, Species, Technique
from quietlimb.engine.errors import CircumstancesError
from quietlimb.exchange import fhir_codes as codes
from quietlimb.exchange.circumstance_lines import YEARS
from quietlimb.exchange.errors import BundleError, quoted
from quietlimb.exchange.fhir_invariants import violations
from quietlimb.exchange.fhir_parts import LONGEST_ADDRESS, Part, own_components, quantity
from quietlimb.exchange.fhir_sessions import (
    OF_READING,
    OF_SESSION,
    BundleAnimal,
    BundleChange,
    BundleReading,
    BundleSession,
    BundleValue,
)

MOST_BYTES: Final = 8_000_000
MOST_ENTRIES: Final = 5_000
MOST_NOTICES: Final = 50
KINDS_OF_BUNDLE: Final = ("collection", "document", "searchset")
ONLY_IN_R5: Final = ("triggeredBy", "bodyStructure", "instantiatesReference")
_AGAIN = "export the bundle again"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBundle:
    """What was read. `is_ours`: the bundle says that Quietlimb wrote it; `invented`: that it is of no patient."""

    animal: BundleAnimal
    sessions: tuple[BundleSession, ...]
    notices: tuple[str, ...]
    is_ours: bool
    invented: bool


def read_bundle(content: bytes, *, species: Species | None = None) -> ReadBundle:
    """The sessions in the bytes of a bundle, from old to new.

    species : needed where the bundle does not tell it; where it does, they must agree

    Raises
    ------
    BundleError : whatever is wrong with it, with the entry wherever one is to blame.
    """
    bundle = _bundle(content)
    top = Part(held=bundle, entry=0, kind="Bundle")
    is_ours = _is_ours(bundle)
    if is_ours:
        broken = violations(bundle)
        if broken:
            says = f"this bundle was changed after it was written: {broken[0]}"
            raise BundleError("not-as-written", says, _AGAIN)
    addressed = _addressed(bundle)
    notices = _Notices()
    animal = _animal(addressed, species, notices)
    return ReadBundle(
        animal=animal,
        sessions=_Sessions(addressed, animal, notices).all(),
        notices=notices.told(),
        is_ours=is_ours,
        invented=_is_test(top) or any(_is_test(part) for part in addressed.entries),
    )


@dataclass(slots=True)
class _Notices:
    counted: Counter[str] = field(default_factory=Counter)

    def add(self, sentence: str) -> None:
        self.counted[sentence] += 1

    def told(self) -> tuple[str, ...]:
        said = [text if n == 1 else f"{text} ({n} times)" for text, n in self.counted.items()]
        rest = len(said) - MOST_NOTICES
        return tuple(said if rest <= 0 else [*said[:MOST_NOTICES], f"and {rest} more"])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Addressed:
    """Resources in order, and by every address that a reference may use; `keys` are what we call them."""

    entries: tuple[Part, ...]
    by_address: Mapping[str, int]
    keys: tuple[str, ...]

    def of_kind(self, kind: str) -> list[int]:
        return [n for n, part in enumerate(self.entries) if part.kind == kind]


def _bundle(content: bytes) -> dict[str, Any]:
    if len(content) > MOST_BYTES:
        raise BundleError(
            "too-large", f"the file has {len(content):,} bytes", f"export fewer sessions; at most {MOST_BYTES:,} bytes"
        )
    try:
        found = json.loads(content.decode("utf-8-sig"), parse_constant=_no_constant)
    except RecursionError:
        raise BundleError("too-deep", "lists and objects stand in each other far too deep", _AGAIN) from None
    except ValueError as error:
        where = f", line {error.lineno}" if isinstance(error, json.JSONDecodeError) else ""
        raise BundleError("not-json", f"this is no JSON in UTF-8{where}", "choose a FHIR bundle as JSON") from None
    if not isinstance(found, dict) or found.get("resourceType") != "Bundle":
        raise BundleError("not-a-bundle", "this is no FHIR bundle", "choose a file whose resourceType is Bundle")
    if found.get("type") not in KINDS_OF_BUNDLE:
        raise BundleError(
            "other-bundle",
            f"the bundle is of type {quoted(str(found.get('type'))[:100])}",
            f"export one of type {' or '.join(KINDS_OF_BUNDLE)}",
        )
    return found


def _no_constant(name: str) -> float:
    raise ValueError(name)


def _is_ours(bundle: dict[str, Any]) -> bool:
    tags = Part(held=bundle, entry=0, kind="Bundle").part("meta").parts("tag")
    versions = [tag.text("code") for tag in tags if tag.text("system") == codes.FORMAT]
    if versions and versions != [codes.FORMAT_VERSION]:
        raise BundleError(
            "newer-format", f"the bundle is in version {quoted(versions[0])} of ours", "read it with a newer Quietlimb"
        )
    return bool(versions)


def _is_test(part: Part) -> bool:
    """By its mark, or by the name of an animal: one may have been edited away, and the other is enough."""
    if part.kind == "Patient" and any(_is_invented_name(name.text("text")) for name in part.parts("name")):
        return True
    return any(mark.text("code") == codes.TEST_DATA for mark in part.part("meta").parts("security"))


def _is_invented_name(name: str) -> bool:
    return name.strip().casefold().startswith(codes.INVENTED_NAME.strip())


def _addressed(bundle: dict[str, Any]) -> _Addressed:
    entries = bundle.get("entry", [])
    if not isinstance(entries, list) or not entries:
        raise BundleError("empty", "there is no entry in the bundle", "choose a bundle with an animal and its readings")
    if len(entries) > MOST_ENTRIES:
        says = f"the bundle has {len(entries):,} entries"
        raise BundleError("too-many", says, f"export fewer sessions; at most {MOST_ENTRIES:,} entries")
    parts, keys = [], []
    by_address: dict[str, int] = {}
    for n, each in enumerate(entries, start=1):
        resource = each.get("resource") if isinstance(each, dict) else None
        kind = resource.get("resourceType") if isinstance(resource, dict) else None
        if not isinstance(resource, dict) or not isinstance(kind, str) or len(kind) > 64:
            raise BundleError("no-resource", "there is no resource in it", _AGAIN, entry=n)
        part = Part(held=resource, entry=n, kind=kind)
        key = part.text("id", 64)
        url = Part(held=each, entry=n, kind=kind).text("fullUrl", LONGEST_ADDRESS)
        for address in {url, f"{kind}/{key}" if key else ""} - {""}:
            if address in by_address:
                part.refuse("address-twice", f"{quoted(address)} stands twice", "give each entry an address of its own")
            by_address[address] = n - 1
        parts.append(part)
        keys.append(key or url or f"entry {n}")
    return _Addressed(entries=tuple(parts), by_address=by_address, keys=tuple(keys))


def _animal(addressed: _Addressed, species: Species | None, notices: _Notices) -> BundleAnimal:
    found = addressed.of_kind("Patient")
    if len(found) != 1:
        raise BundleError(
            "not-one-animal", f"the bundle has {len(found)} Patients", "export one animal at a time, with its Patient"
        )
    part, key = addressed.entries[found[0]], addressed.keys[found[0]]
    about = [each for each in part.parts("extension") if each.text("url") == codes.ANIMAL]
    told = {each.text("url"): each.part("valueCodeableConcept") for one in about for each in one.parts("extension")}
    if not about:
        notices.add("The bundle does not say that its patient is an animal; make sure that it is this one.")
    of = _species(part, told.get("species"))
    if of is None:
        if species is None:
            part.refuse("species-missing", "the species is not told", "say whether it is a cat or a dog")
        of = species
    elif species is not None and species != of:
        part.refuse(
            "species-conflict", f"the bundle is of a {of}, not of a {species}", "choose the bundle of this animal"
        )
    names = part.parts("name")
    name = names[0].text("text") if names else ""
    breed = told["breed"].words() if "breed" in told else ""
    numbers = [each.text("value") for each in part.parts("identifier") if each.text("value")]
    return BundleAnimal(
        key=key,
        species=of,
        name=name or None,
        breed=breed or None,
        sex=_sex(part, told.get("genderStatus")),
        born=_born(part, notices),
        number=numbers[0] if numbers else None,
    )


def _species(part: Part, concept: Part | None) -> Species | None:
    if concept is None:
        return None
    ours = concept.codes_of(codes.WORD)
    said = " ".join((ours[0] if ours else concept.words()).lower().split())
    if not said:
        return None
    found = codes.SPECIES_WORDS.get(said)
    if found is None:
        part.refuse("other-species", f"the species is {quoted(said)}", "only cats and dogs can be read")
    return cast(Species, found)


def _sex(part: Part, status: Part | None) -> str | None:
    gender = part.text("gender")
    if gender and gender not in codes.GENDERS:
        part.refuse("unknown-gender", f"gender is {quoted(gender)}", f"use {', '.join(sorted(codes.GENDERS))}")
    if gender not in ("male", "female"):
        return None
    neutered = status is not None and "neutered" in [code for _, code in status.codings()]
    return f"{gender} neutered" if neutered else gender


def _born(part: Part, notices: _Notices) -> date | None:
    told = part.text("birthDate")
    if not told:
        return None
    if len(told) in (4, 7):
        notices.add("The day of birth is told only to the year or month and was left out.")
        return None
    try:
        found = date.fromisoformat(told)
    except ValueError:
        found = None
    if found is None or len(told) != len("2031-02-04") or found.year not in YEARS:
        part.refuse("not-a-date", f"birthDate is {quoted(told)}", "write it as 2031-02-04")
    return found


class _Sessions:
    """Observations as sessions. A panel with members is a session; loose ones are sorted by their times."""

    def __init__(self, addressed: _Addressed, animal: BundleAnimal, notices: _Notices) -> None:
        self.addressed, self.animal, self.notices = addressed, animal, notices
        self.patient = addressed.of_kind("Patient")[0]
        self.readings: dict[int, BundleReading] = {}
        self.panels: list[int] = []
        self.told_of: dict[int, list[Part]] = {}  # Provenance by its targets, in the order of the bundle
        for part in (addressed.entries[n] for n in addressed.of_kind("Provenance")):
            for target in {addressed.by_address.get(each) for each in part.references("target")} - {None}:
                self.told_of.setdefault(cast(int, target), []).append(part)

    def all(self) -> tuple[BundleSession, ...]:
        others: Counter[str] = Counter()
        for n, part in enumerate(self.addressed.entries):
            if part.kind == "Observation":
                self._sort(n, part)
            elif part.kind not in ("Patient", "Device", "Provenance"):
                others[part.kind] += 1
        for kind, count in others.items():
            self.notices.add(f"{count} x {quoted(kind)} was left out.")
        taken: set[int] = set()
        found = [self._session(n, taken) for n in self.panels]
        found += self._loose([n for n in self.readings if n not in taken])
        if not found:
            raise BundleError("no-readings", "there is no blood pressure in the bundle", "export the readings with it")
        return tuple(sorted(found, key=lambda each: (each.started_at, each.key)))

    def _sort(self, n: int, part: Part) -> None:
        for name in ONLY_IN_R5:
            if name in part.held:
                part.refuse("other-release", f"{name} is of FHIR R5", "export it in R4 or R4B")
        concept = part.part("code")
        told = set(concept.codes_of(codes.LOINC))
        is_panel = codes.PANEL in told or bool(told & codes.OTHER_PANELS)
        if not is_panel and codes.SYSTOLIC not in told:
            average = bool(told & codes.AVERAGES)
            what = (
                "An average was left out; single readings are wanted."
                if average
                else "An observation that is no blood pressure was left out."
            )
            self.notices.add(what)
            return
        status = part.text("status")
        if status not in codes.STATUS:
            part.refuse("unknown-status", f"status is {quoted(status)}", f"use {', '.join(sorted(codes.STATUS))}")
        subject = part.part("subject").reference()
        if self.addressed.by_address.get(subject) != self.patient:
            part.refuse("other-subject", "its subject is not the Patient of the bundle", "export one animal at a time")
        is_session = "session" in concept.codes_of(codes.KIND) or bool(part.parts("hasMember"))
        struck = status == "entered-in-error"
        if not struck and status not in codes.COUNTS:
            self.notices.add(f"What is {status} was left out.")
        elif is_session and struck:
            self.notices.add("A session that was entered in error was left out; its readings are shown by themselves.")
        elif is_session:
            self.panels.append(n)
        else:
            reading = self._reading(n, part, struck=struck, is_panel=is_panel)
            if reading is not None:
                self.readings[n] = reading

    def _reading(self, n: int, part: Part, *, struck: bool, is_panel: bool) -> BundleReading | None:
        parts = part.parts("component")
        own = own_components(parts)
        values = _values(part, parts) if is_panel else {"systolic": quantity(part, "systolic")}
        set_aside = own["set-aside"].text("valueString") if "set-aside" in own else ""
        method = self._method(part)
        if method is None:
            return None
        if method == "doppler" and (values.get("mean") is not None or values.get("diastolic") is not None):
            part.refuse("not-by-doppler", "by Doppler only the systolic pressure is read", "leave the others out")
        if values["systolic"] is None and not set_aside:
            if not struck:
                self.notices.add("A reading without a systolic pressure was left out.")
            return None
        _refuse_order(part, values)
        taken_at = part.moment("effectiveDateTime") or part.part("effectivePeriod").moment("start")
        if taken_at is None:
            part.refuse(
                "no-time", "it does not say when it was taken", "give effectiveDateTime with seconds and offset"
            )
        series = own["series"].held.get("valueInteger") if "series" in own else None
        if series is not None and (type(series) is not int or not 0 < series < 1000):
            part.refuse("wrong-type", "series is not a small number", _AGAIN)
        around = self._circumstances(part, own, method)
        return BundleReading(
            key=self.addressed.keys[n],
            taken_at=taken_at,
            circumstances=around,
            series=series,
            set_aside=set_aside,
            struck=struck,
            **values,
        )

    def _method(self, part: Part) -> Technique | None:
        concept = part.part("method")
        ours, snomed = concept.codes_of(codes.WORD), concept.codes_of(codes.SNOMED)
        said = concept.words().lower()
        for method in get_args(Technique):
            if ours == [method] or codes.METHOD_CODES[method] in snomed or method[:7] in said:
                return cast(Technique, method)
        if concept.codings() or said:
            self.notices.add("A reading by another method than oscillometry or Doppler was left out.")
            return None
        self.notices.add("The method is not told and was taken for oscillometric.")
        return "oscillometric"

    def _circumstances(self, part: Part, own: Mapping[str, Part], method: Technique) -> Circumstances:
        side, site = _where(part)
        told: dict[str, Any] = {"site": site, "side": side, "position": _position(part), "method": method}
        told["instrument"] = self._instrument(part)
        performers = [each.text("display") for each in part.parts("performer")]
        told["read_by"] = next(filter(None, performers), None)
        told |= _own_values(own, OF_READING)
        return _made(part, {**self._of_animal(), **told})

    def _of_animal(self) -> dict[str, Any]:
        return {"species": self.animal.species, "animal": self.animal.name, "breed": self.animal.breed}

    def _instrument(self, part: Part) -> str | None:
        reference = part.part("device")
        n = self.addressed.by_address.get(reference.reference())
        if n is None or self.addressed.entries[n].kind != "Device":
            return reference.text("display") or None
        device = self.addressed.entries[n]
        names = [each.text("name") for each in device.parts("deviceName")]
        return next(filter(None, names), None) or device.text("modelNumber") or None

    def _session(self, n: int, taken: set[int]) -> BundleSession:
        part = self.addressed.entries[n]
        members = []
        for address in part.references("hasMember"):
            at = self.addressed.by_address.get(address)
            if at is None:
                part.refuse(
                    "no-such-entry", f"{quoted(address)} is not in the bundle", "export it with all its members"
                )
            if at in taken:
                part.refuse("member-twice", f"{quoted(address)} stands in a session already", "keep it in one of them")
            if at in self.readings:
                taken.add(at)
                members.append(self.readings[at])
        members.sort(key=lambda each: each.taken_at)
        period = part.part("effectivePeriod")
        first = members[0].taken_at if members else None
        started_at = period.moment("start") or part.moment("effectiveDateTime") or first
        if started_at is None:
            part.refuse("no-time", "it does not say when it was", "give effectivePeriod with seconds and offset")
        own = own_components(part.parts("component"))
        whole = {**self._of_animal(), **_own_values(own, OF_SESSION), "started_at": started_at.isoformat()}
        around = _made(part, whole)
        of_all = {name: getattr(around, name) for name in (*OF_SESSION, "started_at")}
        return BundleSession(
            key=self.addressed.keys[n],
            started_at=started_at,
            ended_at=period.moment("end"),
            circumstances=around,
            readings=tuple(replace(each, circumstances=replace(each.circumstances, **of_all)) for each in members),
            value=self._value(n, part),
        )

    def _value(self, n: int, part: Part) -> BundleValue | None:
        changes = []
        for told in self.told_of.get(n, ()):
            recorded, agents = told.moment("recorded"), told.parts("agent")
            if recorded is None or not agents:
                told.refuse("no-signature", "it does not say who or when", "give agent and recorded")
            by, why = agents[0].part("who").text("display"), told.parts("reason")
            changes.append(BundleChange(by=by or "not told", at=recorded, why=why[0].text("text") if why else ""))
        if not changes:
            return None
        values = _values(part, part.parts("component"))
        used = [self.addressed.by_address.get(each) for each in part.references("derivedFrom")]
        return BundleValue(
            systolic=values["systolic"],
            mean=values["mean"],
            diastolic=values["diastolic"],
            rule=part.part("method").text("text") or "not told",
            used=tuple(self.addressed.keys[at] for at in used if at is not None),
            signed=changes[0],
            amended=tuple(changes[1:]),
        )

    def _loose(self, which: Iterable[int]) -> list[BundleSession]:
        """Readings that no session has as members: those within an hour of the one before are of one session."""
        rows = sorted((self.readings[n] for n in which), key=lambda each: each.taken_at)
        groups: list[list[BundleReading]] = []
        gap = timedelta(minutes=codes.SESSION_GAP.value)
        for row in rows:
            if groups and row.taken_at - groups[-1][-1].taken_at <= gap:
                groups[-1].append(row)
            else:
                groups.append([row])
        if groups:
            minutes = f"{codes.SESSION_GAP.value:g}"
            self.notices.add(
                f"Readings that stand in no session were put together where {minutes} minutes or less lie between."
            )
        return [self._loose_session(group) for group in groups]

    def _loose_session(self, rows: list[BundleReading]) -> BundleSession:
        started_at: datetime = rows[0].taken_at
        around = Circumstances(**self._of_animal(), started_at=started_at.isoformat())
        return BundleSession(
            key=f"session of {rows[0].key}",
            started_at=started_at,
            ended_at=rows[-1].taken_at,
            circumstances=around,
            readings=tuple(
                replace(each, circumstances=replace(each.circumstances, started_at=around.started_at)) for each in rows
            ),
        )


def _values(part: Part, parts: Iterable[Part]) -> dict[str, float | None]:
    found: dict[str, float | None] = dict.fromkeys(codes.QUANTITY_CODES)
    seen = set()
    for each in parts:
        told = each.part("code").codes_of(codes.LOINC)
        for name, code in codes.QUANTITY_CODES.items():
            if code not in told:
                continue
            if name in seen:
                part.refuse("told-twice", f"{name.replace('_', ' ')} is told twice", "keep one of them")
            seen.add(name)
            found[name] = quantity(each, name)
    return found


def _refuse_order(part: Part, values: Mapping[str, float | None]) -> None:
    for lower, upper in (("mean", "systolic"), ("diastolic", "mean"), ("diastolic", "systolic")):
        low, high = values.get(lower), values.get(upper)
        if (
            low is not None
            and high is not None
            and (low > high or (low == high and upper != "mean" and lower != "mean"))
        ):
            part.refuse(
                "out-of-order",
                f"{lower} {low:g} mmHg is not below {upper} {high:g} mmHg",
                "check whether numbers were swapped or mistyped",
            )


def _where(part: Part) -> tuple[Side | None, Site | None]:
    concept = part.part("bodySite")
    ours = concept.codes_of(codes.WORD)
    said = " ".join((ours[0].replace("-", " ") if ours else concept.words()).lower().split())
    site: Site | None = next((of for word, of in codes.SITE_WORDS if word in said), None)
    if site is None:
        known = (codes.SITES_OF_CODES.get(code) for code in concept.codes_of(codes.SNOMED))
        site = next(filter(None, known), None)
    side = next((each for each in codes.SIDES if each in said.split()), None)
    return side, site


def _position(part: Part) -> Position | None:
    for each in part.parts("extension"):
        if each.text("url") != codes.BODY_POSITION:
            continue
        concept = each.part("valueCodeableConcept")
        for code in concept.codes_of(codes.WORD):
            if code in get_args(Position):
                return cast(Position, code)
        for code in concept.codes_of(codes.SNOMED):
            if code in codes.POSITIONS_OF_CODES:
                return codes.POSITIONS_OF_CODES[code]
    return None


def _own_values(own: Mapping[str, Part], names: Iterable[str]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name in names:
        part = own.get(name)
        if part is None:
            continue
        is_text = name in ("cuff", *OF_SESSION)
        found[name] = part.text("valueString") or None if is_text else part.part("valueQuantity").number("value")
    return found


def _made(part: Part, told: Mapping[str, Any]) -> Circumstances:
    try:
        return Circumstances(**told)
    except CircumstancesError as error:
        part.refuse(error.code, error.says, error.remedy)

"""Which sessions can be compared, and what sets the others apart.

Method, instrument, site and sedation must be the same; otherwise the history has a break, unless a conversion with its
uncertainty joins the parts. Another person, place, position or cuff is no break: it is marked, and widens the interval
by an offset that all sessions of the same kind share. A sedated session stays out.

Cuffs are compared as `standards.cuff_width` does: by how their width fits the limb, by their width, or by their names.

A site or an instrument that is not told is taken for the one that is, if the other sessions by the same method tell
only one; that is marked too.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.follow_up import priors
from quietlimb.engine.follow_up.history import History, PastSession
from quietlimb.engine.interpretation.urgency import need
from quietlimb.engine.standards.cuff_width import OTHER_CUFF_SD, cuffs_compared
from quietlimb.engine.values import Cited

BREAKING = ("method", "instrument", "site")
MARKED: Mapping[str, Cited] = {
    "place": priors.OTHER_PLACE_SD,
    "position": priors.OTHER_POSITION_SD,
    "cuff": OTHER_CUFF_SD,
    "read_by": priors.OTHER_PERSON_SD,
}
Key = tuple[str | None, ...]
NOT_TOLD = "not told"
CONVERTED = "converted"


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """What some sessions of a stretch have in common and the usual ones have not.

    circumstance : in which they differ, or `converted`
    value        : theirs, or `not told`
    mean_mmhg    : what it adds to the pressure as measured, as far as known [mmHg]
    sd_mmhg      : how far that is uncertain [mmHg]
    """

    circumstance: str
    value: str
    mean_mmhg: float
    sd_mmhg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Sessions that can be compared, in the order of their days.

    measured : (method, instrument, site) that they share; None where never told
    usual    : the commonest value of each marked circumstance, the latest where several are equally common
    untold   : marked circumstances in which some sessions differ and others do not tell; those are taken for the usual
    offsets  : for each session those that apply to it
    """

    sessions: tuple[PastSession, ...]
    measured: Key
    usual: Mapping[str, str]
    untold: tuple[str, ...]
    offsets: tuple[tuple[Offset, ...], ...]

    @property
    def last_day(self) -> int:
        """Day of the latest session."""
        return self.sessions[-1].day

    @property
    def measured_as_told(self) -> Key:
        """The same as `measured`, spelt as the latest session that tells it has it."""
        return tuple(
            next(
                (
                    str(getattr(s.circumstances, name))
                    for s in reversed(self.sessions)
                    if _folded(s.circumstances, name) == value
                ),
                value,
            )
            for name, value in zip(BREAKING, self.measured, strict=True)
        )

    @property
    def middle_own_sd(self) -> float:
        """Own standard deviation of the session that is in the middle in that [mmHg]."""
        return median(session.own_sd_mmhg for session in self.sessions)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """The history by what can be compared.

    stretches : the one with the latest session last; that is the one that the present is judged by. Of several with a
                session of that day it is the one with more sessions, then the one whose session asks for more
    left_out  : sedated and anaesthetised sessions
    """

    stretches: tuple[Stretch, ...]
    left_out: tuple[PastSession, ...]

    @property
    def breaks(self) -> tuple[str, ...]:
        """The circumstances in which the stretches differ."""
        keys = [stretch.measured for stretch in self.stretches]
        return tuple(name for k, name in enumerate(BREAKING) if len({key[k] for key in keys}) > 1)


def compare_sessions(history: History) -> Comparison:
    """The sessions sorted into stretches of which each can be compared.

    Raises
    ------
    ParameterError : a conversion where there is nothing to convert to (`nothing-to-convert-to`), two conversions for
                     the same way of measuring (`conversions-differ`), or one for sessions that can be compared as they
                     stand (`conversion-not-needed`).
    """
    awake = [session for session in history.sessions if session.awake]
    keys, assumed = _keys(awake)
    groups: dict[Key, list[int]] = {}
    converted: dict[Key, list[int]] = {}
    for k, session in enumerate(awake):
        (groups if session.conversion is None else converted).setdefault(keys[k], []).append(k)
    if converted:
        _join(awake, groups, converted)
    stretches = [_stretch(awake, key, sorted(members), keys, assumed) for key, members in groups.items()]
    return Comparison(
        stretches=tuple(sorted(stretches, key=_bearing_on_the_present)),
        left_out=tuple(session for session in history.sessions if not session.awake),
    )


def _bearing_on_the_present(stretch: Stretch) -> tuple[int, int, tuple[bool, float]]:
    asks_most = max(need(session.systolic_mmhg) for session in stretch.sessions if session.day == stretch.last_day)
    return stretch.last_day, len(stretch.sessions), asks_most


def _join(awake: Sequence[PastSession], groups: dict[Key, list[int]], converted: Mapping[Key, list[int]]) -> None:
    if not groups:
        raise ParameterError(
            "nothing-to-convert-to",
            "every session is converted",
            "leave the conversion out where the pressure was measured as it is now",
        )
    latest = max(groups, key=lambda key: groups[key][-1])
    for key, members in converted.items():
        if len({awake[k].conversion for k in members}) > 1:
            raise ParameterError(
                "conversions-differ",
                f"sessions {_spoken(key)} have different conversions",
                "one way of measuring has one conversion: give each of its sessions the same",
            )
        if key == latest:
            raise ParameterError(
                "conversion-not-needed",
                f"sessions {_spoken(key)} are converted, but the latest one was measured in the same way",
                "leave the conversion out, or tell in what they differ",
            )
        groups[latest] += members


def _spoken(key: Key) -> str:
    return "with " + ", ".join(f"{name} {value or NOT_TOLD}" for name, value in zip(BREAKING, key, strict=True))


def _folded(circumstances: Circumstances, name: str) -> str | None:
    value = getattr(circumstances, name)
    return None if value is None else " ".join(str(value).casefold().split())


def _keys(sessions: Sequence[PastSession]) -> tuple[list[Key], list[tuple[str, ...]]]:
    """What each was measured with, and the names of what had to be assumed for it."""
    told: dict[tuple[str | None, str], set[str]] = {}
    for session in sessions:
        for name in BREAKING:
            value = _folded(session.circumstances, name)
            if value is not None:
                told.setdefault((session.circumstances.method, name), set()).add(value)
    keys, assumed = [], []
    for session in sessions:
        key, guessed = [], []
        for name in BREAKING:
            value = _folded(session.circumstances, name)
            known = told.get((session.circumstances.method, name), set())
            if value is None and len(known) == 1:
                value = next(iter(known))
                guessed.append(name)
            key.append(value)
        keys.append(tuple(key))
        assumed.append(tuple(guessed))
    return keys, assumed


def _stretch(
    awake: Sequence[PastSession],
    key: Key,
    members: Sequence[int],
    keys: Sequence[Key],
    assumed: Sequence[tuple[str, ...]],
) -> Stretch:
    sessions = [awake[k] for k in members]
    told = {name: [_folded(session.circumstances, name) for session in sessions] for name in MARKED}
    told["cuff"] = cuffs_compared([session.circumstances for session in sessions])
    usual = {name: value for name in MARKED if (value := _commonest(told[name])) is not None}
    offsets = []
    for at, (k, session) in enumerate(zip(members, sessions, strict=True)):
        found = [
            Offset(circumstance=name, value=NOT_TOLD, mean_mmhg=0.0, sd_mmhg=priors.NOT_TOLD_SD.value)
            for name in assumed[k]
        ]
        for name, cited in MARKED.items():
            value = told[name][at]
            if value is not None and value != usual[name]:
                found.append(Offset(circumstance=name, value=value, mean_mmhg=0.0, sd_mmhg=cited.value))
        if session.conversion is not None:
            carried = session.conversion
            found.append(
                Offset(
                    circumstance=CONVERTED,
                    value=_spoken(keys[k]),
                    mean_mmhg=-carried.add_mmhg,
                    sd_mmhg=carried.sd_mmhg,
                )
            )
        offsets.append(tuple(found))
    untold = tuple(name for name, values in told.items() if None in values and len(set(values)) > 2)
    return Stretch(sessions=tuple(sessions), measured=key, usual=usual, untold=untold, offsets=tuple(offsets))


def _commonest(told: Sequence[str | None]) -> str | None:
    values = [value for value in told if value is not None]
    if not values:
        return None
    counts = Counter(values)
    most = max(counts.values())
    return next(value for value in reversed(values) if counts[value] == most)

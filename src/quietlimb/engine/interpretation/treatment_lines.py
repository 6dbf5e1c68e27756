"""Whether sessions reach a published line from which treatment is to be considered.

A line that asks for damaged organs counts only where damage was found: not examined is never damage, nor its absence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from quietlimb.engine.interpretation.interpretation import Organ, TreatmentSays
from quietlimb.engine.standards.rule_set import OrganCondition, TreatmentLine


@dataclass(frozen=True, slots=True, kw_only=True)
class LineMet:
    """How the sessions stand to the lines.

    line  : the one that decides; the lowest of those open to these organs where none is reached, None without lines
    count : sessions running, up to the last, that reach it
    """

    says: TreatmentSays
    line: TreatmentLine | None
    count: int


def organs_allow(condition: OrganCondition, damaged: frozenset[Organ]) -> bool:
    """Whether what was found in the organs meets what a line asks of them."""
    if condition == "eyes":
        return "eyes" in damaged
    if condition == "eyes or brain":
        return bool(damaged & {"eyes", "brain"})
    return bool(damaged) if condition == "any organ" else True


def running(line: TreatmentLine, systolic_mmhg: Sequence[float]) -> int:
    """How many sessions running, the last included, reach a line."""
    count = 0
    for value in reversed(systolic_mmhg):
        if not line.reached(value):
            break
        count += 1
    return count


def line_met(
    lines: Sequence[TreatmentLine],
    systolic_mmhg: Sequence[float],
    damaged: frozenset[Organ],
    *,
    persistent: bool = True,
) -> LineMet:
    """The best that any line says of these sessions.

    Parameters
    ----------
    systolic_mmhg : of the untreated sessions on separate days, the oldest first. [mmHg]
    damaged       : organs with new or progressing damage.
    persistent    : whether the sessions lie far enough apart for a line that asks for more than one.
    """
    open_to = sorted(
        (line for line in lines if organs_allow(line.organs, damaged)), key=lambda line: line.from_mmhg.value
    )
    reached = [line for line in open_to if running(line, systolic_mmhg)]
    for line in sorted(reached, key=lambda line: line.sessions.value):
        count = running(line, systolic_mmhg)
        if count >= line.sessions.value and (line.sessions.value <= 1 or persistent):
            return LineMet(says="reached", line=line, count=count)
    if reached:
        line = min(reached, key=lambda line: line.sessions.value)
        return LineMet(says="when confirmed", line=line, count=running(line, systolic_mmhg))
    return LineMet(says="not reached", line=open_to[0] if open_to else None, count=0)

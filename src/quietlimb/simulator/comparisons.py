"""A simulated comparison: several animals, each with a cuff and a catheter, several readings each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Unpack

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.animals import draw_animal
from quietlimb.simulator.beats import draw_beats
from quietlimb.simulator.catheter_line import CatheterLine
from quietlimb.simulator.draws import Seed, streams
from quietlimb.simulator.recordings import SimulatedRecording
from quietlimb.simulator.sensor import TRACE_HZ
from quietlimb.simulator.sessions import simulate_session
from quietlimb.simulator.subjects import Settings

Samples = NDArray[np.float64]

TWO_CHANNEL_HZ = 250.0  # fewer samples cannot hold how a line rings
BETWEEN_SD_MMHG = 8.0  # of an animal under anaesthesia whose depth changes [invented]
GOOD_LINE = CatheterLine(natural_hz=40.0, damping=0.55)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedDetermination:
    """One reading of one animal, with what the catheter told meanwhile.

    animal, occasion : counted from 1
    told_mmhg        : (n,) by the transducer, at the samples of the recording [mmHg]
    """

    animal: int
    occasion: int
    made: SimulatedRecording
    told_mmhg: Samples


def simulate_comparison(
    seed: Seed,
    *,
    animals: int = 8,
    readings: int = 5,
    species: Species | None = None,
    family: str | None = None,
    scenario: str = "undisturbed",
    line: CatheterLine = GOOD_LINE,
    **settings: Unpack[Settings],
) -> Iterator[SimulatedDetermination]:
    """The determinations of a comparison, animal by animal; the truth moves between the readings of an animal.

    Parameters
    ----------
    species : of all animals; one is drawn for all of them where it is None, for agreement in one says nothing of
              another. A site is drawn for each animal where `settings` name none.

    Raises
    ------
    ParameterError : fewer than one animal or reading, or as for `simulate_session`.
    """
    if animals < 1 or readings < 1:
        raise ParameterError(
            "impossible-comparison", f"{animals} animals with {readings} readings", "give 1 or more of each"
        )
    if scenario == "empty-cuff":
        raise ParameterError("impossible-comparison", "an empty cuff has no artery", "choose another scenario")
    settings.setdefault("sampling_hz", TWO_CHANNEL_HZ)
    *of_animals, of_species = streams(seed, animals + 1)
    if species is None:
        species = "cat" if of_species.uniform() < 0.5 else "dog"
    for k, rng in enumerate(of_animals, start=1):
        session = simulate_session(
            rng,
            species=species,
            family=family,
            readings=readings,
            scenario=scenario,
            between_sd_mmhg=BETWEEN_SD_MMHG,
            **settings,
        )
        for occasion, made in enumerate(session.recordings, start=1):
            told = line.tells(made.arterial_mmhg, TRACE_HZ)
            at = np.arange(told.size) / TRACE_HZ
            yield SimulatedDetermination(
                animal=k, occasion=occasion, made=made, told_mmhg=np.interp(made.recording.time_s, at, told)
            )


def simulate_flush(
    seed: Seed, *, line: CatheterLine = GOOD_LINE, species: Species = "cat", flushes: int = 2
) -> tuple[Samples, Samples]:
    """Times [s] and what the transducer tells [mmHg] while the line is flushed, a second each time, five apart."""
    for_animal, for_beats = streams(seed, 2)
    animal = draw_animal(for_animal, species)
    duration_s = 5.0 * (flushes + 1)
    beats = draw_beats(for_beats, animal, duration_s)
    time = np.arange(int(duration_s * TRACE_HZ)) / TRACE_HZ
    spans = tuple((5.0 * (k + 1), 5.0 * (k + 1) + 1.0) for k in range(flushes))
    every = round(TRACE_HZ / TWO_CHANNEL_HZ)
    return time[::every], line.tells(beats.pressure(time), TRACE_HZ, spans)[::every]

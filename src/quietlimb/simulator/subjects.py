"""Who is measured with what: an animal, its limb under one cuff, and the sensor. A session keeps all three."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypedDict, get_args

import numpy as np

from quietlimb.engine.circumstances import Site, Species
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.animals import Animal, draw_animal
from quietlimb.simulator.arteries import DRAWN_FAMILIES, FAMILIES
from quietlimb.simulator.cuff import CONTACT_MMHG, CuffedLimb, limb_with_peak_height, peak_height
from quietlimb.simulator.cuff_course import Deflation, Inflation
from quietlimb.simulator.draws import Seed, log_uniform, streams
from quietlimb.simulator.pulse_shape import PulseShape
from quietlimb.simulator.sensor import Sensor, draw_sensor

PEAK_OFFSET_SD_MMHG = 2.0
LOWEST_PEAK_MMHG, HIGHEST_PEAK_MMHG = 0.2, 4.0
# Where most peaks of the species lie; the other sixth is spread over the whole range.
_USUAL_PEAK_MMHG = {"cat": (0.3, 1.5), "dog": (0.5, 3.0)}


# What a limb, a wall and a sensor could be at all; wider than anything that is drawn.
_POSSIBLE = {
    "peak_height_mmhg": (0.01, 10.0),
    "peak_to_noise": (0.5, 1e6),
    "peak_offset": (-30.0, 30.0),
    "transmission": (0.5, 1.2),
    "lag_s": (0.0, 0.5),
    "contact_mmhg": (1.0, 60.0),
    "peak_height_share": (0.05, 2.0),
    "cuff_width_share": (0.05, 1.0),
    "leak_mmhg_per_s": (0.0, 10.0),
    "drift_mmhg": (-60.0, 60.0),
}


class Settings(TypedDict, total=False):
    """What may be chosen instead of drawn. All else stays as the seed draws it.

    peak_height_mmhg : of an ordinary beat at the most favourable steady cuff pressure
    peak_to_noise    : that height over the standard error of a pulse height; sets the sensor's noise
    peak_offset      : p0, transmural pressure of greatest compliance [mmHg]
    peak_height_share: what is left of the drawn height where none is given
    transmission     : share of the cuff pressure that reaches the artery
    contact_mmhg     : cuff pressure below which the cuff passes hardly a pulse on
    cuff_width_share : width of the cuff over the circumference of the limb
    lag_s            : time constant of the viscoelastic wall [s]
    drift_mmhg       : change of the arterial level from begin to end of the recording
    start_mmhg, stop_mmhg : cuff pressure at the ends of the deflation
    step_mmhg, step_s     : size and length of the steps
    leak_mmhg_per_s       : what the cuff loses beside the valve
    """

    systolic: float
    diastolic: float
    pulse_rate: float
    shape: PulseShape
    site: Site
    cuff_width_share: float
    peak_height_mmhg: float
    peak_height_share: float
    peak_to_noise: float
    peak_offset: float
    transmission: float
    lag_s: float
    contact_mmhg: float
    drift_mmhg: float
    start_mmhg: float
    stop_mmhg: float
    inflation: Inflation
    deflation: Deflation
    deflation_mmhg_per_s: float
    step_mmhg: float
    step_s: float
    leak_mmhg_per_s: float
    sampling_hz: float
    noise_mmhg: float
    quantum_mmhg: float
    anti_alias: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Subject:
    """An animal, its limb under this cuff, and the sensor on the tube."""

    animal: Animal
    limb: CuffedLimb
    sensor: Sensor

    @property
    def peak_height_mmhg(self) -> float:
        """Height of an ordinary beat at the most favourable steady cuff pressure [mmHg]."""
        return peak_height(self.limb, self.animal)

    @property
    def height_sd_mmhg(self) -> float:
        """Standard error of one pulse height from the sensor alone [mmHg].

        That of a least-squares fit of height, level and slope to a pulse shaped like the arterial one.
        """
        samples = self.sensor.sampling_hz * self.animal.period_s
        return self.sensor.sample_sd_mmhg / float(np.sqrt(samples * self.animal.shape.spread))


def draw_subject(
    seed: Seed, *, species: Species | None = None, family: str | None = None, settings: Settings | None = None
) -> Subject:
    """A subject; species and artery family (of `DRAWN_FAMILIES`) are drawn where they are not named.

    Peak offset N(0, 2) mmHg, transmission 0.98..1 along a fitting cuff, wall lag 5..40 ms, peak height 0.2..4 mmHg
    (ranges invented).
    """
    chosen = settings or Settings()
    for_kind, for_animal, for_limb, for_sensor = streams(seed, 4)
    drawn_species: Species = "cat" if for_kind.uniform() < 0.5 else "dog"
    drawn_family = DRAWN_FAMILIES[int(for_kind.integers(len(DRAWN_FAMILIES)))]
    species, family = species or drawn_species, family or drawn_family
    if species not in get_args(Species):
        raise ParameterError("unknown-species", f"species is {species!r}", "use cat or dog")
    if family not in FAMILIES:
        raise ParameterError(
            "unknown-family", f"there is no artery family {family!r}", f"use one of: {', '.join(FAMILIES)}"
        )

    for name, (least, most) in _POSSIBLE.items():
        value = chosen.get(name)
        if isinstance(value, int | float) and not least <= value <= most:
            raise ParameterError("impossible-setting", f"{name} is {value:g}", f"give {least:g} to {most:g}")

    animal = draw_animal(
        for_animal,
        species,
        systolic=chosen.get("systolic"),
        diastolic=chosen.get("diastolic"),
        pulse_rate=chosen.get("pulse_rate"),
        shape=chosen.get("shape"),
        site=chosen.get("site"),
        cuff_width_share=chosen.get("cuff_width_share"),
    )
    low, high = _USUAL_PEAK_MMHG[species]
    usual, unusual = log_uniform(for_limb, low, high), log_uniform(for_limb, LOWEST_PEAK_MMHG, HIGHEST_PEAK_MMHG)
    drawn_height = usual if for_limb.uniform() < 5.0 / 6.0 else unusual
    height = chosen.get("peak_height_mmhg", chosen.get("peak_height_share", 1.0) * drawn_height)
    offset = float(for_limb.normal(0.0, PEAK_OFFSET_SD_MMHG))
    transmission = float(for_limb.uniform(0.98, 1.0))
    lag_s = float(for_limb.uniform(0.005, 0.040))
    limb = limb_with_peak_height(
        animal,
        FAMILIES[family].draw(for_limb),
        peak_height_mmhg=height,
        transmission=chosen.get("transmission", transmission),
        peak_offset=chosen.get("peak_offset", offset),
        lag_s=chosen.get("lag_s", lag_s),
        contact_mmhg=chosen.get("contact_mmhg", CONTACT_MMHG),
    )
    sensor = draw_sensor(
        for_sensor,
        sampling_hz=chosen.get("sampling_hz"),
        noise_mmhg=chosen.get("noise_mmhg"),
        quantum_mmhg=chosen.get("quantum_mmhg"),
        anti_alias=chosen.get("anti_alias", True),
    )
    if "peak_to_noise" in chosen:
        sensor = _sensor_with_noise(sensor, animal, height / chosen["peak_to_noise"])
    return Subject(animal=animal, limb=limb, sensor=sensor)


def _sensor_with_noise(sensor: Sensor, animal: Animal, height_sd_mmhg: float) -> Sensor:
    """The sensor with the noise that gives a pulse height this standard error; rounding makes up a quarter at most."""
    variance = height_sd_mmhg**2 * sensor.sampling_hz * animal.period_s * animal.shape.spread
    quantum = min(sensor.quantum_mmhg, float(np.sqrt(0.25 * 12.0 * variance)))
    return Sensor(
        sampling_hz=sensor.sampling_hz,
        noise_mmhg=float(np.sqrt(variance - quantum**2 / 12.0)),
        quantum_mmhg=quantum,
        anti_alias=sensor.anti_alias,
    )

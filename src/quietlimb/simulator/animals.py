"""The animal on the table: its pressures, its pulse and its limb.

Ranges are invented, to span what cats and dogs show rather than to match a survey, unless a source stands beside them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from quietlimb.engine.circumstances import Circumstances, Position, Site, Species
from quietlimb.engine.errors import ParameterError
from quietlimb.simulator.draws import log_uniform, truncated_normal
from quietlimb.simulator.pulse_shape import PulseShape, draw_pulse_shape

LOWEST_SYSTOLIC_MMHG, HIGHEST_SYSTOLIC_MMHG = 80.0, 240.0
NARROWEST_PULSE_MMHG, WIDEST_PULSE_MMHG = 20.0, 95.0
REMARK = "Simulated with a known truth. Not a patient's: never chart it for one."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Animal:
    """An animal and the width of its cuff.

    systolic, diastolic   : mmHg, the level about which its beats vary
    pulse_rate            : /min
    breaths               : /min
    limb_circumference_cm : at the middle of the cuff [cm]
    """

    species: Species
    systolic: float
    diastolic: float
    pulse_rate: float
    breaths: float
    shape: PulseShape
    site: Site
    position: Position
    limb_circumference_cm: float
    cuff_width_cm: float

    def __post_init__(self) -> None:
        if not 30.0 <= self.systolic <= 280.0 or not 10.0 <= self.diastolic <= self.systolic - 5.0:
            raise ParameterError(
                "impossible-animal",
                f"systolic {self.systolic:g} with diastolic {self.diastolic:g} mmHg",
                "give a systolic of 30 to 280 mmHg and a diastolic of 10 mmHg or more, at least 5 below it",
            )
        if not 40.0 <= self.pulse_rate <= 300.0:
            raise ParameterError(
                "impossible-animal", f"pulse rate {self.pulse_rate:g} per minute", "give 40 to 300 per minute"
            )

    @property
    def pulse_pressure(self) -> float:
        """Systolic minus diastolic [mmHg]."""
        return self.systolic - self.diastolic

    @property
    def mean(self) -> float:
        """Time mean of an ordinary beat [mmHg]."""
        return self.diastolic + self.shape.form_factor * self.pulse_pressure

    @property
    def period_s(self) -> float:
        """Time from beat to beat [s]."""
        return 60.0 / self.pulse_rate

    @property
    def circumstances(self) -> Circumstances:
        """Circumstances that say plainly that nothing here is a patient's."""
        return Circumstances(
            species=self.species,
            animal=f"simulated {self.species}",
            site=self.site,
            position=self.position,
            instrument="simulator",
            cuff=f"simulated cuff {self.cuff_width_cm:g} cm",
            cuff_width_cm=self.cuff_width_cm,
            limb_circumference_cm=self.limb_circumference_cm,
            sedation="awake",
            remarks=REMARK,
        )


def draw_animal(
    rng: np.random.Generator,
    species: Species,
    *,
    systolic: float | None = None,
    diastolic: float | None = None,
    pulse_rate: float | None = None,
    shape: PulseShape | None = None,
    site: Site | None = None,
    cuff_width_share: float | None = None,
) -> Animal:
    """An animal of this species; what is given is kept, everything else is drawn the same with or without it.

    Systolic 80..240 mmHg about 150 (cat) or 145 (dog), SD 30; pulse pressure 0.20..0.48 of it, held to 20..95 mmHg;
    pulse rate 110..260 (cat) or 50..200 (dog) per minute. The cuff is 0.35 as wide as the limb is round, to the
    nearest half centimetre, or `cuff_width_share` of it, to the nearest millimetre.
    """
    cat = species == "cat"
    drawn_systolic = truncated_normal(rng, 150.0 if cat else 145.0, 30.0, LOWEST_SYSTOLIC_MMHG, HIGHEST_SYSTOLIC_MMHG)
    pulse_share = float(rng.uniform(0.20, 0.48))
    # The centres lean on cats restrained or in hospital (187, 150 per minute; Abbott 2005).
    drawn_rate = (
        truncated_normal(rng, 180.0, 35.0, 110.0, 260.0) if cat else truncated_normal(rng, 115.0, 35.0, 50.0, 200.0)
    )
    drawn_shape = draw_pulse_shape(rng)
    breaths = log_uniform(rng, 25.0, 70.0) if cat else log_uniform(rng, 15.0, 45.0)
    sites: tuple[Site, ...] = ("forelimb", "hindlimb", "tail")
    drawn_site = sites[int(rng.choice(3, p=(0.5, 0.15, 0.35) if cat else (0.5, 0.25, 0.25)))]
    positions: tuple[Position, ...] = (
        ("chest-down", "side-lying", "on-lap") if cat else ("chest-down", "side-lying", "standing")
    )
    position = positions[int(rng.choice(3, p=(0.5, 0.25, 0.25)))]
    circumference = round(float(rng.uniform(5.5, 9.0)) if cat else log_uniform(rng, 6.0, 20.0), 1)

    chosen_systolic = drawn_systolic if systolic is None else systolic
    pulse_pressure = float(np.clip(chosen_systolic * pulse_share, NARROWEST_PULSE_MMHG, WIDEST_PULSE_MMHG))
    return Animal(
        species=species,
        systolic=chosen_systolic,
        diastolic=chosen_systolic - pulse_pressure if diastolic is None else diastolic,
        pulse_rate=drawn_rate if pulse_rate is None else pulse_rate,
        breaths=breaths,
        shape=drawn_shape if shape is None else shape,
        site=site or drawn_site,
        position=position,
        limb_circumference_cm=circumference,
        cuff_width_cm=(
            round(2.0 * 0.35 * circumference) / 2.0
            if cuff_width_share is None
            else round(cuff_width_share * circumference, 1)
        ),
    )

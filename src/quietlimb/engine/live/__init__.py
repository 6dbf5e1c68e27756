"""Live: what is known while the cuff pressure falls, and what to say now."""

from quietlimb.engine.live.moment import Finished, Moment, Phase
from quietlimb.engine.live.watch import Watch

__all__ = ["Finished", "Moment", "Phase", "Watch"]

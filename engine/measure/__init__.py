"""How a skin is learnt: by callipers, probe, photographs and scan; each way gives one `Measured`."""

from engine.measure.measured import Measured, Readings, even_angles

__all__ = ["Measured", "Readings", "even_angles"]

"""Numbers read off runs: pulses and their terms, holds, thresholds, recovery. Imports up to `engine`."""

from tickwright.measure.measuring import Measurement, measure, measure_with_findings
from tickwright.measure.pulses import Pulse, duties, periods, pulses, separations

__all__ = ["Measurement", "Pulse", "duties", "measure", "measure_with_findings", "periods", "pulses", "separations"]

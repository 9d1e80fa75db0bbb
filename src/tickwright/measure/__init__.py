"""Numbers read off traces: pulses and their terms. Imports the leaves, `rules`, `plan` and `engine`."""

from tickwright.measure.pulses import Pulse, duties, periods, pulses, separations

__all__ = ["Pulse", "duties", "periods", "pulses", "separations"]

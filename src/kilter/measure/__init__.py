"""Values as a bench knows them: quantities, units, uncertainty, notation and instruments."""

from kilter.measure.errors import BadInput, KilterError, NotAvailable, OutOfRange
from kilter.measure.instruments import Instrument, instrument
from kilter.measure.measured import Measured, engineering
from kilter.measure.notation import possible_readings, read_quantity
from kilter.measure.quantities import Quantity, guess_quantity, quantity
from kilter.measure.scales import from_scale, scaled_uncertainty, to_scale

__all__ = [
    "BadInput",
    "Instrument",
    "KilterError",
    "Measured",
    "NotAvailable",
    "OutOfRange",
    "Quantity",
    "engineering",
    "from_scale",
    "guess_quantity",
    "instrument",
    "possible_readings",
    "quantity",
    "read_quantity",
    "scaled_uncertainty",
    "to_scale",
]

"""Laws of the trade: acid, gas, heat, charge and current, each a formula with its source."""

from rules.laws.ac_side import CORRECTED, PLAIN, ac_current_for, circuit_continuous_limit, current_from_ac
from rules.laws.capacity import (
    END_VOLTAGE,
    END_VOLTAGE_CELL,
    EXPONENT,
    PER_KELVIN,
    end_voltage,
    percent_of_rated,
    peukert_capacity,
    temperature_corrected,
)
from rules.laws.charging import (
    COLDEST,
    WARMEST,
    compensated_voltage,
    finishing_current,
    string_current_limit,
    string_shares,
)
from rules.laws.curves import finite
from rules.laws.electrolyte import freezing_point, specific_gravity, weight_percent_from_gravity
from rules.laws.faraday import hydrogen_rate, level_drop, oxygen_rate, water_rate
from rules.laws.gassing import AGED, EXCHANGE, gassing_current, gassing_heat, gassing_onset, gassing_share
from rules.laws.hydrometer import (
    GRAVITY_WORDS,
    LEAST_DIGITS,
    LIKELY,
    MARKS,
    REFERENCE,
    SLOPE,
    STRONGEST,
    WEAKEST,
    corrected_gravity,
    parse_gravity,
)
from rules.laws.rest_voltage import gravity_from_rest_voltage, rest_voltage, state_of_charge_from_gravity
from rules.laws.ventilation import (
    EXPLOSIVE_FRACTION,
    GAS_AFTER_CHARGE,
    hours_to_fraction,
    opening_area,
    ventilation_needed,
)

__all__ = [
    "AGED",
    "COLDEST",
    "CORRECTED",
    "END_VOLTAGE",
    "END_VOLTAGE_CELL",
    "EXCHANGE",
    "EXPLOSIVE_FRACTION",
    "EXPONENT",
    "GAS_AFTER_CHARGE",
    "GRAVITY_WORDS",
    "LEAST_DIGITS",
    "LIKELY",
    "MARKS",
    "PER_KELVIN",
    "PLAIN",
    "REFERENCE",
    "SLOPE",
    "STRONGEST",
    "WARMEST",
    "WEAKEST",
    "ac_current_for",
    "circuit_continuous_limit",
    "compensated_voltage",
    "corrected_gravity",
    "current_from_ac",
    "end_voltage",
    "finishing_current",
    "finite",
    "freezing_point",
    "gassing_current",
    "gassing_heat",
    "gassing_onset",
    "gassing_share",
    "gravity_from_rest_voltage",
    "hours_to_fraction",
    "hydrogen_rate",
    "level_drop",
    "opening_area",
    "oxygen_rate",
    "parse_gravity",
    "percent_of_rated",
    "peukert_capacity",
    "rest_voltage",
    "specific_gravity",
    "state_of_charge_from_gravity",
    "string_current_limit",
    "string_shares",
    "temperature_corrected",
    "ventilation_needed",
    "water_rate",
    "weight_percent_from_gravity",
]

"""How thick is the air today?

Density and viscosity from temperature, pressure and altitude; the wind blowing through it. Standard
atmosphere: iso2533 (below 11 km). Humidity is left out: saturated air at 30 C is 2 % lighter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from facemark.errors import SetupError
from facemark.explain import constants as c

_ZERO_C_K = 273.15
_TEMPERATURE_C = (-30.0, 55.0)  # outside, nobody plays; assumed
_ALTITUDE_M = (-430.0, 5000.0)  # lowest shore on earth to above the highest course; assumed
_PRESSURE_HPA = (500.0, 1100.0)
_WIND_MPS = 25.0  # a storm; assumed


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """Air and wind. Temperature or pressure None: the standard atmosphere at ``altitude_m``.

    ``pressure_hpa`` is the pressure at the place itself, not the weather report's (which is reduced to sea
    level). Wind: ``wind_help_mps`` plus from behind, ``wind_push_mps`` plus toward the push side (to the
    right for a right-handed player).
    """

    temperature_degc: float | None = None
    pressure_hpa: float | None = None
    altitude_m: float = 0.0
    wind_help_mps: float = 0.0
    wind_push_mps: float = 0.0

    def __post_init__(self) -> None:
        _hold("an altitude", self.altitude_m, _ALTITUDE_M, "m")
        if self.temperature_degc is not None:
            _hold("a temperature", self.temperature_degc, _TEMPERATURE_C, "C")
        if self.pressure_hpa is not None:
            _hold("an air pressure", self.pressure_hpa, _PRESSURE_HPA, "hPa")
        for wind in (self.wind_help_mps, self.wind_push_mps):
            _hold("a wind", wind, (-_WIND_MPS, _WIND_MPS), "m/s")

    @property
    def kelvin(self) -> float:
        """Temperature [K]."""
        return (
            _standard_kelvin(self.altitude_m)
            if self.temperature_degc is None
            else self.temperature_degc + _ZERO_C_K
        )

    @property
    def density_kgm3(self) -> float:
        """Density of dry air [kg/m3], from the gas law."""
        told = self.pressure_hpa
        pressure_pa = _standard_pressure_pa(self.altitude_m) if told is None else told * 100.0
        return pressure_pa / (c.AIR_GAS_J_PER_KGK * self.kelvin)

    @property
    def viscosity_m2_per_s(self) -> float:
        """Kinematic viscosity [m2/s], from Sutherland's law."""
        dynamic = c.SUTHERLAND_KG_PER_MSK * self.kelvin**1.5 / (self.kelvin + c.SUTHERLAND_K)
        return float(dynamic / self.density_kgm3)


def _standard_kelvin(altitude_m: float) -> float:
    return c.AIR_TEMPERATURE_C + _ZERO_C_K - c.AIR_LAPSE_K_PER_M * altitude_m


def _standard_pressure_pa(altitude_m: float) -> float:
    ratio = _standard_kelvin(altitude_m) / _standard_kelvin(0.0)
    power = c.GRAVITY_MPS2.value / (c.AIR_GAS_J_PER_KGK * c.AIR_LAPSE_K_PER_M)
    return float(c.AIR_PRESSURE_PA * ratio**power)


def _hold(what: str, value: float, possible: tuple[float, float], unit: str) -> None:
    low, high = possible
    if not (math.isfinite(value) and low <= value <= high):
        raise SetupError(
            f"{what} of {value:g} {unit} was given; {low:g} to {high:g} {unit} is possible",
            remedy="Correct it, or leave it out for standard air without wind.",
        )


STANDARD_AIR = Air()

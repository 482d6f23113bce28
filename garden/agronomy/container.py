"""The pot: how much water and air its medium holds, which depends on its height, and what it weighs."""

import math
from dataclasses import dataclass

from garden.agronomy.errors import OutOfRange, check_above, check_range

# Height of the sample that usual laboratory figures of a medium stand for: a ring of three inches (memory).
SAMPLE_HEIGHT_M = 0.076


@dataclass(frozen=True)
class PotWater:
    """Shares of the medium's volume in a drained pot, roots left out."""

    container_capacity: float
    air_space: float
    available_water: float


def total_porosity(bulk_density_kg_m3: float, particle_density_kg_m3: float) -> float:
    """Return the share of pores in a medium's volume.

    `particle_density_kg_m3` 100 to 5000, `bulk_density_kg_m3` (dry) 0 to the particles' density; raises
    OutOfRange. Source: definition of porosity.
    """
    solid = check_range("particle_density_kg_m3", particle_density_kg_m3, 100, 5000, "kg/m³")
    bulk = check_range("bulk_density_kg_m3", bulk_density_kg_m3, 0, solid, "kg/m³ (the particles)")
    return 1 - bulk / solid


def water_at_height(
    container_capacity: float,
    air_space: float,
    available_water: float,
    height_m: float,
    sample_height_m: float = SAMPLE_HEIGHT_M,
) -> PotWater:
    """Return the water and air of a drained pot of another height than the medium was measured at.

    `container_capacity` above 0, `air_space` above 0, together at most 1, and `available_water` above 0 to
    `container_capacity`, all shares of volume measured at `sample_height_m`; heights of the medium, 0.01 to
    1 m. Raises OutOfRange. An estimate, good to about 0.05 of the volume: pots are taken as upright, the
    medium as even and never compacted. At rest the suction grows by 1 cm of water for each cm above the
    bottom (equilibrium capacity, Bilderback and Fonteno 1987); the share of water falls with suction as
    van Genuchten has it, with the exponent 2 (judgement) and the one figure left fitted to the sample.
    """
    capacity = check_above("container_capacity", container_capacity, 0, 1)
    air = check_above("air_space", air_space, 0, 1)
    porosity = capacity + air
    if porosity > 1 + 1e-9:
        raise OutOfRange("air_space", air, f"up to {1 - capacity:g}, what the water leaves free")
    available = check_above("available_water", available_water, 0, capacity, "(the capacity)")
    height = check_range("height_m", height_m, 0.01, 1, "m")
    sample = check_range("sample_height_m", sample_height_m, 0.01, 1, "m")
    held_tight = capacity - available
    loose = porosity - held_tight
    steep = _inverse_mean_share(available / loose) / sample
    left = loose * _mean_share(steep * height)
    return PotWater(held_tight + left, max(0.0, loose - left), left)


def _mean_share(reach: float) -> float:
    """The mean of 1/√(1+h²) from 0 to `reach`: what a column keeps of its loose water."""
    return math.asinh(reach) / reach if reach > 1e-9 else 1.0


def _inverse_mean_share(share: float) -> float:
    low, high = 1e-9, 1e9
    if share <= _mean_share(high):
        return high
    for _ in range(200):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if _mean_share(middle) > share else (low, middle)
    return math.sqrt(low * high)


@dataclass(frozen=True)
class LiftWeights:
    """What a pot weighs, in grams, with its plant: drained, when to water, when wilting, bone dry."""

    full_g: float
    water_now_g: float
    wilting_g: float
    dry_g: float


def lift_weights(
    container_l: float,
    container_capacity: float,
    available_water: float,
    dry_density_kg_l: float,
    *,
    empty_pot_g: float = 0.0,
    plant_g: float = 0.0,
    allowed_depletion: float = 0.5,
) -> LiftWeights:
    """Return the weights by which to lift a pot and know whether to water it.

    `container_l` of medium above 0 to 10000; `container_capacity` 0 to 1 and `available_water` 0 to
    `container_capacity`, shares of its volume; `dry_density_kg_l` of the medium 0 to 3; `empty_pot_g` and
    `plant_g` 0 to 1000000; `allowed_depletion` above 0 to 1 (half is common practice, no source). Raises
    OutOfRange. One litre of water weighs 1000 g. Estimates: weigh the pot once after it has drained and
    shift all four by the difference. Source: mass balance.
    """
    litres = check_above("container_l", container_l, 0, 10_000, "L")
    capacity = check_range("container_capacity", container_capacity, 0, 1)
    available = check_range("available_water", available_water, 0, capacity, "(the capacity)")
    density = check_range("dry_density_kg_l", dry_density_kg_l, 0, 3, "kg/L")
    share = check_above("allowed_depletion", allowed_depletion, 0, 1)
    things = check_range("empty_pot_g", empty_pot_g, 0, 1e6, "g") + check_range(
        "plant_g", plant_g, 0, 1e6, "g"
    )
    dry = things + 1000 * litres * density
    full = dry + 1000 * litres * capacity
    lost = 1000 * litres * available
    return LiftWeights(full, full - lost * share, full - lost, dry)

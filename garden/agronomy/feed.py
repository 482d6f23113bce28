"""Feed and water: EC and TDS, mixing and diluting, leaching, alkalinity.

EC is treated as a concentration that mixes linearly; for dilute solutions that is right to about 2 %.
"""

import math
from dataclasses import dataclass

from garden.agronomy.errors import UnitError, check_above, check_range

TDS_SCALES = {"500": 0.5, "640": 0.64, "700": 0.7}
"""Scales of TDS meters, named by the mg/L they show for 1 mS/cm."""

EC_TEMPERATURE_COEFFICIENT_KCL = 0.0191
EC_TEMPERATURE_COEFFICIENT_WATER = 0.0187
MG_CACO3_PER_ME = 50.04
_PK1_CARBONIC_ACID = 6.35


@dataclass(frozen=True)
class Dilution:
    """How much present feed and how much water make the wanted volume, both in litres."""

    feed_l: float
    water_l: float


def _ec(field: str, value: float) -> float:
    return check_range(field, value, 0, 30, "mS/cm")


def _concentration(field: str, value: float) -> float:
    return check_range(field, value, 0, 1e6)


def _volume(field: str, value: float) -> float:
    return check_above(field, value, 0, 1e6, "L")


def _scale(name: str) -> float:
    if name not in TDS_SCALES:
        raise UnitError(name, tuple(TDS_SCALES))
    return TDS_SCALES[name]


def tds_mg_l(ec_ms_cm: float, scale: str) -> float:
    """Return what a TDS meter of `scale` ("500", "640" or "700") shows, in mg/L, for an EC of 0 to 30 mS/cm.

    Raises OutOfRange, or UnitError for another scale. A convention of the meter, not a measurement of
    dissolved matter.
    """
    return _ec("ec_ms_cm", ec_ms_cm) * 1000 * _scale(scale)


def ec_from_tds_ms_cm(tds_mg_l: float, scale: str) -> float:
    """Return the EC in mS/cm behind a TDS reading (0 to 21000 mg/L) of a meter of `scale`.

    `scale` is "500", "640" or "700"; raises OutOfRange, or UnitError for another scale. A
    convention of the meter.
    """
    return check_range("tds_mg_l", tds_mg_l, 0, 21_000, "mg/L") / (1000 * _scale(scale))


def ec_at_25_ms_cm(
    ec_ms_cm: float, temp_c: float, coefficient: float = EC_TEMPERATURE_COEFFICIENT_KCL
) -> float:
    """Return the EC at 25 °C of a solution measured without compensation at `temp_c`.

    `ec_ms_cm` 0 to 30, `temp_c` 0 to 45 °C, `coefficient` 0.015 to 0.025 per °C: 0.0191 suits salt
    solutions such as feed, 0.0187 natural water. Raises OutOfRange.
    Source: Hayashi 2004; the value for potassium chloride after Wu, Koch and Pratt 1991.
    """
    temp = check_range("temp_c", temp_c, 0, 45, "°C")
    slope = check_range("coefficient", coefficient, 0.015, 0.025, "per °C")
    return _ec("ec_ms_cm", ec_ms_cm) / (1 + slope * (temp - 25))


def mix(first_l: float, first: float, second_l: float, second: float) -> float:
    """Return the concentration (or EC) of two solutions poured together.

    Volumes above 0 L, concentrations 0 or more in one unit; raises OutOfRange. Source: mass balance.
    """
    one, two = _volume("first_l", first_l), _volume("second_l", second_l)
    return (one * _concentration("first", first) + two * _concentration("second", second)) / (one + two)


def water_to_add_l(volume_l: float, now: float, target: float, water: float) -> float:
    """Return the litres of water that bring `volume_l` from `now` down to `target` concentration (or EC).

    water < target <= now, all 0 or more in one unit, `volume_l` above 0; raises OutOfRange.
    Source: mass balance.
    """
    _check_between(now, target, water)
    return _volume("volume_l", volume_l) * (now - target) / (target - water)


def drain_fraction(now: float, target: float, refill: float) -> float:
    """Return the share of a tank (0 to 1) to drain and refill to come from `now` to `target`.

    refill < target <= now, all 0 or more in one unit; raises OutOfRange. Source: mass balance.
    """
    _check_between(now, target, refill)
    return (now - target) / (now - refill)


def after_swaps(start: float, refill: float, share: float, swaps: int) -> float:
    """Return the concentration after `swaps` (0 to 1000) times draining `share` (0 to 1) and refilling.

    Concentrations 0 or more in one unit; raises OutOfRange. Source: mass balance.
    """
    first, new = _concentration("start", start), _concentration("refill", refill)
    kept = 1 - check_range("share", share, 0, 1)
    return new + (first - new) * float(kept ** int(check_range("swaps", swaps, 0, 1000)))


def dilute_feed(
    volume_l: float, feed_ec_ms_cm: float, target_ec_ms_cm: float, water_ec_ms_cm: float
) -> Dilution:
    """Return how a feed that is too strong is thinned to make `volume_l` litres at the target EC.

    water < target <= feed, EC 0 to 30 mS/cm, `volume_l` above 0; raises OutOfRange. Source: mass balance.
    """
    feed, target, water = _three_ec(feed_ec_ms_cm, target_ec_ms_cm, water_ec_ms_cm)
    volume = _volume("volume_l", volume_l)
    feed_l = volume * (target - water) / (feed - water)
    return Dilution(feed_l=feed_l, water_l=volume - feed_l)


def leach_volume_l(
    container_l: float,
    container_capacity: float,
    root_zone_ec_ms_cm: float,
    target_ec_ms_cm: float,
    rinse_ec_ms_cm: float,
) -> float:
    """Return the litres to pour through one container to bring its root zone down to the target EC.

    `container_l` above 0, `container_capacity` above 0 to 1 (share of the volume that holds water), EC
    0 to 30 mS/cm with rinse < target <= root zone; raises OutOfRange. An estimate: the water in the pot
    is taken as well mixed, so that EC falls by e for each pot-full of water. Channels need more, even
    displacement less; check the runoff. Source: mass balance of a stirred vessel.
    """
    root, target, rinse = _three_ec(root_zone_ec_ms_cm, target_ec_ms_cm, rinse_ec_ms_cm)
    held = _volume("container_l", container_l) * check_above("container_capacity", container_capacity, 0, 1)
    return held * math.log((root - rinse) / (target - rinse))


def alkalinity_me_l(alkalinity_mg_l: float) -> float:
    """Return alkalinity in me/L from mg/L CaCO3 (0 to 2000); raises OutOfRange.

    Source: definition, 1 me/L = 50.04 mg/L CaCO3.
    """
    return check_range("alkalinity_mg_l", alkalinity_mg_l, 0, 2000, "mg/L CaCO3") / MG_CACO3_PER_ME


def alkalinity_mg_l(alkalinity_me_l: float) -> float:
    """Return alkalinity in mg/L CaCO3 from me/L (0 to 40); raises OutOfRange. Source: definition."""
    return check_range("alkalinity_me_l", alkalinity_me_l, 0, 40, "me/L") * MG_CACO3_PER_ME


def share_to_neutralise(alkalinity_mg_l: float, target_mg_l: float) -> float:
    """Return the share (0 to 1) of the alkalinity that acid must take away; 0 when it is low enough.

    `alkalinity_mg_l` 0 to 2000 mg/L CaCO3, `target_mg_l` likewise; raises OutOfRange. Source: definition.
    """
    now = check_range("alkalinity_mg_l", alkalinity_mg_l, 0, 2000, "mg/L CaCO3")
    target = check_range("target_mg_l", target_mg_l, 0, 2000, "mg/L CaCO3")
    return max(0.0, 1 - target / now) if now > 0 else 0.0


def acid_to_reach_ph_me_l(alkalinity_mg_l: float, ph: float, target_ph: float) -> float:
    """Return the acid in me/L that takes water from `ph` to `target_ph` in a closed tank.

    `alkalinity_mg_l` 0 to 2000 mg/L CaCO3, `ph` 5 to 8.3 (where bicarbonate carries the alkalinity),
    `target_ph` 4.5 to `ph`; raises OutOfRange. Once carbon dioxide escapes the pH climbs again, so it is
    checked after aeration. Source: carbonate equilibrium with pK1 = 6.35.
    """
    now = check_range("ph", ph, 5, 8.3)
    target = check_range("target_ph", target_ph, 4.5, now, "(the present pH)")
    start = alkalinity_me_l(alkalinity_mg_l)
    return start * (1 - _bicarbonate_share(target) / _bicarbonate_share(now))


def _bicarbonate_share(ph: float) -> float:
    ratio = float(10 ** (ph - _PK1_CARBONIC_ACID))
    return ratio / (1 + ratio)


def _three_ec(strong: float, target: float, weak: float) -> tuple[float, float, float]:
    _ec("ec_ms_cm", strong), _ec("target_ec_ms_cm", target), _ec("water_ec_ms_cm", weak)
    _check_between(strong, target, weak)
    return strong, target, weak


def _check_between(now: float, target: float, weaker: float) -> None:
    _concentration("now", now), _concentration("water", weaker)
    check_above("target", target, weaker, now, "(above the water's, not above the present value)")

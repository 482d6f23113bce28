"""Where the light of several lamps falls: a map of the photon flux over a canopy."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from garden.agronomy.errors import AgronomyError, check_range

FloatArray = NDArray[np.float64]

MOST_LAMPS = 200
LAMBERTIAN_BEAM_DEG = 120.0
_MOST_NODES = 24
# How finely a face is cut into points: the lamp itself to better than 1 %, its images in the walls less.
_FINE, _COARSE = 4.0, 3.0
# Cells wider than this share of a lamp's height are sampled more finely and averaged.
_CELL_TO_HEIGHT = 0.6
_MOST_SUBCELLS = 12


@dataclass(frozen=True)
class Lamp:
    """A lamp that shines straight down.

    `x_m` (along the canopy's length) and `y_m` (along its width) of its middle, from one corner; `height_m`
    over the canopy, 0.02 to 20; `flux_umol_s` 0 to 20000, all of it downwards. `length_m` and `width_m` of
    the light-giving face, 0 to 10: both 0 is a point, one of them a bar, both a panel; `turn_deg` turns the
    face, 0 puts `length_m` along the canopy's length. `beam_deg`, 10 to 150: the full angle in which the
    intensity is above half; 120 is a bare (Lambertian) face, less is a lens or a reflector.
    """

    x_m: float
    y_m: float
    height_m: float
    flux_umol_s: float
    length_m: float = 0.0
    width_m: float = 0.0
    turn_deg: float = 0.0
    beam_deg: float = LAMBERTIAN_BEAM_DEG


@dataclass(frozen=True, eq=False)
class LightMap:
    """PPFD in the middle of each cell, `ppfd_umol_m2_s[row along the width, column along the length]`.

    `evenness` is lowest over mean (1 is perfectly even); `utilisation` the share of the lamps' photons
    that land on the canopy.
    """

    ppfd_umol_m2_s: FloatArray
    length_m: float
    width_m: float
    mean_umol_m2_s: float
    lowest_umol_m2_s: float
    highest_umol_m2_s: float
    evenness: float
    utilisation: float


def light_map(
    lamps: Sequence[Lamp],
    length_m: float,
    width_m: float,
    *,
    wall_reflectance: float = 0.0,
    nx: int = 30,
    ny: int = 30,
) -> LightMap:
    """Return the photon flux of `lamps` (1 to 200) over a canopy of `length_m` by `width_m` (0.1 to 100 m).

    `wall_reflectance` 0 to 0.95: the share that walls, which stand at the canopy's edges and reach from it
    up to the lamps, send back; they act as mirrors of that share (one bounce on each wall), so white walls
    do somewhat worse; 0 means no walls. `nx`, `ny` cells along length and width, 2 to 200. Lamps hang over
    the canopy. Raises OutOfRange for a number outside its range, AgronomyError for too few or many lamps.
    Never are there more photons on the canopy than the lamps give. An estimate of a flat, empty canopy:
    leaves, stands and lamps shading one another are left out, so measure.
    Source: inverse square and cosine laws; bars and panels are added up from points (Gauss-Legendre).
    """
    length = check_range("length_m", length_m, 0.1, 100, "m")
    width = check_range("width_m", width_m, 0.1, 100, "m")
    reflected = check_range("wall_reflectance", wall_reflectance, 0, 0.95)
    columns = int(check_range("nx", nx, 2, 200, "cells"))
    rows = int(check_range("ny", ny, 2, 200, "cells"))
    if not 1 <= len(lamps) <= MOST_LAMPS:
        raise AgronomyError(f"lamps has {len(lamps)} lamps; allowed are 1 to {MOST_LAMPS}.")
    ppfd = np.zeros((rows, columns))
    for lamp in lamps:
        _check(lamp, length, width)
        if lamp.flux_umol_s:
            ppfd += _under(lamp, length, width, reflected, rows, columns)
    return _measured(ppfd, length, width, math.fsum(lamp.flux_umol_s for lamp in lamps))


def _measured(ppfd: FloatArray, length_m: float, width_m: float, given_umol_s: float) -> LightMap:
    ppfd.setflags(write=False)
    mean, lowest = float(ppfd.mean()), float(ppfd.min())
    return LightMap(
        ppfd_umol_m2_s=ppfd,
        length_m=length_m,
        width_m=width_m,
        mean_umol_m2_s=mean,
        lowest_umol_m2_s=lowest,
        highest_umol_m2_s=float(ppfd.max()),
        evenness=min(1.0, lowest / mean) if mean > 0 else 0.0,
        utilisation=min(1.0, mean * length_m * width_m / given_umol_s) if given_umol_s > 0 else 0.0,
    )


def lamp_rows(
    lamp: Lamp, length_m: float, width_m: float, along_length: int, along_width: int
) -> tuple[Lamp, ...]:
    """Return copies of `lamp` spread evenly over a canopy, `along_length` by `along_width` of them.

    `length_m`, `width_m` 0.1 to 100 m, counts 1 to 20 each; the lamp's own place is not used. Each lamp
    hangs in the middle of its equal part of the canopy. Raises OutOfRange. Source: geometry.
    """
    length = check_range("length_m", length_m, 0.1, 100, "m")
    width = check_range("width_m", width_m, 0.1, 100, "m")
    columns = int(check_range("along_length", along_length, 1, 20, "lamps"))
    rows = int(check_range("along_width", along_width, 1, 20, "lamps"))
    return tuple(
        replace(lamp, x_m=length * (column + 0.5) / columns, y_m=width * (row + 0.5) / rows)
        for row in range(rows)
        for column in range(columns)
    )


def _check(lamp: Lamp, length_m: float, width_m: float) -> None:
    check_range("x_m", lamp.x_m, 0, length_m, "m (over the canopy)")
    check_range("y_m", lamp.y_m, 0, width_m, "m (over the canopy)")
    check_range("height_m", lamp.height_m, 0.02, 20, "m")
    check_range("flux_umol_s", lamp.flux_umol_s, 0, 20_000, "µmol/s")
    check_range("lamp length_m", lamp.length_m, 0, 10, "m")
    check_range("lamp width_m", lamp.width_m, 0, 10, "m")
    check_range("turn_deg", lamp.turn_deg, -360, 360, "°")
    check_range("beam_deg", lamp.beam_deg, 10, 150, "°")


def _under(
    lamp: Lamp, length_m: float, width_m: float, reflected: float, rows: int, columns: int
) -> FloatArray:
    """The light of one lamp, straight and from the walls, as the mean of each cell."""
    reach = lamp.height_m * _CELL_TO_HEIGHT
    if lamp.beam_deg < LAMBERTIAN_BEAM_DEG:
        reach *= lamp.beam_deg / LAMBERTIAN_BEAM_DEG
    fine_x = min(_MOST_SUBCELLS, math.ceil(length_m / columns / reach))
    fine_y = min(_MOST_SUBCELLS, math.ceil(width_m / rows / reach))
    x: FloatArray = (np.arange(columns * fine_x, dtype=np.float64) + 0.5) * (length_m / (columns * fine_x))
    y: FloatArray = (np.arange(rows * fine_y, dtype=np.float64) + 0.5) * (width_m / (rows * fine_y))
    light = _shine(lamp, x, y, reflected, length_m, width_m)
    if fine_x > 1 or fine_y > 1:
        light = light.reshape(rows, fine_y, columns, fine_x).mean(axis=(1, 3))
    # Sampling may overstate a steep peak slightly; no lamp gives more than it has.
    landed = float(light.mean()) * length_m * width_m
    return light * (lamp.flux_umol_s / landed) if landed > lamp.flux_umol_s else light


def _shine(
    lamp: Lamp, x: FloatArray, y: FloatArray, reflected: float, length_m: float, width_m: float
) -> FloatArray:
    sharpness = math.log(0.5) / math.log(math.cos(math.radians(lamp.beam_deg / 2)))
    if abs(sharpness - 1) < 1e-9:
        sharpness = 1.0
    at_x, at_y, weights = _points(lamp, lamp.height_m, _FINE)
    light = _add_points(at_x, at_y, weights, x, y, lamp.height_m, sharpness)
    if reflected > 0:
        # A mirror image stands farther away, so fewer points do.
        nearest = min(lamp.x_m, length_m - lamp.x_m, lamp.y_m, width_m - lamp.y_m)
        apart = max(0.0, nearest - max(lamp.length_m, lamp.width_m) / 2)
        at_x, at_y, weights = _points(lamp, math.hypot(lamp.height_m, apart), _COARSE)
        for mirrored_x, share_x in ((at_x, 1.0), (-at_x, reflected), (2 * length_m - at_x, reflected)):
            for mirrored_y, share_y in ((at_y, 1.0), (-at_y, reflected), (2 * width_m - at_y, reflected)):
                share = share_x * share_y
                if mirrored_x is not at_x or mirrored_y is not at_y:
                    light += share * _add_points(
                        mirrored_x, mirrored_y, weights, x, y, lamp.height_m, sharpness
                    )
    return light


def _points(lamp: Lamp, distance_m: float, care: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The points that stand for the lamp's face, and the photons of each."""
    along, share_along = _nodes(lamp.length_m, distance_m, care)
    across, share_across = _nodes(lamp.width_m, distance_m, care)
    u, v = np.repeat(along, len(across)), np.tile(across, len(along))
    turn = math.radians(lamp.turn_deg)
    weights = lamp.flux_umol_s * np.repeat(share_along, len(across)) * np.tile(share_across, len(along))
    x = lamp.x_m + u * math.cos(turn) - v * math.sin(turn)
    y = lamp.y_m + u * math.sin(turn) + v * math.cos(turn)
    return x, y, weights


def _nodes(size_m: float, distance_m: float, care: float) -> tuple[FloatArray, FloatArray]:
    """Points along one side of a face, more of them the longer it is against its distance."""
    if size_m < 1e-9:
        return np.zeros(1), np.ones(1)
    # The error of Gauss-Legendre falls as this ellipse's size to the power of minus twice the points.
    ratio = 2 * distance_m / size_m
    ellipse = math.log(ratio + math.hypot(1, ratio))
    count = min(_MOST_NODES, max(2, math.ceil(care / ellipse)))
    places, shares = _GAUSS[count]
    return places * (size_m / 2), shares


_GAUSS = {
    count: (places, shares / 2)
    for count in range(1, _MOST_NODES + 1)
    for places, shares in [np.polynomial.legendre.leggauss(count)]
}


def _add_points(
    at_x: FloatArray,
    at_y: FloatArray,
    weights: FloatArray,
    x: FloatArray,
    y: FloatArray,
    height_m: float,
    sharpness: float,
) -> FloatArray:
    """PPFD of points of intensity ∝ cos^sharpness: weight · (m+1)/2π · h^(m+1) / r^(m+3)."""
    light = np.zeros((len(y), len(x)))
    across = (x[None, :] - at_x[:, None]) ** 2
    down = (y[None, :] - at_y[:, None]) ** 2 + height_m**2
    strength = weights * (sharpness + 1) / (2 * math.pi) * height_m ** (sharpness + 1)
    square = np.empty_like(light)
    for point in range(len(weights)):
        np.add(down[point][:, None], across[point][None, :], out=square)
        if sharpness == 1.0:
            np.multiply(square, square, out=square)
        else:
            np.power(square, (sharpness + 3) / 2, out=square)
        np.divide(strength[point], square, out=square)
        light += square
    return light

"""What a garden says about the inputs of the bench: its plants, space, lamps, water and latest readings."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Prefetch

from garden.agronomy.errors import AgronomyError
from garden.agronomy.light import lamp_photon_flux_umol_s, mean_ppfd_umol_m2_s
from garden.bench.pots import COVER_BY_STAGE
from garden.bench.tool import Value
from garden.models import Lamp, Planting, Reading, WaterSource
from garden.reference.loader import load_reference

_READINGS = 400  # the latest of each kind is among them; a garden is not measured more often


@dataclass(frozen=True)
class GardenFacts:
    """A planting with what is known about it, by the names that fields give in `prefill`."""

    planting: Planting
    units: str
    known: Mapping[str, Value]

    @property
    def grower(self) -> str:
        return str(self.planting.space.garden.grower)


def garden_facts(planting_pk: int) -> GardenFacts | None:
    """Return what is known of a planting, None when there is none; in a fixed number of queries."""
    waters = Prefetch("space__garden__waters", WaterSource.objects.order_by("pk"))
    found = (
        Planting.objects.select_related("space__garden__grower")
        .prefetch_related("space__lamps", waters)
        .filter(pk=planting_pk)
        .first()
    )
    if found is None:
        return None
    known = {
        **_of_planting(found),
        **_targets(found),
        **_of_water(found),
        **_of_lamps(found),
        **_latest_readings(planting_pk),
    }
    known["root_or_runoff_ec_ms_cm"] = known.get("root_zone_ec_ms_cm", known.get("runoff_ec_ms_cm"))
    return GardenFacts(
        found,
        found.space.garden.grower.units,
        {name: value for name, value in known.items() if value is not None},
    )


def _of_planting(planting: Planting) -> dict[str, Value]:
    space, crops = planting.space, load_reference().crops
    sides = (space.length_m, space.width_m)
    cover = COVER_BY_STAGE.get(planting.stage)
    volume, days = planting.watering_volume_l, planting.watering_interval_days
    given = volume / days if volume and days else None
    area = sides[0] * sides[1] if sides[0] and sides[1] else None
    return {
        "crop": planting.crop if planting.crop in crops else planting.profile or None,
        "stage": planting.stage or None,
        "medium": planting.medium or None,
        "container_l": planting.container_l,
        "plants": planting.plants,
        "reservoir_l": planting.reservoir_l,
        "watering_interval_days": planting.watering_interval_days,
        "watering_volume_l": planting.watering_volume_l,
        "length_m": space.length_m,
        "width_m": space.width_m,
        "height_m": space.height_m,
        "cover_percent": 100 * cover if cover else None,
        "water_given_l_d": given * planting.plants if given and planting.plants else None,
        "plant_area_m2": area / planting.plants if area and planting.plants else None,
    }


def _targets(planting: Planting) -> dict[str, Value]:
    """What to aim at: the middle of the crop's band for the feed, the upper edge for the roots."""
    crops = load_reference().crops
    crop = crops.get(planting.crop) or crops.get(planting.profile)
    if crop is None:
        return {}
    stage = planting.stage or None
    ec, ph = crop.band("feed_ec_ms_cm", stage), crop.band("feed_ph", stage)
    roots = crop.band("root_zone_ec_ms_cm", stage) or crop.band("runoff_ec_ms_cm", stage)
    return {
        "target_ec_ms_cm": round((ec.low + ec.high) / 2, 2) if ec else None,
        "target_ph": round((ph.low + ph.high) / 2, 1) if ph else None,
        "root_target_ec_ms_cm": roots.high if roots else None,
    }


def _of_water(planting: Planting) -> dict[str, Value]:
    water = next(iter(planting.space.garden.waters.all()), None)
    if water is None:
        return {}
    return {
        "water_alkalinity_mg_l": water.alkalinity_mg_l,
        "water_ec_ms_cm": water.ec_ms_cm,
        "water_ph": water.ph,
        "water_sodium_mg_l": water.sodium_mg_l,
        "water_chloride_mg_l": water.chloride_mg_l,
    }


def _of_lamps(planting: Planting) -> dict[str, Value]:
    """The lamps of the space: the first one's kind and place, the output of all together."""
    lamps = list(planting.space.lamps.all())
    if not lamps:
        return {}
    first, space = lamps[0], planting.space
    watts = [lamp.watts * lamp.count for lamp in lamps if lamp.watts]
    fluxes = [_flux(lamp) for lamp in lamps]
    total = sum(flux * lamp.count for flux, lamp in zip(fluxes, lamps, strict=True) if flux)
    ppfd = None
    if all(fluxes) and space.length_m and space.width_m:
        try:
            ppfd = mean_ppfd_umol_m2_s(total, space.length_m * space.width_m)
        except AgronomyError:
            ppfd = None
    return {
        "lamp_type": first.type,
        "lamp_count": sum(lamp.count for lamp in lamps),
        "lamp_height_m": first.height_m,
        "lamp_flux_umol_s": fluxes[0],
        "lamps_watts": sum(watts) if watts else None,
        "photoperiod_h": first.hours,
        "ppfd_umol_m2_s": ppfd,
    }


def _flux(lamp: Lamp) -> float | None:
    """Photons of one lamp: as its sheet says, else from its power and kind."""
    if lamp.photon_flux_umol_s is not None:
        return lamp.photon_flux_umol_s
    kind = load_reference().lamps.get(lamp.type)
    efficacy = lamp.efficacy_umol_j or (kind.efficacy_umol_j if kind else None)
    if not lamp.watts or not efficacy:
        return None
    try:
        return lamp_photon_flux_umol_s(lamp.watts, efficacy)
    except AgronomyError:
        return None


def _latest_readings(planting_pk: int) -> dict[str, Value]:
    rows = Reading.objects.filter(planting=planting_pk).order_by("-taken_at", "-pk")
    latest: dict[str, Value] = {}
    for quantity, value in rows.values_list("quantity", "value")[:_READINGS]:
        latest.setdefault(quantity, value)
    return latest

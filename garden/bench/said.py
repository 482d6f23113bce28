"""What several tools say alike: sources, air flows, lists, and the crop's bands."""

from collections.abc import Iterable

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from garden.agronomy.climate import M3_H_PER_CFM
from garden.bench.tool import Choices, Refused
from garden.reference.loader import load_reference, text
from garden.reference.schema import NO_SOURCE, Band, Text
from garden.wording import Wording


def said(words: Text) -> str:
    """A text of the reference data in the reader's language."""
    return text(words, get_language() or "en")


def cite(source: str) -> str:
    """A source id of the reference data as people read it; any other text as it is."""
    found = load_reference().sources.get(source)
    if found is None:
        return _("common practice, no source") if source == NO_SOURCE else source
    year = f" ({found.year})" if found.year else ""
    return f"{found.authors}{year}: {found.title}"


def sources(*parts: str) -> str:
    """Several sources in one line, each once."""
    return "; ".join(dict.fromkeys(cite(part) for part in parts if part))


def band_of(crop: str, stage: str, reading: str) -> Band | None:
    """The band of a reading for a crop's code in a stage; None when the crop or its band is not known."""
    found = load_reference().crops.get(crop)
    return found.band(reading, stage or None) if found else None


def band_or_refuse(crop: str, stage: str, reading: str, field: str = "crop") -> Band:
    """As `band_of`; raises Refused beside the field of the crop when there is none."""
    band = band_of(crop, stage, reading)
    if band is None:
        raise Refused(_("We have no limits of this kind for it. Choose the crop it is most like."), field)
    return band


def crop_said(crop: str) -> str:
    """The name of a crop by its code."""
    found = load_reference().crops.get(crop)
    return said(found.name) if found else crop


def airflow(wording: Wording, m3_h: float) -> str:
    """An air flow in m³/h, or in cubic feet a minute for US units."""
    if wording.system == "us":
        return _("%s CFM") % wording.number(_rounded(m3_h / M3_H_PER_CFM), 0)
    return _("%s m³/h") % wording.number(_rounded(m3_h), 0)


def _rounded(value: float) -> float:
    return float(round(value, -1)) if value >= 200 else float(round(value))


def span(wording: Wording, low: float, high: float, decimals: int, unit: str = "") -> str:
    """ "0.8 to 1.2 kPa"."""
    words = _("%(low)s to %(high)s") % {
        "low": wording.number(low, decimals),
        "high": wording.number(high, decimals),
    }
    return f"{words} {unit}".rstrip()


def degrees(wording: Wording, temp_c: float) -> str:
    """A temperature to a tenth of a degree."""
    shown, label = wording.reading(temp_c, "°C", 1)[1:]
    return f"{shown} {label}"


def difference(wording: Wording, kelvin: float) -> str:
    """A difference of two temperatures."""
    us = wording.system == "us"
    return f"{wording.number(kelvin * (1.8 if us else 1), 1)} {'°F' if us else '°C'}"


def small_volume(wording: Wording, millilitres: float) -> str:
    """A dose in mL, as fine as a syringe; millilitres for US measures too, as doses are printed on labels."""
    decimals = 2 if millilitres < 1 else 1 if millilitres < 20 else 0
    return _("%s mL") % wording.number(millilitres, decimals)


def small_weight(wording: Wording, grams: float) -> str:
    """A dose in grams, as fine as a kitchen or a pocket balance."""
    decimals = 2 if grams < 1 else 1 if grams < 20 else 0
    return _("%s g") % wording.number(grams, decimals)


def mg_l(wording: Wording, value: float) -> str:
    """A concentration, fine where it is small."""
    decimals = 2 if abs(value) < 1 else 1 if abs(value) < 10 else 0
    return _("%s mg/L") % wording.number(value, decimals)


def listed(parts: Iterable[str]) -> str:
    """Parts one after another."""
    return ", ".join(parts)


def crop_choices() -> Choices:
    """Every crop and profile by name."""
    crops = load_reference().crops
    return tuple(sorted(((code, said(crop.name)) for code, crop in crops.items()), key=lambda pair: pair[1]))


def stage_choices() -> Choices:
    """Every stage, and none."""
    stages = load_reference().stages
    return (("", _("Any stage")), *((code, said(stage.name)) for code, stage in stages.items()))


def medium_choices() -> Choices:
    """Media that hold water."""
    media = load_reference().media
    return tuple((code, said(medium.name)) for code, medium in media.items() if medium.container_capacity)


def lamp_choices() -> Choices:
    """Types of lamp."""
    return tuple((code, said(lamp.name)) for code, lamp in load_reference().lamps.items())


def length_span(wording: Wording, low_m: float, high_m: float) -> str:
    """Two lengths in one unit: "11 to 24 cm"."""
    unit, size = ("in", 0.0254) if wording.system == "us" else ("cm", 0.01)
    if high_m >= 2.0:
        unit, size = ("ft", 0.3048) if wording.system == "us" else ("m", 1.0)
    return span(wording, low_m / size, high_m / size, 1 if high_m >= 2.0 else 0, unit)

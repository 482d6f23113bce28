"""What several tools say alike: sources, lists, doses, and the crop's bands."""

from collections.abc import Iterable

from django.utils.translation import get_language
from django.utils.translation import gettext as _

from garden.bench.tool import Choices, Refused
from garden.reference.loader import load_reference, text
from garden.reference.schema import NO_SOURCE, Band, Text
from garden.wording import KITCHEN_SCALE_G, Wording

LITRE_ML = 1000
SYRINGE_ML = 15  # about half a US fluid ounce; less is measured with a syringe, which is marked in mL


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


def small_volume(wording: Wording, millilitres: float) -> str:
    """A dose in mL, as fine as a syringe; in US units the ounces or gallons stand beside it.

    Millilitres come first there too: syringes and the labels of feeds have them.
    """
    if millilitres >= LITRE_ML:
        shown = _("%s L") % wording.significant(millilitres / LITRE_ML)
    else:
        decimals = 2 if millilitres < 1 else 1 if millilitres < 20 else 0
        shown = _("%s mL") % wording.number(millilitres, decimals)
    if wording.system != "us" or millilitres < SYRINGE_ML:
        return shown
    return f"{shown} ({wording.volume(millilitres / LITRE_ML)})"


def small_weight(wording: Wording, grams: float) -> str:
    """A dose in grams, as fine as a kitchen or a pocket balance; in US units the ounces stand beside it."""
    if grams >= KITCHEN_SCALE_G:
        shown = _("%s kg") % wording.significant(grams / 1000)
    else:
        decimals = 2 if grams < 1 else 1 if grams < 20 else 0
        shown = _("%s g") % wording.number(grams, decimals)
    if wording.system != "us" or grams < 1:
        return shown
    return f"{shown} ({wording.weight(grams)})"


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

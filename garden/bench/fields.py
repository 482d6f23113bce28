"""Inputs that several tools share."""

from django.utils.translation import gettext_lazy as _

from garden.bench.said import crop_choices, lamp_choices, medium_choices, stage_choices
from garden.bench.tool import Field, Words

CROP = Field("crop", _("What grows"), choices=crop_choices, example="basil", prefill="crop")
STAGE = Field(
    "stage", _("Stage"), choices=stage_choices, example="vegetative", optional=True, prefill="stage"
)
AIR_TEMP = Field(
    "air_temp_c", _("Air temperature"), "°C", -20, 60, example=26, us_unit="°F", prefill="air_temp_c"
)
RH = Field("rh_percent", _("Relative humidity"), "%", 0, 100, example=45, prefill="rh_percent")
PPFD = Field(
    "ppfd_umol_m2_s",
    _("Light at the leaves"),
    "µmol/m²/s",
    0,
    3000,
    above=True,
    example=400,
    prefill="ppfd_umol_m2_s",
)
HOURS = Field("hours", _("Hours of light a day"), "h", 0, 24, above=True, example=16, prefill="photoperiod_h")
LAMP_TYPE = Field(
    "lamp_type", _("Type of lamp"), choices=lamp_choices, example="led-white", prefill="lamp_type"
)
CONTAINER = Field(
    "container_l",
    _("One container"),
    "L",
    0.001,  # smaller than the smallest cell of a plug tray
    10_000,
    example=3,
    us_unit="US gal",
    prefill="container_l",
)
MEDIUM = Field("medium", _("Medium"), choices=medium_choices, example="peat-perlite", prefill="medium")
TANK = Field(
    "tank_l", _("Reservoir"), "L", 0, 1e6, above=True, example=40, us_unit="US gal", prefill="reservoir_l"
)
WATER_EC = Field(
    "water_ec_ms_cm", _("EC of the plain water"), "mS/cm", 0, 20, example=0.4, prefill="water_ec_ms_cm"
)
ALKALINITY = Field(
    "alkalinity_mg_l",
    _("Alkalinity as CaCO3"),
    "mg/L",
    0,
    2000,
    example=150,
    prefill="water_alkalinity_mg_l",
)


def side(name: str, label: Words, example: float, high: float = 100.0, prefill: str = "") -> Field:
    """A side of a space, in metres or feet."""
    return Field(
        name,
        label,
        "m",
        0.1,
        high,
        example=example,
        us_unit="ft",
        prefill=prefill,
    )

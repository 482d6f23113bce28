"""Which words of an answer speak of something that can hurt somebody, and the caution that goes with them."""

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

# By code of the cautions of the rules. A translation lists the words of its own language, in all their forms.
HAZARDS: dict[str, str | Promise] = {
    "acid": _("acid, acids, pH down, phosphoric, nitric, sulfuric, sulphuric, citric, vinegar"),
    "caustic": _("pH up, caustic, lye, hydroxide"),
    "electricity-water": _(
        "pump, pumps, plug, plugs, socket, sockets, wiring, ballast, electric, electricity"
    ),
    "lamp-eyes": _("lamp, lamps, UV, ultraviolet"),
    "co2": _("CO2, CO₂, carbon dioxide"),
    "combustion-gas": _("burner, burners, propane, gas heater"),
    "heat": _("heater, heaters, heat mat, heating mat, heating cable"),
    "pesticide-label": _(
        "pesticide, pesticides, insecticide, fungicide, miticide, spray, sprays, spraying, sprayed"
    ),
    "disinfectant": _("bleach, disinfect, disinfectant, peroxide, chlorine"),
    "mould": _("mould, mouldy, mold, moldy"),
    "fertiliser-label": _("fertiliser, fertilizer, concentrate, concentrates, stock solution, nutrients"),
    "waste-solution": _("pour away, throw away, old solution, run-off, runoff"),
}

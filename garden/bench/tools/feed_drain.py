"""How much of a tank that is too strong to drain, or how much water to add."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from garden.agronomy.feed import drain_fraction, mix, water_to_add_l
from garden.bench import fields
from garden.bench.measures import alike
from garden.bench.said import sources
from garden.bench.tool import Answer, Field, Refused, Tool, Values, amount, maybe
from garden.wording import Wording

SOURCE = gettext_lazy("Mass balance; EC taken as adding up, which is right to about 2 % in dilute solutions")


def _volumes(values: Values) -> tuple[float, float]:
    """What the tank holds when full, and what is in it."""
    tank = amount(values, "tank_l")
    left = maybe(values, "volume_l")
    if left is not None and left > tank:
        raise Refused(_("More is in the tank than it holds. Check the two volumes."), "volume_l")
    return tank, tank if left is None else left


def _top_up(wording: Wording, left: float, ec: float, tank: float, water: float) -> tuple[float, list[str]]:
    """The EC once the tank is full, and how that was reckoned."""
    if left >= tank:
        return ec, []
    after = mix(left, ec, tank - left, water)
    line = _("topped up: (%(left)s × %(ec)s + %(added)s × %(water)s) ÷ %(tank)s = %(after)s mS/cm")
    there, added, whole = alike(wording, "L", tank, left, tank - left, tank)
    words = {
        "left": there,
        "ec": f"{ec:g}",
        "added": added,
        "water": f"{water:g}",
        "tank": whole,
        "after": f"{after:.2f}",
    }
    return after, [line % words]


def compute(values: Values, wording: Wording) -> Answer:
    ec, target = amount(values, "ec_ms_cm"), amount(values, "target_ec_ms_cm")
    water, (tank, left) = amount(values, "water_ec_ms_cm"), _volumes(values)
    if target <= water:
        raise Refused(
            _("The water itself is as strong as that. Aim higher, or refill with reverse-osmosis water."),
            "target_ec_ms_cm",
        )
    after, working = _top_up(wording, left, ec, tank, water)
    facts = [(_("Top up first with"), wording.volume(tank - left))] if left < tank else []
    if left < tank:
        facts.append((_("EC after topping up"), wording.ec(after)))
    if after <= target * 1.0001:
        headline = (
            _("Do not drain: top up, and it comes to EC %s") % wording.ec(after)
            if left < tank
            else _("Do not drain: it is not stronger than wanted")
        )
        return Answer(headline, tuple(facts), tuple(working) or (_("now ≤ wanted"),), str(SOURCE))
    share = drain_fraction(after, target, water)
    working.append(
        _("(%(now)s − %(target)s) ÷ (%(now)s − %(water)s) = %(share)s of the tank")
        % {"now": f"{after:.2f}", "target": f"{target:g}", "water": f"{water:g}", "share": f"{share:.3f}"}
    )
    headline = _("Drain %(volume)s (%(share)s of the full tank) and refill with plain water") % {
        "volume": wording.volume(share * tank),
        "share": wording.percent(share, 1),
    }
    facts.append((_("Stays in the tank"), wording.volume((1 - share) * tank)))
    facts.append(
        (
            _("Or, with room to spare, add without draining"),
            wording.volume(water_to_add_l(left, ec, target, water) if ec > target else 0.0),
        )
    )
    cautions = (
        _("Unplug pumps and heaters before hands go into the water. Measure again once it has mixed."),
        _("Pour used feed on soil that can use it, never into streams; follow local rules."),
    )
    return Answer(headline, tuple(facts), tuple(working), sources(str(SOURCE)), cautions)


TOOL = Tool(
    "feed-drain",
    gettext_lazy("How much do I drain?"),
    gettext_lazy("A tank that is too strong: top up, drain and refill to the EC you want."),
    "feed",
    (
        Field(
            "ec_ms_cm",
            gettext_lazy("EC of the tank now"),
            "mS/cm",
            0,
            30,
            example=2.6,
            prefill="feed_ec_ms_cm",
        ),
        Field(
            "target_ec_ms_cm",
            gettext_lazy("EC wanted"),
            "mS/cm",
            0,
            30,
            above=True,
            example=1.8,
            prefill="target_ec_ms_cm",
        ),
        fields.WATER_EC,
        fields.TANK,
        Field(
            "volume_l",
            gettext_lazy("In it now, if not full"),
            "L",
            0,
            1e6,
            above=True,
            optional=True,
            example=40,
            us_unit="US gal",
        ),
    ),
    compute,
)

"""Bringing a tank back to its target: top up, drain and refill, feed, acid, in that order.

A tank is known by its volume, EC and pH; what is dissolved in it is taken to be the same concentrate, thinned
or thickened to that EC, and aired. Every step then mixes amounts, and EC and pH come from the chemistry.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from garden.agronomy.acid import OUTDOOR_CO2_PPM, AcidDose, Strength, acidified, dose_to_ph
from garden.agronomy.conductivity import cations_me_l, solution_ec_ms_cm
from garden.agronomy.errors import AgronomyError, check_above, check_range
from garden.agronomy.mix import Product, mix_products
from garden.agronomy.solution import ChemistryError, Part, Solution, equilibrium
from garden.agronomy.water import Water, water_solution

EC_TOLERANCE = 0.03
"""How near, as a share of the target, the EC ends by calculation; a real tank may differ by 5 % more."""
PH_TOLERANCE = 0.05
MOST_CONCENTRATE_PER_L = 100.0

Parts = Mapping[str, float]
Note = Literal[
    "ph-is-below-target",
    "check-after-airing",
    "water-stronger-than-target",
    "concentrate-too-weak",
    "nothing-to-do",
]


@dataclass(frozen=True)
class Tank:
    """A tank: litres in it, litres when full, and what the meters show (EC at 25 °C)."""

    volume_l: float
    full_l: float
    ec_ms_cm: float
    ph: float


@dataclass(frozen=True)
class Step:
    """One thing to do: its code, how much, and the tank after it."""

    code: Literal["top-up", "drain-and-refill", "add-concentrate", "add-acid"]
    amount: float
    unit: Literal["L", "mL", "g"]
    volume_l: float
    ec_ms_cm: float
    ph: float


@dataclass(frozen=True)
class Correction:
    """The steps in order, how the tank ends, and the dissolved amounts at the start and the end, in mmol."""

    steps: tuple[Step, ...]
    drain_share: float
    ec_ms_cm: float
    ph: float
    volume_l: float
    start_mmol: Mapping[str, float]
    end_mmol: Mapping[str, float]
    acid: AcidDose | None
    notes: tuple[Note, ...]


@dataclass(frozen=True)
class _Job:
    """What the correction works with: the concentrate per unit, the acid, and the target."""

    water: Parts
    feed: Parts
    unit: Literal["mL", "g"]
    strength: Strength | None
    ec: float
    ph: float


def correct_reservoir(
    tank: Tank,
    water: Water,
    concentrate: Product,
    *,
    target_ec_ms_cm: float,
    target_ph: float,
    strength: Strength | None = None,
) -> Correction:
    """Return what to do to a tank, step by step, to end at the target EC and pH.

    `tank`: volume above 0 to 1e6 L, not above full; EC 0.05 to 10 mS/cm; pH 4 to 9. `water`: for topping up
    and refilling. `concentrate`: what is added per mL or g (of two halves: `mix.combined_product`).
    `target_ec_ms_cm` 0.1 to 6 and above the water's EC; `target_ph` 4.5 to 7.5. `strength`: the acid, or None
    to leave the pH. Ends within EC_TOLERANCE and PH_TOLERANCE by calculation, unless a note says why not: an
    acid tank is not raised, a water as strong as the target cannot thin, a weak concentrate does not reach.
    Once dosed it is mixed, aired and measured again. Raises OutOfRange, ChemistryError, AgronomyError.
    Source: mass balance; PHREEQC for EC and pH.
    """
    _check(tank, target_ec_ms_cm, target_ph)
    unit_parts = _unit_parts(concentrate)
    job = _Job(
        dict(water_solution(water).parts_mmol_l), unit_parts, concentrate.unit, strength,
        target_ec_ms_cm, target_ph,
    )  # fmt: skip
    return _Run(job, tank, _assumed_parts(tank, unit_parts)).finish()


def _check(tank: Tank, target_ec: float, target_ph: float) -> None:
    check_above("full_l", tank.full_l, 0, 1e6, "L")
    check_above("volume_l", tank.volume_l, 0, tank.full_l, "L (the full tank)")
    check_range("ec_ms_cm", tank.ec_ms_cm, 0.05, 10, "mS/cm")
    check_range("ph", tank.ph, 4, 9)
    check_range("target_ec_ms_cm", target_ec, 0.1, 6, "mS/cm")
    check_range("target_ph", target_ph, 4.5, 7.5)


def _unit_parts(concentrate: Product) -> dict[str, float]:
    """Parts in mmol that one mL or gram brings, its charges closed."""
    pure = water_solution(Water()).parts_mmol_l
    mixed = mix_products(Water(), [(concentrate, 1.0)]).parts_mmol_l
    parts = {name: amount for name, amount in mixed.items() if amount > pure.get(name, 0.0) + 1e-5}
    if not parts:
        raise AgronomyError(
            f"{concentrate.code} brings nothing that conducts; give its content, or another concentrate."
        )
    return parts


def _scaled(parts: Parts, factor: float) -> dict[str, float]:
    return {name: amount * factor for name, amount in parts.items()}


def _together(first: Parts, second: Parts) -> dict[str, float]:
    return {name: first.get(name, 0.0) + second.get(name, 0.0) for name in {**first, **second}}


def _assumed_parts(tank: Tank, feed: Parts) -> dict[str, float]:
    """The concentrate at the strength that gives the tank's EC at its pH, in balance with the air."""

    guess = tank.ec_ms_cm * 10 / max(cations_me_l(feed), 1e-9)
    first = equilibrium(_scaled(feed, guess), ph=tank.ph, co2_ppm=OUTDOOR_CO2_PPM)
    side: Part = "Na" if first.charge_me_l < 0 else "Cl"

    def held(strength: float) -> Solution:
        parts = _scaled(feed, strength)
        try:
            return equilibrium(parts, ph=tank.ph, co2_ppm=OUTDOOR_CO2_PPM, balance=side)
        except ChemistryError:
            other: Part = "Cl" if side == "Na" else "Na"
            return equilibrium(parts, ph=tank.ph, co2_ppm=OUTDOOR_CO2_PPM, balance=other)

    strength = _meet(lambda s: solution_ec_ms_cm(held(s)), tank.ec_ms_cm, (0.0, 0.0), guess, 1e6)
    return dict(held(strength).parts_mmol_l)


def _meet(
    value: Callable[[float], float], wanted: float, known: tuple[float, float], guess: float, high: float
) -> float:
    """Where a rising, nearly straight curve meets `wanted`, to a thousandth, by secants.

    `known`: the lowest x with its value; `guess`: where to look first; `high`: the highest x.
    """
    (x0, y0), x1 = known, min(max(guess, known[0]), high)
    y1 = value(x1)
    for _ in range(30):
        if abs(y1 - wanted) <= 1e-3 * wanted or x1 == x0 or y1 == y0:
            break
        nearer = min(max(x1 + (wanted - y1) * (x1 - x0) / (y1 - y0), known[0]), high)
        x0, y0, x1 = x1, y1, nearer
        y1 = value(x1)
    return x1


class _Run:
    """One pass through the steps; keeps the tank's amounts per litre as they change."""

    def __init__(self, job: _Job, tank: Tank, parts: Parts) -> None:
        self.job, self.tank, self.volume = job, tank, tank.volume_l
        self.start = dict(parts)
        self.parts: Parts = dict(parts)
        self.steps: list[Step] = []
        self.notes: list[Note] = []
        self.drain_share = 0.0
        self.acid: AcidDose | None = None

    def finish(self) -> Correction:
        self._top_up()
        ec = self._ec_after(self.parts)
        if ec > self.job.ec * (1 + EC_TOLERANCE / 2):
            self._drain(ec)
        elif ec < self.job.ec * (1 - EC_TOLERANCE / 2):
            self._feed(ec)
        self._acidify()
        end = equilibrium(self.parts)
        if not self.steps:
            self.notes.append("nothing-to-do")
        return Correction(
            steps=tuple(self.steps),
            drain_share=self.drain_share,
            ec_ms_cm=solution_ec_ms_cm(end),
            ph=end.ph,
            volume_l=self.volume,
            start_mmol=_scaled(self.start, self.tank.volume_l),
            end_mmol=_scaled(self.parts, self.volume),
            acid=self.acid,
            notes=tuple(self.notes),
        )

    def _record(self, code: str, amount: float, unit: str) -> None:
        now = equilibrium(self.parts)
        self.steps.append(
            Step(code, amount, unit, self.volume, solution_ec_ms_cm(now), now.ph)  # type: ignore[arg-type]
        )

    def _top_up(self) -> None:
        room = self.tank.full_l - self.volume
        if room <= 1e-9:
            return
        self.parts = self._with_water(room / self.tank.full_l)
        self.volume = self.tank.full_l
        self._record("top-up", room, "L")

    def _with_water(self, share: float) -> dict[str, float]:
        return _together(_scaled(self.parts, 1 - share), _scaled(self.job.water, share))

    def _drain(self, ec: float) -> None:
        water_ec = solution_ec_ms_cm(equilibrium(self.job.water))
        if water_ec >= self.job.ec:
            self.notes.append("water-stronger-than-target")
            return
        guess = (self.job.ec - water_ec) / (ec - water_ec)
        # Falling with the share drained; turned round to rise with what is kept.
        kept = _meet(
            lambda keep: self._ec_after(self._with_water(1 - keep)), self.job.ec, (0.0, water_ec), guess, 1.0
        )
        self.parts, self.drain_share = self._with_water(1 - kept), 1 - kept
        self._record("drain-and-refill", (1 - kept) * self.volume, "L")

    def _feed(self, ec: float) -> None:
        guess = (self.job.ec - ec) * 10 / max(cations_me_l(self.job.feed), 1e-9)
        per_l = _meet(
            lambda dose: self._ec_after(self._fed(dose)), self.job.ec, (0.0, ec), guess,
            MOST_CONCENTRATE_PER_L,
        )  # fmt: skip
        if per_l >= MOST_CONCENTRATE_PER_L:
            self.notes.append("concentrate-too-weak")
        amount = per_l * self.volume
        self.parts = self._fed(per_l)
        if self.job.unit == "mL":
            self.volume += amount / 1000
        self._record("add-concentrate", amount, self.job.unit)

    def _fed(self, per_l: float) -> dict[str, float]:
        grown = 1 + per_l / 1000 if self.job.unit == "mL" else 1.0
        return _scaled(_together(self.parts, _scaled(self.job.feed, per_l)), 1 / grown)

    def _ec_after(self, parts: Parts) -> float:
        """The EC that the acid will leave, so that one step aims at where the next one ends."""
        now = equilibrium(parts)
        if self._wants_acid(now):
            now, _ = acidified(now, self._strength(), self.job.ph)
        return solution_ec_ms_cm(now)

    def _wants_acid(self, now: Solution) -> bool:
        return self.job.strength is not None and now.ph > self.job.ph + PH_TOLERANCE

    def _strength(self) -> Strength:
        if self.job.strength is None:
            raise AgronomyError("No acid was named; name one, or leave the pH as it is.")
        return self.job.strength

    def _acidify(self) -> None:
        now = equilibrium(self.parts)
        if not self._wants_acid(now):
            if now.ph < self.job.ph - PH_TOLERANCE:
                self.notes.append("ph-is-below-target")
            return
        strength = self._strength()
        dose = dose_to_ph(now, strength, self.job.ph)
        self.acid, self.parts = dose, _together(self.parts, {strength.acid.part: dose.mmol_l})
        if dose.ml_per_m3 is None:
            self._record("add-acid", dose.g_per_m3 * self.volume / 1000, "g")
        else:
            self._record("add-acid", dose.ml_per_m3 * self.volume / 1000, "mL")
        self.notes.append("check-after-airing")

"""What to say about a plan, in the words of the workshop; drawn from by the text and by the page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sealtune.design.behaviour import FAST_AIR
from sealtune.records.design import Driver, Vent
from sealtune.records.interval import Interval
from sealtune.records.plan import Cause, Expected, Limits, Plan, VentChoice
from sealtune.report.content import capital, clean, hz_decimals, number, sentence, span

Kind = Literal["good", "rework", "remeasure"]
"""How the plan stands, in the colours of the verdicts: go ahead, change it, think again."""

MILLIMETRES = 1000.0
LITRES = 1000.0
SQUARE_CENTIMETRES = 1e4

LEAST_MILLIMETRES = 0.5
"""Two lengths of a vent closer than this are one."""

RESPONSE_KEYS = ("fs_hz", "qms", "qes", "vas_l")
"""The keys of [driver] without which neither response nor impedance can be foretold."""

_CAUSES: dict[Cause, str] = {
    "volume": "box volume",
    "vent length": "vent length",
    "vent opening": "vent opening",
    "end corrections": "air at the vent's ends",
    "temperature": "temperature",
    "box losses": "box losses",
    "driver f_S": "the driver's f_S",
    "driver Q_MS": "the driver's Q_MS",
    "driver Q_ES": "the driver's Q_ES",
    "driver V_AS": "the driver's V_AS",
    "driver R_E": "the driver's R_E",
}

_CURE: dict[Cause, str] = {
    "volume": "Measure the finished box inside, and take off driver, vent and bracing",
    "vent length": "Saw the vent more exactly, or trim it after a measurement",
    "vent opening": "Measure the opening of the very tube or slot you use",
    "end corrections": "Only measuring the finished box tells more",
    "temperature": "Measure at the temperature that the design states",
}


@dataclass(frozen=True)
class Headline:
    """The answer first: how it stands in a word or three, why, and what to do; all plain text without markup."""

    name: str
    kind: Kind
    word: str
    reason: str
    step: str


def digits(value: float, decimals: int, least: int = 2) -> str:
    """A number with so many decimals, or as many more as `least` significant digits need: never "0.00" for 0.0034.

    least: significant digits that are kept, >= 1
    """
    size = abs(value)
    if not 1e-6 <= size < 1.0:
        return "under 0.000001" if 0.0 < size < 1e-6 else number(value, decimals)
    return number(value, max(decimals, least - 1 - math.floor(math.log10(size) + 1e-9)))


def air_is_heard(limits: Limits | None) -> bool:
    """Whether the air in the vent is fast enough at the usable power to be heard."""
    share = limits.air_speed_share if limits is not None else None
    return share is not None and share > FAST_AIR


def keys_words(keys: Sequence[str], purpose: str) -> str:
    """A short line that names the keys which would tell: "give [driver] sd_cm2 and xmax_mm to see ..."."""
    listed = keys[0] if len(keys) == 1 else f"{', '.join(keys[:-1])} and {keys[-1]}"
    return f"Give [driver] {listed} to see {purpose}."


def missing_keys(driver: Driver, wanted: Sequence[str]) -> tuple[str, ...]:
    """Those of the wanted keys of [driver] that the completed design does not have."""
    values = {
        "fs_hz": driver.fs_hz,
        "qms": driver.qms,
        "qes": driver.qes,
        "vas_l": driver.vas_m3,
        "re_ohm": driver.re_ohm,
        "sd_cm2": driver.sd_m2,
        "xmax_mm": driver.xmax_m,
        "power_w": driver.power_w,
    }
    return tuple(key for key in wanted if values[key] is None)


def expected_interval(plan: Plan, name: Expected) -> Interval | None:
    """A predicted quantity with its 95 % interval; None where it is not predicted or not finite."""
    found = plan.expected.get(name)
    if found is None or not all(math.isfinite(end) for end in (found.value, found.low, found.high)):
        return None
    return Interval(found.value, found.low, found.high)


def with_span(interval: Interval, unit: str, decimals: int) -> str:
    """A value with its unit and, in brackets, between what it lies."""
    return f"{number(interval.value, decimals)} {unit} ({span(interval, decimals)})"


def tuning_told(plan: Plan) -> str:
    """The predicted tuning with its interval, or what there is instead of it."""
    tuning = expected_interval(plan, "tuning_hz")
    if plan.prediction.tuning_hz is None or tuning is None:
        return f"target {number(plan.prediction.target_hz, 1)} Hz"
    return with_span(tuning, "Hz", hz_decimals(tuning))


def band_told(plan: Plan) -> str:
    """The target with the band that counts as met."""
    meant = plan.prediction
    name = "target" if plan.design.tuning.target_hz is not None else "no target given, so within"
    value = f" {number(meant.target_hz, 1)} Hz, met from" if plan.design.tuning.target_hz is not None else ""
    return f"{name}{value} {number(meant.low_hz, 1)} to {number(meant.high_hz, 1)} Hz"


SHORT_M = 0.1
"""Vents shorter than this are told to a tenth of a millimetre."""


def length_told(length_m: float) -> str:
    """A length of a vent in millimetres; short ones to a tenth, for a millimetre is much of them."""
    return f"{millimetres(length_m)} mm"


def millimetres(length_m: float) -> str:
    """The number of `length_told`."""
    return digits(MILLIMETRES * length_m, 1 if length_m < SHORT_M else 0, 1)


def lengths_differ(plan: Plan) -> bool:
    """Whether the target asks for another vent length than the design gives."""
    vent, wanted = plan.design.vent, plan.length_for_target_m
    if vent is None or wanted is None or vent.length_is_computed:
        return False
    return MILLIMETRES * abs(vent.length_m - wanted) > LEAST_MILLIMETRES


def designed_choice(plan: Plan) -> VentChoice | None:
    """The design's own row among the vents, if it is there."""
    return next((choice for choice in plan.vents if choice.designed), None)


def spare_mm(plan: Plan) -> int | None:
    """How much longer to cut so that a box at the high end of the interval can still be trimmed to its target, mm.

    By the change per millimetre at the design's length, which is a little too small for large steps; whole
    millimetres upwards. None without a vent.
    """
    tuning = expected_interval(plan, "tuning_hz")
    if tuning is None or plan.hz_per_mm is None or not plan.hz_per_mm < 0.0:
        return None
    return max(math.ceil((tuning.high - tuning.value) / -plan.hz_per_mm), 1)


def headline(plan: Plan) -> Headline:
    """How the plan stands, why, and what to do first.

    plan: any plan, however incomplete
    The words are ours. Go ahead: 95 of 100 boxes built like this meet the band; air that is heard is told. Cut
    long: the tuning is right, but not that sure. Change: the vent as given misses the band. Second look: something
    speaks against the vent itself.
    """
    name, vent, wanted = clean(plan.design.name) or "box", plan.design.vent, plan.length_for_target_m
    meant, tuning = plan.prediction, expected_interval(plan, "tuning_hz")
    hz, own = f"{number(meant.target_hz, 1)} Hz", designed_choice(plan)
    reason = f"Tuning {tuning_told(plan)}; {band_told(plan)}"
    if vent is None or meant.tuning_hz is None or tuning is None:
        step = "Describe the opening in [vent]: its shape and size tell how long it must be."
        return Headline(name, "remeasure", "NO VENT YET", capital(band_told(plan)), step)
    within = meant.low_hz <= tuning.value <= meant.high_hz
    if wanted is None and within:  # what would hit the target exactly cannot be built; as given it will do
        wanted = vent.length_m
    if wanted is None or not wanted > 0.0:
        step = f"No length of this opening reaches {hz}: take a wider vent or a smaller box, see the tables."
        return Headline(name, "rework", "NOT WITH THIS VENT", reason, step)
    cut = f"Cut {'the' if vent.count == 1 else 'each'} vent to {length_told(wanted)}"
    but = "" if own is None else "; ".join(clean(word) for word in own.against)
    if not within:
        side = "too low" if tuning.value < meant.low_hz else "too high"
        step = f"{cut} instead of {length_told(vent.length_m)} for {hz}{f', but: {but}' if but else ''}."
        return Headline(name, "rework", "CHANGE THE VENT", f"{reason}: {side}", step)
    if lengths_differ(plan):
        cut += f" for exactly {hz} ({length_told(vent.length_m)} as given is within tolerance)"
    if but:
        return Headline(name, "remeasure", "TAKE A SECOND LOOK", reason, f"{cut}, but: {but}.")
    air = "; its air will be heard at full power" if air_is_heard(plan.limits) else ""
    spare = spare_mm(plan)
    if tuning.low < meant.low_hz or tuning.high > meant.high_hz:
        longer = f", {spare} mm longer at first, and trim it after a measurement" if spare else ""
        return Headline(name, "remeasure", "CUT LONG, THEN TRIM", reason, f"{cut}{longer}{air}.")
    return Headline(name, "good", "GO AHEAD", reason, f"{cut}{air}.")


def opening_words(vent: Vent) -> str:
    """Shape, size and area of the opening."""
    sizes = {
        "round": f"round, {_mm(vent.diameter_m)} mm across",
        "rectangular": f"rectangular, {_mm(vent.width_m)} x {_mm(vent.height_m)} mm",
        "polygon": f"{vent.sides}-sided, {_mm(vent.across_flats_m)} mm across flats",
        "custom": "of a shape of its own",
    }
    each = ", each" if vent.count > 1 else ","
    many = f"{vent.count} vents alike, " if vent.count > 1 else ""
    return f"{many}{sizes[vent.shape]}{each} {digits(SQUARE_CENTIMETRES * vent.area_m2, 1)} cm²"


def _mm(length_m: float | None) -> str:
    if length_m is None:
        return "?"
    return f"{MILLIMETRES * length_m:.1f}".removesuffix(".0")


def sureness_words(plan: Plan) -> str:
    """How far the tuning may be off, what decides it, and what to do about the largest part."""
    found, tuning = plan.expected.get("tuning_hz"), expected_interval(plan, "tuning_hz")
    if found is None or tuning is None or plan.prediction.tuning_hz is None:
        return ""
    down, up = (100.0 * (end / tuning.value - 1.0) for end in (tuning.low, tuning.high))
    told = f"{number(down, 1)} to +{number(up, 1)} % for 95 of 100 such boxes"
    weighty = [(cause, share) for cause, share in found.shares if share >= 0.02][:4]
    if not weighty:
        return f"{told}."
    parts = ", ".join(f"{_CAUSES[cause]} {100.0 * share:.0f} %" for cause, share in weighty)
    cure = _CURE.get(weighty[0][0], "")
    return f"{told}. Share of the variance: {parts}. {sentence(cure)}".strip()


def notes(plan: Plan) -> tuple[str, ...]:
    """What was filled in, what contradicts itself, what to reconsider: one sentence each, cleaned."""
    return tuple(sentence(note) for note in plan.notes if clean(note))


def tuned_hz(plan: Plan) -> float:
    """The tuning that the curves are drawn for: what box and vent predict, or else the target, Hz."""
    return plan.prediction.target_hz if plan.prediction.tuning_hz is None else plan.prediction.tuning_hz

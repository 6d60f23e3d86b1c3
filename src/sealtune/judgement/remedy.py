"""What each cause looks like, what to do about it and what would confirm it, in the words of the workshop."""

from __future__ import annotations

from dataclasses import dataclass

from sealtune.judgement.amounts import air_there, change_length, or_the_vent, put_in, take_out
from sealtune.judgement.volume import VolumeOff
from sealtune.records.design import DriverWiring
from sealtune.records.interval import Interval
from sealtune.records.verdict import FaultName, Finding

PLUGGED = "Stop the vent airtight (a bung wrapped in closed-cell foam) and record once more as role plugged"

AFTER = (
    "Leave the vent as it is until the other fault is put right, for that moves the tuning too; then record again, and "
    "the change of length is told."
)

JOINTS = (
    "the vent's flange",
    "the driver's gasket",
    "the terminal cup",
    "the panel joints",
    "screw and cable holes",
)
"""The order in which joints are searched: those most often left open first (common practice, no statistics known)."""


@dataclass(frozen=True)
class Facts:
    """What the wording needs to know; None where unknown.

    tuning_hz, target_hz, box_q, expected_q: measured, and expected of a sealed box as designed
    likeness: what the leak is like, in words
    change_m: change of the vent's length that reaches the target, m
    peak_hz: the single peak of a box that shows one
    far_peak_hz: a peak far above those of the box, as a crossover may have
    re_ohm, designed_ohm: R_E at the terminals, measured and designed, ohm
    series_ohm: extra resistance that explains the difference, ohm
    volume: what follows if the volume alone is wrong
    vents: how many there are; change_m is of each
    drivers, wiring: how many there are, and how they are wired by the design
    wired_scale: how many times the designed resistance they have if wired otherwise
    plugged, free_air: whether a recording with the vent plugged, or of the driver alone, has been judged along
    after: whether another fault that moves the tuning is probable and comes first
    fs_hz, data_fs_hz, qes, data_qes: resonance of the driver in the box and Q_ES, measured and by its data
    """

    tuning_hz: float | None = None
    target_hz: float | None = None
    box_q: float | None = None
    expected_q: float | None = None
    likeness: str | None = None
    change_m: Interval | None = None
    peak_hz: float | None = None
    far_peak_hz: float | None = None
    re_ohm: float | None = None
    designed_ohm: float | None = None
    series_ohm: Interval | None = None
    volume: VolumeOff | None = None
    vents: int = 1
    plugged: bool = False
    free_air: bool = False
    after: bool = False
    fs_hz: float | None = None
    data_fs_hz: float | None = None
    qes: float | None = None
    data_qes: float | None = None
    drivers: int = 1
    wiring: DriverWiring = "single"
    wired_scale: float = 1.0


def finding(fault: FaultName, probability: float, facts: Facts) -> Finding:
    """Return the finding of a fault, worded with the facts; the probability is kept within 0..1."""
    evidence, remedy, confirm = _words(fault, facts)
    return Finding(fault, min(max(probability, 0.0), 1.0), evidence, remedy, confirm)


def _words(fault: FaultName, facts: Facts) -> tuple[str, str, str]:
    """Return evidence, remedy and confirmation."""
    tuned = f"The box resonates at {_hz(facts.tuning_hz)} where {_hz(facts.target_hz)} was designed."
    match fault:
        case "leak":
            like = f": {facts.likeness}" if facts.likeness else ""
            first, *others = JOINTS
            again = (
                "Make sure that the bung is airtight: one that leaks looks the same. Once the box is sealed, record "
                "again: box Q must rise or the tuning fall."
                if facts.plugged
                else f"{PLUGGED}: a leak then shows a second, low peak."
            )
            return (
                f"{_damped(facts)}{_tuning_moved(facts)}{like}.",
                f"Search {first} first, then {', '.join(others[:-1])}, {others[-1]}: play a low tone quietly and go "
                "along each with a wet hand. Glue an open joint outside and inside; give gasket and cup new foam and "
                "tighten the screws crosswise.",
                "To see the place, brush soapy water on bare wood or metal and look for bubbles, or let smoke drift "
                "along the joint while the tone plays (no flame or ember near finish or solvent that is still wet; "
                f"local fire rules come first). {again}",
            )
        case "vent_long" | "vent_short" if facts.after:
            return (tuned, AFTER, "Measure the vent from mouth to mouth with a rod.")
        case "vent_long":
            return (
                tuned,
                change_length(facts.change_m, shorten=True, vents=facts.vents),
                "Measure the vent from mouth to mouth with a rod.",
            )
        case "vent_short":
            hole = (
                "The recording with the vent plugged speaks against a hole, which looks the same with it open."
                if facts.plugged
                else f"{PLUGGED}: a hole looks the same as a short vent as long as the vent is open."
            )
            return (
                tuned,
                change_length(facts.change_m, shorten=False, vents=facts.vents),
                f"Measure the vent from mouth to mouth with a rod. {hole}",
            )
        case "volume_small":
            return (
                air_there(facts.volume, "less"),
                take_out(facts.volume) + _or_the_vent(facts, shorten=False),
                "Work out the net volume again, with driver, vent and bracing taken off; or fill the open box with "
                "dry packing beads and measure them.",
            )
        case "volume_large":
            return (
                air_there(facts.volume, "more"),
                put_in(facts.volume) + _or_the_vent(facts, shorten=True),
                "Work out the net volume again, with driver, vent and bracing taken off. Much damping material makes "
                "a box seem larger: take it out and measure again.",
            )
        case "vent_blocked":
            return (
                f"There is one main peak only, at {_hz(facts.peak_hz)}, where the driver resonates in the closed box.",
                "Look into the vent with a lamp and push a rod through: glue, a forgotten bung, cloth or lining "
                "closes it.",
                "Hold a hand before the vent and play 30 to 60 Hz quietly: an open vent blows.",
            )
        case "vent_restricted":
            return (
                tuned,
                "Clear the vent: squeezed-out glue, lining or cloth narrows it, or its inner end stands too close "
                "to a wall.",
                "Push a rod as thick as the vent through it, and feel for its inner end.",
            )
        case "vent_lined":
            return (
                f"{_damped(facts)}{_tuning_moved(facts)}.",
                "Take damping material away from both ends of the vent: a hand's breadth around the inner mouth "
                "stays free.",
                "Look in through the driver's opening, take the material out and measure again.",
            )
        case "overstuffed":
            return (
                f"{_damped(facts)}{_tuning_moved(facts)}.",
                "Take out damping material until the walls alone are lined, and measure again.",
                "Measure once without any damping material: the box Q must rise clearly.",
            )
        case "series_resistance":
            return (
                _in_series(facts),
                "Look for it where the current passes: clips, terminal cup, solder joints, a crossover's coil, thin or "
                "long cable. What belongs there goes into design.toml ([crossover] series_ohm).",
                "Measure R_E with an ohmmeter at the driver's own terminals; or short the leads at the driver and "
                "measure them. If neither shows the ohms, measure the reference resistor.",
            )
        case "driver_wiring" if facts.re_ohm is None:
            return (
                f"There is one main peak only, at {_hz(facts.peak_hz)}, where the drivers resonate without any box: as "
                "if some pushed while the others pull.",
                "Swap the two leads of the driver whose cone goes in while the other's comes out; all cones must move "
                "the same way. Play nothing loud before: without the air's spring the cones travel too far.",
                "Disconnect the amplifier and touch the leads to a battery of 1.5 V for a moment: every cone must "
                "move outwards.",
            )
        case "driver_wiring":
            return _wired_otherwise(facts)
        case "not_a_vented_box" if facts.far_peak_hz is not None:
            return (
                f"There is a further peak at {facts.far_peak_hz:.0f} Hz, far above the two of a vented box: a "
                "crossover between the clips and the driver, or another kind of box.",
                "Measure at the driver's own terminals, with the crossover disconnected, or write the crossover into "
                "design.toml.",
                "The peak at that frequency must then be gone.",
            )
        case "not_a_vented_box":
            return (
                "The curve does not run like that of one driver in a box with an open vent.",
                "Check what the clips are connected to, and that driver and vent are in place.",
                "Measure the driver alone (role free-air): it must show one clear peak.",
            )
        case "driver_off":
            return (
                _off_its_data(facts),
                f"{_played_in(facts)}rite the measured data into design.toml, or ask for another driver.",
                "Compare the driver's own curve (role free-air) with its sheet."
                if facts.free_air
                else "Measure the driver alone, out of the box (role free-air).",
            )
        case _:
            return (
                "The driver's f_S, motor or suspension is not as the design has it.",
                "Check the driver's data and wiring against the design.",
                "Measure the driver alone before mounting (role free-air).",
            )


def _wired_otherwise(facts: Facts) -> tuple[str, str, str]:
    """Return evidence, remedy and confirmation of drivers wired otherwise than designed."""
    assert facts.re_ohm is not None
    assert facts.designed_ohm is not None
    more = facts.wired_scale > 1.0
    whole = facts.wired_scale in (float(facts.drivers**2), facts.drivers**-2.0)
    way = ("all in series" if more else "all in parallel") if whole else "two by two"
    meant = "in parallel" if facts.wiring == "parallel" else "in series"
    burden = (
        "The amplifier then gives far less power than meant; tuning and sealing are judged all the same."
        if more
        else "Do not play it before that: so low a resistance may overload the amplifier."
    )
    return (
        f"The resistance R_E is {facts.re_ohm:.2f} ohm where {facts.designed_ohm:.2f} ohm was designed, and the peaks "
        f"are off alike: the {facts.drivers} drivers are wired {way}.",
        f"Wire the {facts.drivers} drivers {meant}, as designed, or write into design.toml how they are meant to be "
        f"wired. {burden}",
        "Measure the resistance at the box's terminals with an ohmmeter, amplifier disconnected. If it is as designed, "
        "the reference resistor is another one than reference_ohm says.",
    )


def _or_the_vent(facts: Facts, *, shorten: bool) -> str:
    return "" if facts.after else or_the_vent(facts.volume, shorten=shorten, vents=facts.vents)


def _played_in(facts: Facts) -> str:
    if facts.fs_hz is None or facts.data_fs_hz is None or facts.fs_hz < facts.data_fs_hz:
        return "W"
    return (
        "Play a new driver in for some hours at moderate level and measure again: its suspension is often stiffer than "
        "the sheet says. If it stays so, w"
    )


def _off_its_data(facts: Facts) -> str:
    told = [
        f"{name} {found:.{places}f}{unit} where the sheet leads to {data:.{places}f}{unit}"
        for name, found, data, places, unit in (
            ("a resonance of", facts.fs_hz, facts.data_fs_hz, 1, " Hz"),
            ("a Q_ES of", facts.qes, facts.data_qes, 2, ""),
        )
        if found is not None and data is not None
    ]
    if not told:
        return "The peaks lie elsewhere than the driver's data say."
    return f"In the box the driver has {' and '.join(told)}."


def _hz(value: float | None) -> str:
    return "an unknown frequency" if value is None else f"{value:.1f} Hz"


def _damped(facts: Facts) -> str:
    if facts.box_q is None or facts.expected_q is None:
        return "The box loses more than a sealed one"
    if facts.box_q > 0.8 * facts.expected_q:
        return f"Box Q {facts.box_q:.1f}, as usual"
    return f"Box Q {facts.box_q:.1f} where a sealed box of this kind has about {facts.expected_q:.0f}"


def _tuning_moved(facts: Facts) -> str:
    if facts.tuning_hz is None or facts.target_hz is None:
        return ""
    change = 100.0 * (facts.tuning_hz / facts.target_hz - 1.0)
    if abs(change) < 1.0:
        return ""
    return f", and the tuning {abs(change):.0f} % too {'high' if change > 0 else 'low'}"


def _in_series(facts: Facts) -> str:
    if facts.re_ohm is None or facts.designed_ohm is None or facts.series_ohm is None:
        return "There is more resistance before the driver than designed."
    extra = facts.series_ohm
    weaker = 100.0 * extra.value / facts.designed_ohm
    return (
        f"The resistance R_E is {facts.re_ohm:.2f} ohm where {facts.designed_ohm:.2f} ohm was designed, and the peaks "
        f"have not grown along: about {extra.value:.1f} ohm ({extra.low:.1f} to {extra.high:.1f} ohm) in series beside "
        f"what tolerance and a warm coil explain, which raises the driver's Q_ES by {weaker:.0f} %."
    )

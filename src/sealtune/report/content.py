"""What to say about a result, in the words of the workshop; drawn from by the text and by the page."""

from __future__ import annotations

import math
import re
import unicodedata

from sealtune.records.interval import Interval
from sealtune.records.verdict import FaultName, Finding, Problem, ProblemName, Result, VerdictWord

VERDICT_WORDS: dict[VerdictWord, str] = {"good": "GOOD", "rework": "REWORK", "remeasure": "MEASURE AGAIN"}

FAULT_TITLES: dict[FaultName, str] = {
    "leak": "Leak",
    "vent_long": "Vent too long",
    "vent_short": "Vent too short",
    "vent_blocked": "Vent blocked",
    "vent_restricted": "Vent narrowed",
    "volume_small": "Too little air in the box",
    "volume_large": "Too much air in the box",
    "vent_lined": "Damping material in the vent",
    "overstuffed": "Too much damping material",
    "driver_off": "Driver off its data",
    "driver_wiring": "Wiring of the drivers",
    "series_resistance": "Extra resistance in the wiring",
    "polarity": "Polarity",
    "not_a_vented_box": "Not a vented box",
}

FAULT_REASONS: dict[FaultName, str] = {
    "leak": "the box leaks",
    "vent_long": "the vent is too long",
    "vent_short": "the vent is too short",
    "vent_blocked": "the vent is blocked",
    "vent_restricted": "something narrows the vent",
    "volume_small": "the box holds less air than designed",
    "volume_large": "the box holds more air than designed",
    "vent_lined": "damping material sits in or over the vent",
    "overstuffed": "there is too much damping material in the box",
    "driver_off": "the driver differs from its data",
    "driver_wiring": "the drivers are not wired as designed",
    "series_resistance": "there is extra resistance in the wiring",
    "polarity": "a driver is connected the wrong way round",
    "not_a_vented_box": "this does not behave like a vented box",
}

PROBLEM_TITLES: dict[ProblemName, str] = {
    "clipped": "the recording is overloaded (clipped)",
    "too_quiet": "the recording is too quiet",
    "noisy": "the recording is noisy or disturbed",
    "hum": "there is mains hum in the recording",
    "dropout": "the recording has a gap, a jump or a drift",
    "channels_swapped": "the two channels are swapped",
    "channel_missing": "the two voltages are not both there",
    "wrong_wiring": "the wiring is not the one stated",
    "wrong_reference": "the reference resistor may not be the one stated",
    "band_too_narrow": "the measured band is too narrow",
    "too_coarse": "the measured points lie too far apart",
    "truncated": "the recording ends too early",
    "not_impedance": "this is not the impedance it should be",
    "level_dependent": "the result changes with the level",
}

INTERVALS = "An interval holds the true value 95 times in 100."
"""At the foot of every report."""

LEAST_PROBABILITY = 0.05
"""Findings less probable than this are not worth a builder's time."""


def clean(text: str) -> str:
    """Text that is safe on a terminal and in a page: one line, no control or direction marks.

    text: any string, such as a folder's name or a message
    returns: the same with line breaks as blanks and unprintable characters as question marks
    """
    kept: list[str] = []
    for char in text:
        if char.isspace():
            kept.append(" ")
        elif unicodedata.category(char) == "Cf":
            continue
        else:
            kept.append(char if char.isprintable() else "?")
    return " ".join("".join(kept).split())


def sentence(text: str) -> str:
    """The cleaned text with a full stop where it has no closing mark; empty stays empty."""
    text = clean(text)
    return text if not text or text[-1] in ".!?" else text + "."


def capital(text: str) -> str:
    """The text with a capital letter at its beginning."""
    return text[:1].upper() + text[1:]


def bound(text: str, joint: str) -> str:
    """The text with `joint` instead of the blank between a number and its unit, so that no line ends between them.

    joint: a no-break space for a page; for the terminal any sign that a wrapped line turns back into a blank
    """
    return re.sub(r"(?<=\d) (?=(?:%|Hz|mm|cm²|ohm|Ω|W|V|dB|ms|m/s|litres)(?![A-Za-z]))", joint, text)


def number(value: float | None, decimals: int) -> str:
    """A number with so many decimals; "not known" for None and for what is not finite; never "-0.0"."""
    if value is None or not math.isfinite(value):
        return "not known"
    if abs(value) >= 1e7:
        return f"{value:.2e}"
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def signed(value: float, decimals: int) -> str:
    """A finite difference with its sign; one that rounds to zero has none."""
    text = f"{value:+.{decimals}f}"
    return text[1:] if float(text) == 0.0 else text


def decimals_for(interval: Interval, most: int = 2) -> int:
    """How many decimals an interval deserves: enough for its two ends to differ by at least two steps."""
    width = interval.high - interval.low
    if not (math.isfinite(width) and width > 0.0):
        return min(1, most)
    return max(0, min(most, math.ceil(-math.log10(width / 2.0))))


def hz_decimals(interval: Interval) -> int:
    """Decimals for a frequency: one, or two where the interval is narrower than 0.2 Hz."""
    return max(1, decimals_for(interval))


def span(interval: Interval, decimals: int) -> str:
    """The two ends of an interval in words: "43.7 to 44.1"."""
    return f"{number(interval.low, decimals)} to {number(interval.high, decimals)}"


def percent(probability: float) -> str:
    """A probability (0..1) as a percentage, never claiming 0 or 100."""
    if not math.isfinite(probability):
        return "chance not known"
    if probability < 0.01:
        return "under 1 %"
    if probability > 0.99:
        return "over 99 %"
    return f"{100.0 * probability:.0f} %"


def chance_words(probability: float) -> str:
    """A probability (0..1) in a word or two, by the percentage that is printed beside it."""
    probability = round(probability, 2)
    for above, words in ((0.95, "almost certain"), (0.8, "very likely"), (0.5, "likely"), (0.2, "possible")):
        if probability >= above:
            return words
    return "unlikely"


def ranked_findings(result: Result) -> tuple[Finding, ...]:
    """The findings worth naming, the most probable first."""
    worth = [finding for finding in result.findings if finding.probability >= LEAST_PROBABILITY]
    return tuple(sorted(worth, key=lambda finding: -finding.probability))


def ranked_problems(result: Result) -> tuple[Problem, ...]:
    """The problems of the recording, those that spoil it first."""
    return tuple(sorted(result.problems, key=lambda problem: not problem.spoils))


def reason(result: Result) -> str:
    """Why the verdict is what it is, in half a dozen words without a full stop."""
    if result.verdict == "remeasure":
        problems = ranked_problems(result)
        return PROBLEM_TITLES[problems[0].problem] if problems else "this recording cannot be judged"
    if result.verdict == "good":
        return (
            "sealed and tuned as designed" if result.prediction else "sealed, as far as this recording shows"
        )
    findings = ranked_findings(result)
    if not findings:
        return "the measured values are not those designed"
    sure = round(findings[0].probability, 2) >= 0.8
    hedge = "" if sure else "possibly " if doubted(result) else "probably "
    return hedge + FAULT_REASONS[findings[0].fault]


def doubted(result: Result) -> bool:
    """Return whether a rework is asked for because of what is less likely than not."""
    findings = ranked_findings(result)
    return result.verdict == "rework" and bool(findings) and round(findings[0].probability, 2) < 0.5


def headline(result: Result) -> str:
    """Name, verdict and reason in one line: "left: REWORK - the box leaks"."""
    return f"{clean(result.cabinet) or 'cabinet'}: {VERDICT_WORDS[result.verdict]} - {reason(result)}"


def first_step(result: Result) -> str:
    """The one thing to do next."""
    if result.verdict == "remeasure":
        problems = ranked_problems(result)
        step = sentence(problems[0].remedy) if problems else ""
        return step or "Put that right, and make the recording again."
    if result.verdict == "good":
        if result.near_field is not None and result.near_field.noises:
            return "The box is right; only find what is heard beside the music, as noted below."
        return "Nothing to do: leave the cabinet as it is."
    findings = ranked_findings(result)
    step = sentence(findings[0].remedy) if findings else ""
    return step or "No single cause stands out: compare the numbers with the design."


def deviation_percent(result: Result) -> float | None:
    """How far the tuning lies above (+) or below (-) the design's, percent; None where either is missing."""
    if result.fit is None or result.prediction is None or not result.prediction.target_hz > 0.0:
        return None
    return 100.0 * (result.fit.tuning_hz.value / result.prediction.target_hz - 1.0)


def deviation_words(result: Result) -> str:
    """The deviation of the tuning in words, with whether it is within the design's tolerance."""
    deviation = deviation_percent(result)
    if deviation is None or result.fit is None or result.prediction is None or not math.isfinite(deviation):
        return ""
    measured = result.fit.tuning_hz.value
    if result.prediction.low_hz <= measured <= result.prediction.high_hz:
        side = (
            "on target"
            if abs(deviation) < 0.05
            else f"{abs(deviation):.1f} % {'high' if deviation > 0 else 'low'}"
        )
        return f"{side}, within tolerance"
    return f"{number(abs(deviation), 1)} % too {'high' if deviation > 0 else 'low'}"


def tuning_words(result: Result) -> str:
    """The measured tuning with its interval against the designed one with its tolerance."""
    prediction = result.prediction
    meant = ""
    if prediction is not None:
        meant = (
            f"designed {number(prediction.target_hz, 1)} Hz "
            f"({number(prediction.low_hz, 1)} to {number(prediction.high_hz, 1)})"
        )
    if result.fit is None:
        return "could not be read from this recording" + (f"; {meant}" if meant else "")
    tuning = result.fit.tuning_hz
    places = hz_decimals(tuning)
    found = f"{number(tuning.value, places)} Hz ({span(tuning, places)})"
    return (
        f"{found}, {meant}: {deviation_words(result)}" if meant else f"{found}; no design to compare it with"
    )


def curve_words(result: Result) -> str:
    """The two impedance peaks and the saddle between them."""
    marks = result.landmarks
    if marks is None:
        return "no impedance curve could be read"
    if marks.lower is None or marks.saddle is None or marks.upper is None:
        found = ", ".join(f"{number(peak.hz, 1)} Hz" for peak in marks.peaks[:4])
        count = {0: "no peak", 1: "only one peak"}.get(len(marks.peaks), f"{len(marks.peaks)} peaks")
        return f"{count}{f' ({found})' if found else ''}; a vented box shows two with a saddle between"
    lower, saddle, upper = (
        f"{number(mark.hz, 1)} Hz ({number(mark.ohm, 1)} ohm)"
        for mark in (marks.lower, marks.saddle, marks.upper)
    )
    return f"peaks {lower} and {upper}, saddle {saddle}"


def box_q_words(result: Result) -> str:
    """What the box Q means; held against a sealed box of this design, or against common practice without one.

    Without a design: 5 to 20 is what finished boxes show, most of them 5 to 10 [Small1973], and a leak is
    looked for below 5 (common practice, not a standard).
    """
    if result.fit is None or not math.isfinite(result.fit.box_q.value):
        return "not known"
    q = result.fit.box_q
    if result.prediction is not None and result.prediction.box_q > 0.0:
        spread = math.exp(1.645 * max(result.prediction.box_q_spread, 0.0))
        low, high = result.prediction.box_q / spread, result.prediction.box_q * spread
        kind = "a sealed box like this"
    else:
        low, high, kind = 5.0, 20.0, "a sealed box usually"
    has = "has" if kind.endswith("this") else "shows"
    if q.high < low:
        return f"low, a sign of lost air or friction: {kind} {has} {number(low, 0)} to {number(high, 0)}"
    if result.prediction is not None and q.value < 0.8 * result.prediction.box_q:
        usual = number(result.prediction.box_q, 0)
        return f"on the low side: {kind} {has} about {usual}, from {number(low, 0)} to {number(high, 0)}"
    if q.value < low:
        return f"on the low side: {kind} {has} {number(low, 0)} to {number(high, 0)}"
    if q.value > high:
        return f"high, the box loses very little: {kind} {has} {number(low, 0)} to {number(high, 0)}"
    return f"as {kind} {has}: {number(low, 0)} to {number(high, 0)}"


def leak_words(result: Result) -> str:
    """How probable a leak is, how large and what it is like."""
    leak = result.leak
    if result.fit is None:
        return "cannot be judged from this recording"
    area = leak.area_mm2
    if leak.probability < LEAST_PROBABILITY or (area is not None and area.value == 0.0):
        most = ""
        if area is not None and math.isfinite(area.high) and area.high >= 0.1:
            most = f"; what could hide is at most {number(area.high, 0 if area.high >= 2 else 1)} square mm"
        found = "no sign of one" if leak.probability < LEAST_PROBABILITY else chance_words(leak.probability)
        return f"{found} ({percent(leak.probability)}){most}"
    words = f"{chance_words(leak.probability)} ({percent(leak.probability)})"
    if area is not None:
        places = min(1, decimals_for(area))
        words += f", about {number(area.value, places)} square mm ({span(area, places)})"
    likeness = clean(leak.likeness or "")
    return f"{words}, {likeness}" if likeness else words


def change_words(change_m: Interval) -> str:
    """A change of the vent's length in mm: + lengthens, - shortens."""
    word = "lengthen" if change_m.value >= 0.0 else "shorten"
    sign = 1000.0 if change_m.value >= 0.0 else -1000.0
    ends = sorted((sign * change_m.low, sign * change_m.high))
    millimetres = Interval(sign * change_m.value, ends[0], ends[1])
    places = min(1, decimals_for(millimetres))
    return f"{word} by {number(millimetres.value, places)} mm ({span(millimetres, places)})"


def vent_words(change_m: Interval, leak_probability: float, vents: int = 1) -> str:
    """What to do with the length of each vent; nothing before a probable leak is sealed, which moves the tuning."""
    if leak_probability >= 0.5:
        return "leave its length alone until the box is sealed, then check again"
    each = "" if vents == 1 else f"each of the {vents}: "
    return f"{each}{change_words(change_m)} to reach the designed tuning"

"""Where a recording comes from, as one line of JSON that fits the comment tag of a sound file.

The tag is read with distrust: it may be foreign, damaged or edited by hand. Whatever is not of the right
type and in a sane range is left out, as if it had never been written.
"""

from __future__ import annotations

import json
import math
from datetime import datetime

from sealtune.records.recording import ROLES, WIRINGS, Jig, Origin, Sweep

MARKER = "sealtune"
VERSION = 1
LONGEST_TAG = 2000
"""Characters; a comment of 2047 or more in a WAV file is dropped by libsndfile when it is read (tried)."""

LOWEST_REFERENCE_OHM = 0.001
HIGHEST_REFERENCE_OHM = 1e6
HIGHEST_HZ = 1e6
LONGEST_S = 1200.0
MOST_REPEATS = 100


def origin_to_tag(origin: Origin) -> str:
    """Return the origin as compact ASCII JSON of at most LONGEST_TAG characters.

    origin: what is known of the recording; unknown parts are left out
    Texts (note, device, program) too long for the tag are cut, the longest first.
    """
    fields: dict[str, object] = {MARKER: VERSION}
    if origin.role is not None:
        fields["role"] = origin.role
    if origin.jig is not None:
        fields["wiring"] = origin.jig.wiring
        fields["reference_ohm"] = origin.jig.reference_ohm
    if origin.sweep is not None:
        sweep = origin.sweep
        played: dict[str, object] = {
            "start_hz": sweep.start_hz,
            "stop_hz": sweep.stop_hz,
            "seconds": sweep.seconds,
            "begins_s": sweep.begins_s,
            "fade_s": sweep.fade_s,
        }
        if sweep.repeats != 1:
            played |= {"repeats": sweep.repeats, "pause_s": sweep.pause_s}
        fields["sweep"] = played
    if origin.level_dbfs is not None and math.isfinite(origin.level_dbfs):
        fields["level_dbfs"] = origin.level_dbfs
    if origin.recorded_at is not None:
        fields["recorded_at"] = origin.recorded_at.isoformat()
    if origin.simulated:
        fields["simulated"] = True
    if not origin.complete:
        fields["complete"] = False
    texts = {"program": origin.program, "device": origin.device, "note": origin.note}
    kept = {key: value for key, value in texts.items() if value}
    while True:
        tag = json.dumps({**fields, **kept}, separators=(",", ":"), ensure_ascii=True)
        if len(tag) <= LONGEST_TAG or not kept:
            return tag
        longest = max(kept, key=lambda key: len(json.dumps(kept[key])))
        kept[longest] = kept[longest][: len(kept[longest]) * 3 // 4]
        if not kept[longest]:
            del kept[longest]


def origin_from_tag(tag: str) -> Origin:
    """Return what the tag says of the recording; an empty Origin for a foreign or broken tag."""
    try:
        fields = json.loads(tag)
    except (ValueError, RecursionError):
        return Origin()
    if not isinstance(fields, dict) or isinstance(fields.get(MARKER), bool) or fields.get(MARKER) != VERSION:
        return Origin()
    simulated = fields.get("simulated")
    complete = fields.get("complete")
    return Origin(
        role=next((role for role in ROLES if role == fields.get("role")), None),
        jig=_jig(fields),
        sweep=_sweep(fields.get("sweep")),
        level_dbfs=_number(fields.get("level_dbfs"), -200.0, 100.0),
        device=_text(fields.get("device")),
        recorded_at=_moment(fields.get("recorded_at")),
        program=_text(fields.get("program")),
        simulated=simulated if isinstance(simulated, bool) else False,
        complete=complete if isinstance(complete, bool) else True,
        note=_text(fields.get("note")),
    )


def _number(value: object, low: float, high: float) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    if not low <= value <= high:  # also refuses NaN, and compares huge integers without converting them
        return None
    return float(value)


def _text(value: object) -> str | None:
    if not isinstance(value, str):
        return None
    plain = " ".join("".join(letter if letter.isprintable() else " " for letter in value).split())
    return plain or None


def _jig(fields: dict[str, object]) -> Jig | None:
    wiring = next((wiring for wiring in WIRINGS if wiring == fields.get("wiring")), None)
    reference_ohm = _number(fields.get("reference_ohm"), LOWEST_REFERENCE_OHM, HIGHEST_REFERENCE_OHM)
    if wiring is None or reference_ohm is None:
        return None
    return Jig(wiring, reference_ohm)


def _sweep(value: object) -> Sweep | None:
    if not isinstance(value, dict):
        return None
    start_hz = _number(value.get("start_hz"), 1e-3, HIGHEST_HZ)
    stop_hz = _number(value.get("stop_hz"), 1e-3, HIGHEST_HZ)
    seconds = _number(value.get("seconds"), 1e-3, LONGEST_S)
    begins_s = _number(value.get("begins_s", 0.0), 0.0, LONGEST_S)
    fade_s = _number(value.get("fade_s", 0.0), 0.0, LONGEST_S)
    if start_hz is None or stop_hz is None or seconds is None or begins_s is None or fade_s is None:
        return None
    if start_hz >= stop_hz:
        return None
    repeats = value.get("repeats", 1)
    pause_s = _number(value.get("pause_s", 0.0), 0.0, LONGEST_S)
    if isinstance(repeats, bool) or not isinstance(repeats, int) or not 1 <= repeats <= MOST_REPEATS:
        return None  # a sweep whose places are not known helps nobody
    if pause_s is None:
        return None
    return Sweep(start_hz, stop_hz, seconds, begins_s, fade_s, repeats, pause_s)


def _moment(value: object) -> datetime | None:
    if not isinstance(value, str):
        return None
    try:
        moment = datetime.fromisoformat(value)
    except ValueError:
        return None
    return moment if 1970 < moment.year < 3000 else None

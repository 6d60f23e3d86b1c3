"""What a result cannot tell, and what would."""

from __future__ import annotations

from sealtune.records.verdict import Result


def limits(result: Result) -> tuple[str, ...]:
    """Sentences on what this measurement cannot tell, with the measurement that would.

    result: any result, however incomplete
    returns: plain sentences, those that belong to this result first
    """
    roles = set(result.fit.roles if result.fit else (source.role for source in result.sources))
    driver = result.design.driver if result.design else None
    found: list[str] = []
    if result.prediction is None:
        found.append(
            "Whether the tuning is the right one: no design was given. Add a design.toml with the box's "
            "volume and vent or its target tuning."
        )
    if "plugged" not in roles:
        found.append(
            "A round hole and a vent that is too short look alike in this curve, and so do a fine gap and "
            "friction in the vent. A second recording with the vent stopped airtight would tell them apart."
        )
    if result.volume_m3 is None:
        missing = (
            ""
            if driver is not None and driver.vas_m3 is not None
            else " the design does not give the driver's V_AS."
        )
        found.append(f"How much air the box really holds{':' + missing if missing else '.'}")
    found.append(
        "Where a leak is. Only searching finds the place: hand, soapy water or a microphone along the joints."
    )
    found.append(
        "How the box behaves loud. The measurement is made at a low level; rattles, vent noise and a cone at "
        "its limits show only at listening level."
    )
    way_known = result.near_field is not None and result.near_field.polarity is not None
    found.append(
        "How it sounds in your room."
        if way_known
        else "How it sounds in your room, and whether the two boxes of a pair are connected the same way round."
    )
    return tuple(found)

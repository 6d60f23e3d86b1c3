"""From the recordings at cone and mouth to what they tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.sample_faults import sample_problems
from sealtune.analysis.side_noises import distortion, side_noises
from sealtune.errors import RecordingFault
from sealtune.files.cabinet_folder import find_recordings
from sealtune.files.microphone_file import read_microphone
from sealtune.files.sound_file import SOUND_SUFFIXES, read_origin, read_recording
from sealtune.jobs.recordings import beside, unreadable
from sealtune.judgement.near_field import Known, assess
from sealtune.records.microphone import MicrophoneResponse
from sealtune.records.near_field import NearField, OtherLevel, Reading
from sealtune.records.recording import MICROPHONE_ROLES, Recording, Role
from sealtune.records.verdict import Problem

ANOTHER_LEVEL_DB = 2.5

TOO_NOISY = 0.3
"""Noise over the reading, in the middle of all frequencies; what is left then tells nothing."""


def near_field_of(
    chosen: Mapping[Role, Path], known: Known, microphone: Path | None, opened: Recording | None = None
) -> tuple[NearField | None, tuple[Problem, ...]]:
    """Return what the recordings at cone and mouth tell, None without any, and what is wrong with them.

    What rattles in the recording of the open vent comes with it, and alone where there is no other.

    chosen: files by role; other roles are passed over
    known: of the cabinet, by design and impedance
    microphone: its correction file, None for none
    opened: the open vent's recording with its jig, None where it is a table or cannot be judged
    Their problems spoil no verdict on the box: a recording that cannot be used is left out.
    """
    response = None if microphone is None else read_microphone(microphone)
    takes: dict[Role, Recording] = {}
    readings: dict[Role, Reading] = {}
    told: list[Problem] = []
    for role in MICROPHONE_ROLES:
        if role not in chosen:
            continue
        take, problems = _take(chosen[role], role)
        told += problems
        if take is None:
            continue
        reading = _reading(take, role, response)
        if reading.noise > TOO_NOISY:
            told.append(
                Problem(
                    "noisy",
                    f"{chosen[role].name}: the microphone hears more of the room than of the cabinet. It was left "
                    "out.",
                    "Bring the microphone closer, make the room quiet, or play louder, and record again.",
                    spoils=False,
                )
            )
            continue
        takes[role], readings[role] = take, reading
    noises = () if opened is None else side_noises(opened)
    if not readings:
        return (NearField(None, None, noises=noises) if noises else None), tuple(told)
    noises += tuple(noise for take in takes.values() for noise in side_noises(take))
    near = known.tuning_hz
    searched = takes if opened is None else {"open": opened, **takes}
    bent = [] if near is None else [(role, distortion(take, near)) for role, take in searched.items()]
    found = assess(
        readings.get("cone"), readings.get("mouth"), known, noises, calibrated=response is not None,
        distortion=[(role, share) for role, share in bent if share is not None],
    )  # fmt: skip
    others = tuple(
        other for role, take in takes.items() if (other := _other_level(chosen[role], role, take)) is not None
    )
    deaf = tuple(role for role, take in takes.items() if take.origin.sweep is None)
    return replace(found, other_levels=others, not_searched=deaf), tuple(told)


def _other_level(path: Path, role: Role, take: Recording) -> OtherLevel | None:
    """Return what rattles and blows in the newest older recording of the role at another level, None without one."""
    level = take.origin.level_dbfs
    if level is None:
        return None
    for older in find_recordings(path.parent).get(role, [])[-2::-1]:
        origin = read_origin(older) if older.suffix.lower() in SOUND_SUFFIXES else None
        if origin is None or origin.level_dbfs is None or abs(origin.level_dbfs - level) < ANOTHER_LEVEL_DB:
            continue
        before, _ = _take(older, role)
        if before is not None:
            return OtherLevel(role, older.name, origin.level_dbfs - level, side_noises(before))
    return None


def _take(path: Path, role: Role) -> tuple[Recording | None, list[Problem]]:
    """Return a recording that can be used, None where it cannot, and what is wrong with it."""
    if path.suffix.lower() not in SOUND_SUFFIXES:
        return None, [
            Problem(
                "channel_missing",
                f"{path.name} is a table; the role {role} needs a sound file with voltage and microphone. It was left "
                "out.",
                "Record it with channel 1 at the amplifier and channel 2 at the microphone.",
                spoils=False,
            )
        ]
    try:
        recording = read_recording(path)
    except RecordingFault as fault:
        problem = unreadable(fault)
        return None, [replace(problem, detail=f"{problem.detail} It was left out.", spoils=False)]
    recording = replace(recording, origin=replace(recording.origin, role=role))
    problems = sample_problems(recording, microphone=True)
    spoilt = any(problem.spoils for problem in problems)
    return (None if spoilt else recording), beside(path, problems, left_out=spoilt)


def _reading(take: Recording, role: Role, response: MicrophoneResponse | None) -> Reading:
    ratio = measure_ratio(take).ratio
    value, sigma = ratio.value, ratio.sigma
    if response is not None:
        factor = response.at(ratio.frequency_hz)
        value, sigma = value / factor, sigma / np.abs(factor)
    return Reading(role, ratio.frequency_hz, np.asarray(value, dtype=np.complex128), sigma)

"""What the near field has to reach, on virtual cabinets: tuning, sum, polarity, rattles.

OPENBLAS_NUM_THREADS=1 .venv/bin/python -m tests.benchmarks.near_field --cabinets 100 --seed 20260
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

import numpy as np

from sealtune.analysis.acoustic_sum import band_levels_db, plainly
from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.side_noises import side_noises
from sealtune.design.prediction import predict
from sealtune.judgement.near_field import Known, assess
from sealtune.physics.air import standard_air
from sealtune.physics.near_field import openings
from sealtune.records.design import Design
from sealtune.records.near_field import NearField, Reading
from sealtune.records.recording import Recording, Role, Sweep
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.near_field_take import Microphone, record_near_field
from sealtune.virtual.population import draw_cabinet, draw_design
from sealtune.virtual.side_noise import Rattle
from sealtune.virtual.sound_field import Placement, RoomMode, far_field

SWEEP = Sweep(8.0, 1000.0, 8.0, begins_s=0.5, fade_s=0.05)
CROSSTALK = (0.02, 0.2)
LOWEST_OF_SUM = 0.7
"""Of the tuning: below, cone and mouth cancel to a fraction of either."""


@dataclass(frozen=True)
class Case:
    """A design, a cabinet built to it and a microphone before it."""

    design: Design
    cabinet: VirtualCabinet
    place: Placement
    crosstalk: float


def draw_case(rng: np.random.Generator) -> Case:
    """Return a random cabinet with crosstalk of 0.02 to 0.2 and one mode of the room."""
    design = draw_design(rng)
    cabinet = draw_cabinet(design, rng)
    assert cabinet.vent is not None
    tuning_hz = cabinet.truth().tuning_hz
    assert tuning_hz is not None
    radius = cabinet.driver.radius_m
    crosstalk = float(np.exp(rng.uniform(*np.log(CROSSTALK))))
    apart = min(radius * float(rng.uniform(0.5, 1.0)) / (2.0 * crosstalk), 1.0)
    mode = RoomMode(
        float(rng.uniform(0.6, 2.0)) * tuning_hz,
        float(rng.uniform(8.0, 20.0)),
        float(rng.uniform(30.0, 80.0)),
        float(rng.uniform(0.05, 1.0) * rng.choice([-1.0, 1.0])),
    )
    place = Placement(
        cone_distance_m=float(rng.uniform(0.0, 0.1)) * radius,
        mouth_distance_m=float(rng.uniform(0.0, 0.1) * np.sqrt(cabinet.vent.area_m2 / np.pi)),
        apart_m=apart,
        shading=2.0 * crosstalk * apart / radius,
        rooms=(mode,),
    )
    return Case(design, cabinet, place, crosstalk)


def reading(take: Recording, role: Role) -> Reading:
    """Return what the program reads of a take."""
    ratio = measure_ratio(take).ratio
    return Reading(role, ratio.frequency_hz, ratio.value, ratio.sigma)


def heard(case: Case, rng: np.random.Generator, *, rate_hz: float = 8000.0) -> NearField:
    """Return what the program finds by the microphone and the design alone."""
    cone, mouth = (
        reading(record_near_field(case.cabinet, role, SWEEP, rng, place=case.place, rate_hz=rate_hz), role)
        for role in ("cone", "mouth")
    )
    air = standard_air()
    return assess(cone, mouth, Known(case.design, predict(case.design, air), None, air))


def sum_error_db(case: Case, near: NearField) -> tuple[float, float, float]:
    """Return the largest error of the sum in third octaves from 0.7 times the tuning up to the limit, and Keele's.

    And that of the sum against what cones and vents alone send out: nobody holds a microphone to walls and leaks.
    """
    assert near.sound is not None
    assert near.cone is not None
    assert near.mouth is not None
    hz = near.cone.frequency_hz
    far, flows = far_field(case.cabinet, hz), case.cabinet.flows(hz)
    whole, heard_alone = (
        dict(band_levels_db(hz, value, near.sound.limit_hz))
        for value in (far, np.asarray(far * (flows.cones + flows.vent) / flows.total))
    )
    ours = {band.hz: band.level_db for band in near.sound.bands}
    areas = openings(case.design)
    assert areas is not None
    bare = np.add(*plainly(near.cone.value, near.mouth.value, areas))
    tuning_hz = case.cabinet.truth().tuning_hz
    assert tuning_hz is not None
    errors = []
    by_areas = dict(band_levels_db(hz, bare, near.sound.limit_hz))
    for levels, truth in ((ours, whole), (by_areas, whole), (ours, heard_alone)):
        off = {band: levels[band] - truth[band] for band in truth if band in levels}
        common = [value for band, value in off.items() if band >= 2.2 * tuning_hz] or list(off.values())[-3:]
        base = float(np.mean(common))
        errors.append(
            max(abs(value - base) for band, value in off.items() if band >= LOWEST_OF_SUM * tuning_hz)
        )
    return errors[0], errors[1], errors[2]


def polarity_right(case: Case, rng: np.random.Generator, snr_db: float) -> bool:
    """Return whether the polarity comes out as built, with noise of the room so far below the sweep's sound."""
    turned = rng.random() < 0.5
    cabinet = case.cabinet
    if turned:
        cabinet = replace(cabinet, driver=replace(cabinet.driver, bl_tm=-cabinet.driver.bl_tm))
    quiet = Microphone(noise_pa=0.0, hiss_dbfs=None)
    clean = record_near_field(cabinet, "cone", SWEEP, rng, place=case.place, microphone=quiet, rate_hz=8000.0)
    sound = clean.channels[:, 1]
    played = sound[round(0.5 * 8000) : -8000]
    noise = rng.standard_normal(sound.size) * np.sqrt(np.mean(played**2)) * 10.0 ** (-snr_db / 20.0)
    take = replace(clean, channels=np.stack([clean.channels[:, 0], sound + noise], axis=1))
    air = standard_air()
    found = assess(reading(take, "cone"), None, Known(case.design, predict(case.design, air), None, air))
    return found.polarity is not None and found.polarity.word == ("reversed" if turned else "normal")


def rattle_of(rng: np.random.Generator, share: float) -> Rattle:
    """Return a random rattle of that share of the sound."""
    low = float(rng.uniform(20.0, 70.0))
    return Rattle(
        share,
        low,
        low * float(rng.uniform(1.4, 2.5)),
        ring_hz=float(np.exp(rng.uniform(np.log(500.0), np.log(2500.0)))),
        ring_q=float(rng.uniform(4.0, 15.0)),
    )


def rattles(case: Case, rng: np.random.Generator, share: float | None) -> bool:
    """Return whether a rattle is told; a third of the rooms is loud, and in a third somebody knocks."""
    loud = Microphone(noise_pa=0.05) if rng.random() < 1.0 / 3.0 else Microphone()
    take = record_near_field(
        case.cabinet, "cone", SWEEP, rng, place=case.place, microphone=loud,
        rattle=None if share is None else rattle_of(rng, share),
    )  # fmt: skip
    if rng.random() < 1.0 / 3.0:
        at = round(float(rng.uniform(1.0, 6.0)) * take.rate_hz)
        time_s = np.arange(round(0.2 * take.rate_hz)) / take.rate_hz
        knock = 0.2 * np.exp(-time_s / 0.02) * np.sin(2.0 * np.pi * 700.0 * time_s)
        channels = take.channels.copy()
        channels[at : at + knock.size, 1] += knock * np.abs(take.channels[:, 1]).max()
        take = replace(take, channels=channels)
    return any(noise.kind == "rattle" for noise in side_noises(take))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--cabinets", type=int, default=100)
    parser.add_argument("--seed", type=int, default=20260)
    asked = parser.parse_args()
    tuning, null, held, way, found, false = [], [], [], [], [], []
    sums: list[float] = []
    bare: list[float] = []
    alone: list[float] = []
    for number in range(asked.cabinets):
        rng = np.random.default_rng([asked.seed, number])
        case = draw_case(rng)
        truth = case.cabinet.truth().tuning_hz
        assert truth is not None
        near = heard(case, rng)
        if near.tuning_hz is None:
            tuning.append(100.0)
            held.append(False)
        else:
            tuning.append(100.0 * abs(near.tuning_hz.value / truth - 1.0))
            held.append(near.tuning_hz.holds(truth))
        null.append(100.0 if near.null_hz is None else 100.0 * abs(near.null_hz / truth - 1.0))
        for errors, error in zip((sums, bare, alone), sum_error_db(case, near), strict=True):
            errors.append(error)
        way.append(polarity_right(case, rng, 10.0))
        found.append(rattles(case, rng, 0.01))
        false.append(rattles(case, rng, None))
    print(f"{asked.cabinets} cabinets from seed {asked.seed}, crosstalk 0.02 to 0.2, one mode of the room")
    print("error                                     median     95 %  largest   aim")
    for name, values, aim in (
        ("tuning by the near field alone, %", tuning, "0.5, 2"),
        ("tuning by the cone's bare minimum, %", null, ""),
        ("sum against the far field, dB", sums, "0.5"),
        ("  against cone and vent alone, dB", alone, ""),
        ("the bare sum by the areas, dB", bare, ""),
    ):
        print(
            f"{name:40} {np.median(values):7.2f}  {np.percentile(values, 95):7.2f}  {max(values):7.2f}   {aim}"
        )
    print(f"95 % intervals that hold the tuning: {100 * np.mean(held):.0f} %")
    print(f"polarity right at 10 dB: {100 * np.mean(way):.0f} %  (100)")
    print(
        f"rattle of 1 % found: {100 * np.mean(found):.0f} %  (95); told without one: {100 * np.mean(false):.0f} %  (1)"
    )


if __name__ == "__main__":
    main()

"""The whole way of a calibrated bench against the one-port calibration of scikit-rf on the raw samples."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import skrf
from numpy.typing import NDArray
from tests.virtual_person import VirtualPerson

from sealtune.analysis.impedance import measure_ratio
from sealtune.analysis.jig_correction import impedance_curve
from sealtune.capture.take import Taken, take
from sealtune.jobs.calibrate import Order, calibrate
from sealtune.records.recording import Jig, Origin, Recording, Sweep, Wiring
from sealtune.virtual.bench import Bench, Connection
from sealtune.virtual.cabinet import cabinet_from_design
from sealtune.virtual.device_name import built_in_design
from sealtune.virtual.sound_card import SoundCard
from sealtune.virtual.sound_device import VirtualSoundDevice

Complexes = NDArray[np.complex128]
KNOWN_OHM, REFERENCE_OHM, Z0 = 22.0, 10.0, 50.0
HZ = np.geomspace(8.5, 290.0, 25)
ROW = 1024
SWEEP = Sweep(4.0, 1000.0, 4.0, begins_s=0.5, fade_s=0.05)


def bins_of(taken: Taken) -> Complexes:
    """Both channels at the frequencies, by the plain definition of the Fourier integral; no window, no smoothing.

    The turn of a sample is that of its row of 1024 times that of its place in the row.
    """
    samples = taken.channels - taken.channels[:1000].mean(axis=0)
    rows = np.pad(samples, ((0, -len(samples) % ROW), (0, 0))).reshape(-1, ROW, 2)
    turns = -2j * np.pi * HZ[:, None] / taken.rate_hz
    in_row = np.tensordot(np.exp(turns * np.arange(ROW)), rows, axes=(1, 1))
    return np.asarray(np.einsum("fr,frc->fc", np.exp(turns * ROW * np.arange(len(rows))), in_row))


def reflection(channels: Complexes) -> Complexes:
    """The pair of channels as a wave that comes back over one that goes out; any linear mixture would do."""
    first, second = channels.T
    return np.asarray((first - second) / (first + second))


@pytest.mark.parametrize("wiring", ["divider", "sense"])
def test_both_ways_find_the_box_behind_a_distorted_jig(wiring: Wiring) -> None:
    cabinet = cabinet_from_design(built_in_design(), np.random.default_rng(3))
    bench = Bench(cabinet.impedance, wiring, REFERENCE_OHM, leads_ohm=1.0, loading_ohm=20_000.0)
    card = replace(SoundCard(), mismatch_db=20.0 * np.log10(1.03), hum_dbfs=None)
    device = VirtualSoundDevice(bench, card, seed=6)
    order = Order(
        Jig(wiring, REFERENCE_OHM), ("open", "short", "resistor"), KNOWN_OHM, level_dbfs=-20.0, seconds=4.0
    )
    jig = calibrate(device, order, VirtualPerson(device, KNOWN_OHM), clock=device.now_s).jig

    def taken(connection: Connection) -> Taken:
        device.connect(connection)
        return take(device, SWEEP, 48000.0, -20.0, after_s=4.0, clock=device.now_s)

    box = taken("open")
    recording = Recording(box.channels, box.rate_hz, origin=Origin(jig=jig, sweep=box.sweep))
    curve = impedance_curve(measure_ratio(recording).ratio, jig)
    ours = np.interp(HZ, curve.frequency_hz, curve.impedance_ohm.real) + 1j * np.interp(
        HZ, curve.frequency_hz, curve.impedance_ohm.imag
    )

    frequency, one = skrf.Frequency.from_f(HZ, unit="hz"), np.ones(HZ.size, dtype=complex)

    def network(values: Complexes) -> skrf.Network:
        return skrf.Network(frequency=frequency, s=values.reshape(-1, 1, 1), z0=Z0)

    ideals = [one, -one, one * (KNOWN_OHM - Z0) / (KNOWN_OHM + Z0)]
    measured = [reflection(bins_of(taken(load))) for load in ("leads open", "leads shorted", KNOWN_OHM)]
    calibration = skrf.calibration.OnePort(
        ideals=[network(ideal) for ideal in ideals], measured=[network(reading) for reading in measured]
    )
    calibration.run()
    theirs = np.asarray(calibration.apply_cal(network(reflection(bins_of(box)))).z[:, 0, 0])

    truth = cabinet.impedance(HZ)
    # independent: scikit-rf solves for the three error terms of the jig from raw Fourier integrals, noise included
    np.testing.assert_allclose(ours, theirs, rtol=0.01)
    assert np.median(np.abs(ours / theirs - 1.0)) < 0.002
    # exact: the box that was put there; without the known loads the error is beyond 5 %
    np.testing.assert_allclose(ours, truth, rtol=0.004)
    np.testing.assert_allclose(theirs, truth, rtol=0.01)

"""A microphone that is moved along a virtual box: it hears leaks hiss, the vent blow, the tone and the room.

Own physics, in the time domain: the pressure in the box drives the air through a leak against its friction, its
inertia and the pressure that its jet takes away, half rho v^2; the jet sounds with the sixth power of its speed, the
dipole of turbulence at an edge [Curle1955]. How much of that power is sound, what stays in the box on the way in, and
where the spectrum lies are assumptions, marked so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from sealtune.virtual.circuit import Complex, Network
from sealtune.virtual.duct import Air
from sealtune.virtual.enclosure import VirtualCabinet
from sealtune.virtual.parts import Hole, Slit
from sealtune.virtual.room_noise import RoomKind, room_noise

Real = NDArray[np.float64]

EDGE_SOUND = 5e-3  # sound power over rho A v^6 / c^3; assumed
INWARD_SHARE = 0.3  # of the hiss while the air streams in, whose jet is inside; assumed
DISCHARGE = 0.7  # a jet is narrower than its opening (common practice: 0.6 to 0.8)
STROUHAL = 0.2  # the hiss is strongest at 0.2 v / gap (common practice)
OUTSIDE_SHARE = 0.01  # pressure of the tone beside the box over that inside; assumed
OVERTONES = (0.01, 0.003)  # of the driver: from the square and the cube of the tone's pressure in Pa; assumed
LOOP_S = 20.0  # the room's noise repeats
REFERENCE_PA = 20e-6


@dataclass(frozen=True)
class Path:
    """The way of the microphone: to and fro along a seam, metres and seconds.

    length_m: from end to end, once in `seconds`
    leak_m: where the leak lies on it; apart_m: how near the microphone passes
    vent_m, vent_apart_m: the same of the vent's mouth
    """

    length_m: float = 0.6
    seconds: float = 15.0
    leak_m: float = 0.4
    apart_m: float = 0.03
    vent_m: float = 0.1
    vent_apart_m: float = 0.3

    def place_m(self, time_s: Real) -> Real:
        """Return where the microphone is, from 0 to length_m."""
        turn = time_s / self.seconds % 2.0
        return np.asarray(self.length_m * np.minimum(turn, 2.0 - turn))


class LeakMicrophone:
    """Turns the amplifier's volts, block by block, into what the microphone hears."""

    def __init__(
        self,
        cabinet: VirtualCabinet,
        rate_hz: float,
        rng: np.random.Generator,
        *,
        room: RoomKind = "quiet",
        room_db: float = 40.0,
        self_noise_db: float = 20.0,
        full_scale_pa: float = 40.0,
        path: Path | None = None,
    ) -> None:
        """Place it at the beginning of its path.

        room_db, self_noise_db: sound pressure level of the room and of the microphone's own noise, dB re 20 uPa
        full_scale_pa: pressure that fills the input
        """
        self._cabinet, self._rate_hz, self._rng = cabinet, rate_hz, rng
        self._path = path or Path()
        self._step = 16 if rate_hz < 60000.0 else 32  # samples per step of the air's motion
        self._full_scale_pa = full_scale_pa
        self._self_noise_pa = REFERENCE_PA * 10.0 ** (self_noise_db / 20.0)
        loop = round(LOOP_S * rate_hz)
        self._room = REFERENCE_PA * 10.0 ** (room_db / 20.0) * room_noise(room, loop, rate_hz, rng)
        slow_hz = rate_hz / self._step
        self._taps = _responses(cabinet, slow_hz)
        self._tone_pa_v = OUTSIDE_SHARE * float(np.abs(np.fft.rfft(self._taps[0])).max())
        self._before = np.zeros(self._taps.shape[1] - 1)
        self._flows = [0.0 for _ in cabinet.leaks]
        self._last = [0.0 for _ in (*cabinet.leaks, "vent")]
        self._frame = 0
        self._colours = [_colour(gap, 8.0, rate_hz) for gap in (*map(_gap_m, cabinet.leaks), 0.01)]
        self._coloured = [np.zeros((sos.shape[0], 2)) for sos, _ in self._colours]

    def __call__(self, volts: Real) -> Real:
        """Return the next block as heard, full scale 1.0, shape (frames,).

        volts: at the box's terminals, shape (frames,), a whole number of steps of 16 or 32 samples
        """
        slow = volts.reshape(-1, self._step).mean(axis=1)
        before = np.concatenate([self._before, slow])
        self._before = before[slow.size :]
        pressure_pa, vent_m3_s = (np.convolve(before, taps, mode="valid") for taps in self._taps)
        frames = self._frame + np.arange(volts.size)
        place_m = self._path.place_m(frames / self._rate_hz)
        heard = self._room[frames % self._room.size] + self._self_noise_pa * self._rng.standard_normal(
            volts.size
        )
        tone = self._tone_pa_v * volts
        heard += tone + OVERTONES[0] * tone**2 + OVERTONES[1] * tone**3
        air = self._cabinet.air
        for n, leak in enumerate(self._cabinet.leaks):
            speed = self._leak_speed(n, leak, pressure_pa)
            apart_m = np.hypot(place_m - self._path.leak_m, self._path.apart_m)
            heard += self._hiss(n, _sound_w(speed, leak.area_m2, air), apart_m)
        vent = self._cabinet.vent
        if vent is not None and not vent.blocked:
            area_m2 = vent.area_m2 * vent.count
            apart_m = np.hypot(place_m - self._path.vent_m, self._path.vent_apart_m)
            heard += self._hiss(-1, _sound_w(vent_m3_s / area_m2, area_m2, air), apart_m)
        self._frame += volts.size
        return np.asarray(heard / self._full_scale_pa)

    def _leak_speed(self, n: int, leak: Slit | Hole, pressure_pa: Real) -> Real:
        """Return the jet's speed, m/s, outward positive: M dU/dt + R U + rho/2 (U/(C A))^2 = p, step by step."""
        density = self._cabinet.air.density_kg_m3
        friction, inertia = _friction_and_inertia(leak, self._cabinet.air)
        jet = density / (2.0 * (DISCHARGE * leak.area_m2) ** 2)
        step_s = self._step / self._rate_hz
        flow, flows = self._flows[n], np.empty(pressure_pa.size)
        for k, push in enumerate(pressure_pa.tolist()):
            # the losses at the new flow, linearised: stable for any step
            flow = (flow + step_s / inertia * push) / (1.0 + step_s / inertia * (friction + jet * abs(flow)))
            flows[k] = flow
        self._flows[n] = flow
        return flows / (DISCHARGE * leak.area_m2)

    def _hiss(self, n: int, power_w: Real, apart_m: Real) -> Real:
        """Return noise of a power that changes step by step, heard at a distance in half space, Pa."""
        steps = np.concatenate([[self._last[n]], power_w])
        self._last[n] = float(power_w[-1])
        fine = np.interp(np.arange(1, apart_m.size + 1) / self._step, np.arange(steps.size), steps)
        sos, gain = self._colours[n]
        noise, self._coloured[n] = sosfilt(sos, self._rng.standard_normal(apart_m.size), zi=self._coloured[n])
        air = self._cabinet.air
        square = fine * air.density_kg_m3 * air.sound_speed_m_s / (2.0 * np.pi * apart_m**2)
        return np.asarray(gain * noise * np.sqrt(square))


def _responses(cabinet: VirtualCabinet, slow_hz: float) -> Real:
    """Return what one volt does, as impulse responses: pressure in the box, Pa, and flow in the vents, m3/s."""
    count = round(slow_hz)  # one second: the box has rung out
    hz = np.fft.rfftfreq(2 * count, 1.0 / slow_hz)
    above = np.maximum(hz, hz[1])
    network = Network(above.size, ("coil", "cone", "box"))
    cabinet.driver.add_to(network, above, cabinet.air, mounted=True)
    network.connect("box", "ground", cabinet.acoustic_admittance(above))
    potentials = network.potentials("coil")
    pressure = np.where(hz > 0.0, potentials["box"] / potentials["coil"], 0.0)
    vent: Complex = np.zeros(pressure.shape, dtype=np.complex128)
    if cabinet.vent is not None:
        vent = pressure * cabinet.vent.admittance(above, cabinet.air, False)
    both = np.fft.irfft(np.stack([pressure, vent]), 2 * count, axis=1)
    return np.asarray(both[:, :count])


def _gap_m(leak: Slit | Hole) -> float:
    return leak.gap_m if isinstance(leak, Slit) else leak.diameter_m


def _friction_and_inertia(leak: Slit | Hole, air: Air) -> tuple[float, float]:
    """Return the steady viscous resistance, Pa s/m3, and the mass of the air with its ends, kg/m4 [Beranek1954]."""
    if isinstance(leak, Slit):
        friction = 12.0 * air.viscosity_pa_s * leak.depth_m / (leak.width_m * leak.gap_m**3)
    else:
        friction = 128.0 * air.viscosity_pa_s * leak.depth_m / (np.pi * leak.diameter_m**4)
    length_m = leak.depth_m + 0.85 * _gap_m(leak)
    return float(friction), air.density_kg_m3 * length_m / leak.area_m2


def _sound_w(speed_m_s: Real, area_m2: float, air: Air) -> Real:
    """Return the sound power of a jet, W, outward speed positive."""
    heard = np.where(speed_m_s > 0.0, 1.0, INWARD_SHARE)
    scale = EDGE_SOUND * air.density_kg_m3 * area_m2 / air.sound_speed_m_s**3
    return np.asarray(scale * heard * speed_m_s**6)


def _colour(gap_m: float, speed_m_s: float, rate_hz: float) -> tuple[Real, float]:
    """Return a filter for the hiss and the factor that makes its output's root mean square 1."""
    middle_hz = min(STROUHAL * speed_m_s / gap_m, 0.1 * rate_hz)
    sos = butter(1, [0.5 * middle_hz, 4.0 * middle_hz], "bandpass", fs=rate_hz, output="sos")
    impulse = np.zeros(8192)
    impulse[0] = 1.0
    return np.asarray(sos), 1.0 / float(np.sqrt(np.sum(sosfilt(sos, impulse) ** 2)))

"""A steady tone whose frequency swings slowly to and fro, and how late an input hears it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]

LATEST_S = 1.0
"""Longest delay that is looked for: sound over the network takes less."""

STEP_S = 0.005
"""Step of that search; the agreement's peak is wider by far, 1/(2 pi swing)."""

SMOOTHING_S = 0.1
"""The input's own tone is looked at through a window as long: noise further away than about 20 Hz does not count."""


@dataclass(frozen=True)
class Warble:
    """A tone of the frequency centre + swing cos(2 pi t / period).

    centre_hz: > swing_hz
    swing_hz: to either side, > 0: with 0 no delay can be found from it
    period_s: of the swing
    """

    centre_hz: float
    swing_hz: float = 2.0
    period_s: float = 2.0

    def phase(self, time_s: Reals) -> Reals:
        """Return its phase, rad, shape of the times."""
        slow = 2.0 * np.pi / self.period_s
        swung = 2.0 * np.pi * self.swing_hz / slow * np.sin(slow * time_s)
        return np.asarray(2.0 * np.pi * self.centre_hz * time_s + swung)


class Baseband:
    """What channels have near a frequency, moved to 0 Hz and averaged over hops, from blocks as they come."""

    def __init__(self, rate_hz: float, centre_hz: float, hop: int, channels: int) -> None:
        """Begin with silence.

        centre_hz: the frequency
        hop: frames that are averaged
        """
        self.hop = hop
        self._turn_per_frame = -2j * np.pi * centre_hz / rate_hz
        self._frame = 0
        self._rest = np.zeros((0, channels))

    def add(self, block: Reals) -> Complexes:
        """Return the averages that became complete, shape (n, channels).

        block: shape (frames, channels)
        The n-th of all goes over the frames from n * hop on.
        """
        held = np.concatenate([self._rest, block])
        used = held.shape[0] // self.hop * self.hop
        self._rest = held[used:]
        turn = np.exp(self._turn_per_frame * (self._frame + np.arange(used)))
        self._frame += used
        return np.asarray((held[:used] * turn[:, None]).reshape(-1, self.hop, held.shape[1]).mean(axis=1))


def find_delay(bands: Complexes, time_s: Reals, warble: Warble) -> tuple[float, float]:
    """Return how late a channel carries the warble, s, and how well it agrees, 0 to 1.

    bands: of `Baseband`, of one channel, evenly spaced, at least half of the warble's period long, shape (n,)
    time_s: middle of each hop, since the warble began to be played and since the same sample was heard, shape (n,)
    The agreement is the share of the power within about 20 Hz of the tone that a tone of that delay and of any
    steady phase explains. A tone alone gives 1; noise alone below 0.2 over two seconds.
    """
    step = float(time_s[1] - time_s[0])
    window = np.hanning(max(round(SMOOTHING_S / step), 1) + 2)[1:-1]
    window /= window.sum()
    near = np.convolve(bands, window, mode="valid")
    lost = (bands.size - near.size) // 2
    time_s = time_s[lost : lost + near.size]
    power = float(np.sum(np.abs(near) ** 2))
    if power == 0.0:
        return 0.0, 0.0
    delays_s = np.arange(0.0, LATEST_S, STEP_S)
    # the baseband's own carrier differs from this one by a steady phase
    carrier = 2.0 * np.pi * warble.centre_hz * time_s
    late = warble.phase(time_s[None, :] - delays_s[:, None]) - carrier
    agreement = np.abs(np.exp(-1j * late) @ near) ** 2 / (power * near.size)
    best = int(agreement.argmax())
    delay_s = float(delays_s[best])
    if 0 < best < delays_s.size - 1:  # the peak is a parabola near its top
        left, top, right = agreement[best - 1 : best + 2]
        bend = left - 2.0 * top + right
        delay_s += 0.0 if bend == 0.0 else STEP_S * 0.5 * float((left - right) / bend)
    return delay_s, float(agreement[best])

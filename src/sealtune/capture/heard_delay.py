"""How much later than it was played a sweep comes in: a sound device's own delay, found in the signal."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sealtune.records.recording import Sweep

Reals = NDArray[np.float64]

STANDS_OUT = 6.0
"""Peak of the impulse response over its root mean square; noise alone reaches 5."""

INNER = 1.05
"""The sweep's own band ends this much farther in, where its fades are over."""


def heard_delay_s(
    channels: Reals, tone: Reals, start: int, room: int, rate_hz: float, sweep: Sweep
) -> float | None:
    """Return the delay between playing and hearing, s, None where the sweep cannot be heard.

    channels: shape (frames, 2); the louder one counts
    tone: the sweep as it was played, shape (n,)
    start: frame at which it would begin without a delay
    room: frames that it may be late
    rate_hz: samples per second
    It is as exact as the sweep's highest frequency allows, about half a period of that, and holds the group delay of
    what lies between; the ratio of the channels does not need it.
    """
    heard = channels[start : start + tone.size + room]
    heard = heard - heard.mean(axis=0)
    channel = heard[:, int(np.argmax(np.mean(heard**2, axis=0)))]
    length = 1 << int(heard.shape[0]).bit_length()
    frequency_hz = np.fft.rfftfreq(length, 1.0 / rate_hz)
    band = (frequency_hz > INNER * sweep.start_hz) & (frequency_hz < sweep.stop_hz / INNER)
    answer = np.zeros(frequency_hz.size, dtype=np.complex128)
    answer[band] = np.fft.rfft(channel, length)[band] / np.fft.rfft(tone, length)[band]
    response = np.abs(np.fft.irfft(answer, length))
    floor = float(np.sqrt(np.mean(response**2)))
    lag = int(np.argmax(response[: room + 1]))
    return lag / rate_hz if response[lag] > STANDS_OUT * floor > 0.0 else None

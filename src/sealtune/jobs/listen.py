"""Listening for a leak: a warbled tone goes out, and what the microphone hears in step with it is told at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sealtune.records.listening import Heard, Place
from sealtune.records.sound_device import SoundDevice, StreamFlag
from sealtune.signals.band_power import BandPowers
from sealtune.signals.synchronous import InStep, Swelling, in_step, in_step_now, swelling
from sealtune.signals.warble import Baseband, Warble, find_delay

Reals = NDArray[np.float64]

SILENCE_S = 2.0
"""Before the tone: the device settles, and the room is heard."""

SETTLING_S = 0.5
"""Of that silence, what is not counted."""

RISE_S = 3.0
"""The tone rises for so long..."""

RISE_DB = 40.0
"""...from so far below its level."""

FALL_S = 0.1

UPDATE_S = 0.05
"""Time between two readings."""

WINDOW_S = 2.0
"""Window of the word "leak": one period of the warble, so that a steady foreign line spreads evenly."""

NOW_S = 0.17
"""Window of the level that the bar shows, so that it follows the hand: a leak shows when it fills half of it."""

CERTAIN = 3e-5
"""Chance below which a leak is told. In noise as the F distribution has it, three windows in a hundred thousand are
wrong; the margin is for music, voices and motors, whose swelling is not even: at 1e-4, half a per cent of the windows
of a virtual drum machine were told falsely (tests/benchmarks/listening.py)."""

CERTAIN_NOW = 1e-6
"""Chance of the short window below which it may say "leak" too..."""

AGREEING_S = 1.0

AGREES = 0.003
"""...where that of the last second is below this: a foreign line near twice the tone is in step for a moment only."""

LIKELY_NOW = 5e-4
"""Chance below which the short window's level is shown, as not sure."""

CARRIED = 0.4
"""Agreement from which an input counts as carrying the tone."""

SEARCH_EVERY_S = 1.0
SEARCHED_S = 4.0
KEPT_S = 6.0

Shower = Callable[[Heard], None]


@dataclass(frozen=True)
class ListeningOrder:
    """What is played.

    warble: the tone
    level_dbfs: its peak over full scale, dB
    seconds: of the tone, rise included; None until it is stopped
    """

    warble: Warble
    level_dbfs: float = -20.0
    seconds: float | None = None
    rate_hz: float = 48000.0


class Listener:
    """Plays the tone and hears the microphone; what it hears goes to `show` twenty times a second."""

    def __init__(self, order: ListeningOrder, show: Shower) -> None:
        self._order, self._show = order, show
        rate_hz = order.rate_hz
        self._played, self._heard = 0, 0
        self._bands = BandPowers(rate_hz)
        self._hop_s = self._bands.hop / rate_hz
        self._tone = Baseband(rate_hz, order.warble.centre_hz, 5 * self._bands.hop, 2)
        self._powers = np.zeros((0, self._bands.widths.size))
        self._carried = np.zeros((0, 2), dtype=np.complex128)
        self._gone, self._carried_gone = 0, 0  # hops that are no longer kept
        self._room: float | None = None
        self._found: tuple[float, int] | None = None  # delay, channel
        self._searched_s = 0.0
        self._shown = 0
        self._waiting: list[Reals] = []
        self._lost = 0

    def play(self, frames: int) -> Reals | None:
        """Return the next frames to play, None once the tone is over."""
        order = self._order
        time_s = (self._played + np.arange(frames)) / order.rate_hz - SILENCE_S
        self._played += frames
        if order.seconds is not None and time_s[0] > order.seconds + FALL_S:
            return None
        rise_db = RISE_DB * (np.clip(time_s / RISE_S, 0.0, 1.0) - 1.0)
        level = 10.0 ** ((order.level_dbfs + rise_db) / 20.0)
        level *= np.clip(time_s / FALL_S, 0.0, 1.0)
        if order.seconds is not None:
            level *= np.clip((order.seconds - time_s) / FALL_S, 0.0, 1.0)
        return np.asarray(level * np.sin(order.warble.phase(time_s)))

    def hear(self, block: Reals, flags: frozenset[StreamFlag]) -> None:
        """Take a block that came in; show what is heard where a reading is due."""
        if flags and self._time_s > 0.0:
            self._lost += 1
        self._waiting.append(block)
        self._heard += block.shape[0]
        due = int(self._heard / (UPDATE_S * self._order.rate_hz))
        if due > self._shown:
            self._shown = due
            self._take_in(np.concatenate(self._waiting))
            self._waiting = []
            self._show(self._reading())

    def _take_in(self, frames: Reals) -> None:
        self._powers = np.concatenate([self._powers, self._bands.add(frames[:, 1])])
        self._carried = np.concatenate([self._carried, self._tone.add(frames)])
        old = max(self._powers.shape[0] - round(KEPT_S / self._hop_s), 0)
        self._powers, self._gone = self._powers[old:], self._gone + old
        old = max(self._carried.shape[0] - round(KEPT_S / self._hop_s / 5.0), 0)
        self._carried, self._carried_gone = self._carried[old:], self._carried_gone + old

    @property
    def _time_s(self) -> float:
        return self._heard / self._order.rate_hz - SILENCE_S

    def _reading(self) -> Heard:
        now_s = self._time_s
        if now_s < 0.0:
            quiet = self._powers[round(SETTLING_S / self._hop_s) :]
            if quiet.shape[0] > 0:
                self._room = float((quiet / self._bands.widths).mean())
            return Heard(now_s, None, False, None, self._lost)
        if now_s - self._searched_s >= SEARCH_EVERY_S:
            self._searched_s = now_s
            self._search(now_s)
        if self._found is None:
            return Heard(now_s, None, False, None, self._lost)
        delay_s, channel = self._found
        count = min(round(WINDOW_S / self._hop_s), round((now_s - delay_s) / self._hop_s))
        if count < round(AGREEING_S / self._hop_s):
            return Heard(now_s, None, False, channel, self._lost)
        first = self._gone + self._powers.shape[0] - count
        phase = self._order.warble.phase(
            np.arange(first, first + count, dtype=np.float64) * self._hop_s - SILENCE_S - delay_s
        )
        seen = swelling(self._powers[-count:], self._bands.widths, phase, 1.0 / self._hop_s)
        whole, now = in_step(seen), in_step_now(seen, NOW_S)
        sure = is_sure(seen)
        return Heard(now_s, self._decibels(_shown(whole, now, sure)), sure, channel, self._lost)

    def _decibels(self, found: InStep | None) -> float | None:
        room = self._room or (found.room if found else 0.0)  # a gate may keep the silence silent
        if found is None or found.density <= 0.0 or room <= 0.0:
            return None
        return 10.0 * float(np.log10(found.density / room))

    def _search(self, now_s: float) -> None:
        """Look anew for how late the inputs carry the tone, and which one carries it better, if either does."""
        step_s = 5.0 * self._hop_s
        count = min(self._carried.shape[0], round(min(SEARCHED_S, now_s) / step_s))
        first = self._carried_gone + self._carried.shape[0] - count
        time_s = (np.arange(first, first + count, dtype=np.float64) + 0.5) * step_s - SILENCE_S
        found = [find_delay(self._carried[-count:, n], time_s, self._order.warble) for n in (0, 1)]
        channel = int(np.argmax([agreement for _, agreement in found]))
        delay_s, agreement = found[channel]
        self._found = (delay_s, channel) if agreement >= CARRIED else None


def is_sure(seen: Swelling) -> bool:
    """Return whether a leak is told."""
    if in_step(seen).chance < CERTAIN:
        return True
    now = in_step_now(seen, NOW_S).chance < CERTAIN_NOW
    return now and in_step_now(seen, AGREEING_S).chance < AGREES


def _shown(whole: InStep, now: InStep, sure: bool) -> InStep | None:
    """Return the window whose level is shown: the short one where it tells enough, or shows that the hand moved on."""
    if now.chance < LIKELY_NOW or (sure and now.density < 0.5 * whole.density):
        return now
    return whole if sure else None


class Memory:
    """The loudest place so far, and the places that were marked."""

    def __init__(self) -> None:
        self.loudest: Place | None = None
        self.marks: list[Place] = []
        self._recent: list[Heard] = []

    def take(self, heard: Heard) -> None:
        """Take a reading."""
        self._recent = [*(one for one in self._recent if heard.time_s - one.time_s < WINDOW_S), heard]
        if heard.sure and heard.hiss_db is not None:
            loudest = self.loudest
            if loudest is None or loudest.hiss_db is None or heard.hiss_db > loudest.hiss_db:
                self.loudest = Place(0, "", heard.time_s, heard.hiss_db)

    def mark(self, name: str) -> Place | None:
        """Remember the place where the microphone is, None before the first reading.

        It counts as loud as the loudest sure reading of the last two seconds.
        """
        if not self._recent:
            return None
        levels = [one.hiss_db for one in self._recent if one.sure and one.hiss_db is not None]
        place = Place(len(self.marks) + 1, name, self._recent[-1].time_s, max(levels) if levels else None)
        self.marks.append(place)
        return place


def listen(device: SoundDevice, order: ListeningOrder, show: Shower) -> bool:
    """Play the tone and show what is heard, until the time is over or Ctrl-C; return whether Ctrl-C ended it.

    Raises DeviceFault where the device fails.
    """
    listener = Listener(order, show)
    try:
        device.exchange(order.rate_hz, listener.play, listener.hear)
    except KeyboardInterrupt:
        return True
    return False

"""Sound files: what is written comes back; what is broken is named, never guessed."""

from __future__ import annotations

import json
import struct
import tracemalloc
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sealtune.errors import RecordingFault, SealtuneError, UsageFault
from sealtune.files.origin_tag import LONGEST_TAG, origin_from_tag, origin_to_tag
from sealtune.files.sound_file import read_origin, read_recording, sha256_of, write_recording
from sealtune.files.sound_header import promised_frames
from sealtune.records.recording import Jig, Origin, Recording, Sweep

ORIGIN = Origin(
    role="plugged",
    jig=Jig("sense", 0.47),
    sweep=Sweep(4.0, 500.0, 8.0, 0.5, 0.05),
    level_dbfs=-12.5,
    device="Tischgerät, 2 Eingänge",
    recorded_at=datetime(2026, 3, 1, 10, 15, tzinfo=UTC),
    program="sealtune 0.1.0",
    simulated=True,
    complete=False,
    note='quotes " and \\ and äöü',
)


def tone(frames: int = 4800, step: float = 2.0**-23) -> NDArray[np.float64]:
    """Two channels on the grid of the step, so that a lossless file must return them exactly."""
    time = np.arange(frames) / 48000.0
    channels = np.column_stack([0.5 * np.sin(300 * time), 0.25 * np.cos(200 * time)])
    return np.round(channels / step) * step if step else channels


@pytest.mark.parametrize(
    ("name", "step"),
    [("a.wav", 0.0), ("a.wav", 2.0**-15), ("a.wav", 2.0**-23), ("a.flac", 2.0**-15), ("a.flac", 2.0**-23)],
)
def test_samples_and_origin_come_back_exactly(tmp_path: Path, name: str, step: float) -> None:
    channels = tone(step=step).astype(np.float32).astype(np.float64) if step == 0 else tone(step=step)
    write_recording(tmp_path / name, Recording(channels, 44100, step, ORIGIN))
    back = read_recording(tmp_path / name)
    # exact: lossless coding
    np.testing.assert_array_equal(back.channels, channels)
    assert (back.rate_hz, back.step, back.origin, back.expected_frames) == (44100, step, ORIGIN, 4800)
    assert read_origin(tmp_path / name) == ORIGIN
    assert [path.name for path in tmp_path.iterdir()] == [name]  # no temporary file is left


@pytest.mark.parametrize(
    ("coding", "step"),
    # exact: one unit of an n-bit sample is 2 / 2**n of full scale
    [("PCM_U8", 1 / 128), ("PCM_16", 1 / 32768), ("PCM_24", 2.0**-23), ("PCM_32", 2.0**-31), ("FLOAT", 0.0)],
)
def test_step_is_that_of_the_coding(tmp_path: Path, coding: str, step: float) -> None:
    soundfile.write(tmp_path / "a.wav", tone(), 48000, subtype=coding)
    back = read_recording(tmp_path / "a.wav")
    assert back.step == step
    assert back.origin == Origin()
    if step:
        units = back.channels / step
        np.testing.assert_array_equal(units, np.round(units))


def test_aiff_is_read_too(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.aiff", tone(), 48000, subtype="PCM_24")
    np.testing.assert_array_equal(read_recording(tmp_path / "a.aiff").channels, tone())


def test_samples_beyond_full_scale_are_clipped_in_flac_and_kept_in_float(tmp_path: Path) -> None:
    channels = np.array([[1.5, -1.5]] * 10)
    write_recording(tmp_path / "a.flac", Recording(channels, 48000))
    write_recording(tmp_path / "a.wav", Recording(channels, 48000))
    # exact: largest and smallest 24-bit numbers
    np.testing.assert_array_equal(read_recording(tmp_path / "a.flac").channels[0], [1 - 2.0**-23, -1.0])
    np.testing.assert_array_equal(read_recording(tmp_path / "a.wav").channels[0], [1.5, -1.5])


def test_nothing_is_overwritten_unless_asked(tmp_path: Path) -> None:
    path = tmp_path / "open.wav"
    path.write_bytes(b"precious")
    with pytest.raises(UsageFault, match="still free"):
        write_recording(path, Recording(tone(), 48000))
    assert path.read_bytes() == b"precious"
    write_recording(path, Recording(tone(), 48000, 2.0**-23), overwrite=True)
    np.testing.assert_array_equal(read_recording(path).channels, tone())


def test_a_write_that_fails_harms_nothing(tmp_path: Path) -> None:
    path = tmp_path / "open.flac"
    path.write_bytes(b"precious")
    with pytest.raises(UsageFault):  # FLAC has no such rate
        write_recording(path, Recording(tone(), 3_000_000), overwrite=True)
    with pytest.raises(UsageFault):
        write_recording(path, Recording(np.full((5, 2), np.nan), 48000), overwrite=True)
    with pytest.raises(UsageFault, match="ends in"):
        write_recording(tmp_path / "open.mp3", Recording(tone(), 48000))
    with pytest.raises(UsageFault):
        write_recording(tmp_path / "nowhere" / "open.wav", Recording(tone(), 48000))
    assert path.read_bytes() == b"precious"
    assert [entry.name for entry in tmp_path.iterdir()] == ["open.flac"]


def fault_of(path: Path) -> RecordingFault:
    with pytest.raises(RecordingFault) as caught:
        read_recording(path)
    return caught.value


@pytest.mark.parametrize("count", [1, 3, 6])
def test_anything_but_two_channels_is_refused(tmp_path: Path, count: int) -> None:
    soundfile.write(tmp_path / "a.wav", np.zeros((100, count)), 48000)
    fault = fault_of(tmp_path / "a.wav")
    assert fault.problem == "channel_missing"
    assert "exactly two channels" in str(fault)
    assert str(count) in fault.got


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_samples_that_are_no_numbers_are_refused(tmp_path: Path, bad: float) -> None:
    channels = tone()
    channels[77, 1] = bad
    soundfile.write(tmp_path / "a.wav", channels, 48000, subtype="FLOAT")
    assert fault_of(tmp_path / "a.wav").problem == "not_impedance"


@pytest.mark.parametrize("name", ["a.wav", "a.flac"])
def test_a_file_cut_short_returns_what_is_there_and_what_was_promised(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    noise = np.random.default_rng(1).uniform(-0.5, 0.5, (48000, 2))
    channels = np.round(noise * 2.0**23) / 2.0**23
    write_recording(path, Recording(channels, 48000, 2.0**-23, ORIGIN))
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    back = read_recording(path)
    assert back.expected_frames == 48000
    assert 0.35 * 48000 < len(back.channels) < 0.51 * 48000
    # exact: what is there is right to the last sample
    np.testing.assert_array_equal(back.channels, channels[: len(back.channels)])


@pytest.mark.parametrize("name", ["a.wav", "a.flac"])
@pytest.mark.parametrize("length", [0, 3, 4, 11, 30, 43])
def test_a_file_cut_in_its_header_is_truncated(tmp_path: Path, name: str, length: int) -> None:
    path = tmp_path / name
    soundfile.write(path, tone(), 48000)
    path.write_bytes(path.read_bytes()[:length])
    if 0 < length < 4:
        assert fault_of(path).problem in ("truncated", "not_impedance")
    else:
        assert fault_of(path).problem == "truncated"


def test_a_file_without_samples_is_truncated(tmp_path: Path) -> None:
    for name in ("a.wav", "a.flac"):
        soundfile.write(tmp_path / name, np.zeros((0, 2)), 48000)
        assert fault_of(tmp_path / name).problem == "truncated"


def test_a_flac_file_of_unknown_length_is_read_to_its_end(tmp_path: Path) -> None:
    path = tmp_path / "a.flac"
    write_recording(path, Recording(tone(100_000), 48000, 2.0**-23))
    data = bytearray(path.read_bytes())
    data[21] &= 0xF0  # the 36-bit number of samples in STREAMINFO, RFC 9639 section 8.2: 0 means unknown
    data[22:26] = bytes(4)
    path.write_bytes(data)
    back = read_recording(path)
    np.testing.assert_array_equal(back.channels, tone(100_000))
    assert back.expected_frames == 100_000


def test_a_wav_header_written_before_the_length_was_known_promises_nothing(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    soundfile.write(path, tone(), 48000, subtype="PCM_16")
    data = bytearray(path.read_bytes())
    place = data.index(b"data") + 4
    assert struct.unpack_from("<I", data, place)[0] == 4800 * 4
    for size in (0xFFFFFFFF, 0x7FFFF000):
        struct.pack_into("<I", data, place, size)
        path.write_bytes(data)
        assert promised_frames(path) is None
        back = read_recording(path)
        assert back.expected_frames == len(back.channels) == 4800


@pytest.mark.parametrize("format_", ["WAV", "WAVEX", "RF64", "FLAC"])
def test_the_promise_of_every_header_form_is_read(tmp_path: Path, format_: str) -> None:
    path = tmp_path / "a.sound"
    with soundfile.SoundFile(str(path), "w", 48000, 2, subtype="PCM_24", format=format_) as file:
        file.comment = "a comment of odd length"  # RIFF pads chunks of odd length by a byte
        file.write(tone(1234))
    assert promised_frames(path) == 1234


def test_absurd_lengths_are_refused_before_they_fill_the_memory(tmp_path: Path) -> None:
    path = tmp_path / "a.flac"
    soundfile.write(path, tone(), 48000)
    data = bytearray(path.read_bytes())
    data[21] |= 0x0F
    data[22:26] = b"\xff" * 4
    path.write_bytes(data)
    fault = fault_of(path)
    assert fault.problem == "not_impedance"
    assert "20 minutes" in str(fault)


def test_coding_with_loss_and_very_low_rates_are_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", tone(), 48000, subtype="ULAW")
    assert fault_of(tmp_path / "a.wav").problem == "not_impedance"
    soundfile.write(tmp_path / "b.wav", tone(), 500)
    assert fault_of(tmp_path / "b.wav").problem == "band_too_narrow"


def test_what_is_no_sound_file(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_text("frequency_hz,magnitude_ohm,phase_deg\n20,30,10\n")
    assert fault_of(tmp_path / "a.wav").problem == "not_impedance"
    (tmp_path / "a.raw").write_bytes(bytes(range(256)) * 10)
    assert fault_of(tmp_path / "a.raw").problem == "not_impedance"
    for path in (tmp_path, tmp_path / "missing.wav", Path("a\0b.wav")):
        with pytest.raises(UsageFault):
            read_recording(path)
    assert read_origin(tmp_path / "a.wav") is None
    assert read_origin(tmp_path / "missing.wav") is None


def test_the_checksum_is_sha_256(tmp_path: Path) -> None:
    (tmp_path / "abc").write_bytes(b"abc")
    # published: FIPS 180-4 example, SHA-256 of "abc"
    assert sha256_of(tmp_path / "abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


# --- the comment tag ---


def test_a_long_note_is_cut_until_the_tag_fits_every_format(tmp_path: Path) -> None:
    origin = replace(ORIGIN, note="ü" * 5000, device="d" * 600)
    tag = origin_to_tag(origin)
    assert len(tag) <= LONGEST_TAG
    write_recording(tmp_path / "a.wav", Recording(tone(), 48000, origin=origin))
    back = read_origin(tmp_path / "a.wav")
    assert back is not None
    assert back.note is not None
    assert 50 < len(back.note) < 5000
    assert set(back.note) == {"ü"}
    assert replace(back, note=None) == replace(origin, note=None)


@pytest.mark.parametrize(
    "tag",
    ["", "made by hand", "{", "[]", "null", "3", '{"role":"open"}', '{"sealtune":2,"role":"open"}',
     '{"sealtune":true,"role":"open"}', '{"sealtune":"1","role":"open"}', "[" * 100_000],
)  # fmt: skip
def test_a_foreign_tag_says_nothing(tag: str) -> None:
    assert origin_from_tag(tag) == Origin()


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("role", "closed"), ("role", 3), ("role", ["open"]), ("reference_ohm", -10.0), ("reference_ohm", 0),
        ("reference_ohm", True), ("reference_ohm", "10"), ("reference_ohm", 10**400), ("wiring", "bridge"),
        ("level_dbfs", 1e9), ("level_dbfs", None), ("recorded_at", "yesterday"), ("recorded_at", 2026),
        ("recorded_at", "0001-01-01"), ("simulated", 1), ("complete", "no"), ("device", 7), ("note", []),
        ("sweep", [1, 2]), ("sweep", {"start_hz": 4}), ("unknown", {"deep": []}),
        ("sweep", {"start_hz": 500, "stop_hz": 4, "seconds": 8}),
        ("sweep", {"start_hz": 4, "stop_hz": 500, "seconds": -8}),
        ("sweep", {"start_hz": 4, "stop_hz": 500, "seconds": 8, "begins_s": -1}),
        *(
            ("sweep", {"start_hz": 4, "stop_hz": 500, "seconds": 8, "repeats": repeats, "pause_s": pause})
            for repeats, pause in [(0, 1), (-3, 1), (2.5, 1), (True, 1), ("3", 1), (10**9, 1)]
        ),
        *(
            ("sweep", {"start_hz": 4, "stop_hz": 500, "seconds": 8, "repeats": 3, "pause_s": pause})
            for pause in [-1, "1", 1e9, None]
        ),
    ],
)  # fmt: skip
def test_a_nonsense_value_is_left_out(key: str, value: object) -> None:
    fields: dict[str, object] = {"sealtune": 1, "role": "open"}
    if key in ("wiring", "reference_ohm"):
        fields |= {"wiring": "divider", "reference_ohm": 10.0}
    expected = Origin() if key == "role" else Origin(role="open")
    assert origin_from_tag(json.dumps({**fields, key: value})) == expected


def test_repeats_come_back_and_a_tag_without_them_means_one() -> None:
    several = Origin(role="open", sweep=Sweep(4.0, 500.0, 8.0, 0.5, 0.05, repeats=3, pause_s=1.5))
    assert origin_from_tag(origin_to_tag(several)) == several
    once = origin_from_tag(origin_to_tag(Origin(sweep=Sweep(4.0, 500.0, 8.0))))
    assert once.sweep is not None
    assert (once.sweep.repeats, once.sweep.pause_s) == (1, 0.0)


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_numbers_that_are_none_are_left_out(number: str) -> None:
    tag = f'{{"sealtune":1,"wiring":"sense","reference_ohm":{number},"level_dbfs":{number}}}'
    assert origin_from_tag(tag) == Origin()


def test_control_characters_do_not_reach_the_terminal() -> None:
    tag = json.dumps({"sealtune": 1, "device": "card\x1b[31m\n two\u202e", "note": "\x00"})
    assert origin_from_tag(tag) == Origin(device="card [31m two")


@given(st.text(max_size=300))
def test_any_tag_gives_an_origin(tag: str) -> None:
    assert isinstance(origin_from_tag(tag), Origin)
    assert isinstance(origin_from_tag('{"sealtune":1,' + tag), Origin)


@settings(max_examples=60)
@given(st.binary(max_size=400), st.sampled_from([b"", b"RIFF\x40\0\0\0WAVEfmt \x10\0\0\0", b"fLaC", b"FORM"]))
def test_random_bytes_raise_nothing_but_our_own_errors(
    tmp_path_factory: pytest.TempPathFactory, data: bytes, head: bytes
) -> None:
    path = tmp_path_factory.mktemp("bytes") / "a.wav"
    path.write_bytes(head + data)
    try:
        back = read_recording(path)
    except SealtuneError:
        return
    assert back.channels.shape[1] == 2


@settings(max_examples=150)
@given(place=st.integers(0, 200), value=st.integers(0, 255), flac=st.booleans())
def test_a_damaged_header_raises_nothing_but_our_own_errors(
    tmp_path_factory: pytest.TempPathFactory, place: int, value: int, flac: bool
) -> None:
    path = tmp_path_factory.mktemp("damaged") / ("a.flac" if flac else "a.wav")
    soundfile.write(path, tone(2000), 48000, subtype="PCM_16")
    data = bytearray(path.read_bytes())
    data[place] = value
    path.write_bytes(data)
    try:
        back = read_recording(path)
    except SealtuneError:
        return
    assert np.isfinite(back.channels).all()
    assert back.expected_frames is not None
    assert back.expected_frames >= len(back.channels) > 0


def test_a_header_that_promises_gigabytes_takes_no_such_memory(tmp_path: Path) -> None:
    # exact: STREAMINFO holds the rate in 20 bits and the samples in 36 bits at byte 18 of the file [RFC9639]
    path = tmp_path / "open.flac"
    write_recording(path, Recording(tone(), 48000.0, 2.0**-23, ORIGIN))
    data = bytearray(path.read_bytes())
    rest = int.from_bytes(data[18:26], "big") >> 36 & 0xFF
    data[18:26] = ((192_000 << 8 | rest) << 36 | 200_000_000).to_bytes(8, "big")
    path.write_bytes(data)
    tracemalloc.start()
    recording = read_recording(path)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert recording.channels.shape == (4800, 2)
    assert recording.expected_frames == 200_000_000
    assert most < 50e6  # the promise would take 3.2e9

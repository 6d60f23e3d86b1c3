"""Files to begin from: one of each kind that the program reads, made of one invented box."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import soundfile
from tests.invented_box import invented

from sealtune.files.design_template import template_text
from sealtune.files.impedance_table import table_text
from sealtune.files.jig_file import jig_text
from sealtune.files.origin_tag import origin_to_tag
from sealtune.files.sound_file import write_recording
from sealtune.files.touchstone import touchstone_text
from sealtune.records.curve import ImpedanceCurve
from sealtune.records.recording import Jig, JigStandards, KnownResistor, Recording, Standard, Sweep
from sealtune.virtual.sound_card import record

DESIGN = """[design]
name = "invented"
[box]
volume_l = 18.0
lining = "walls"
[vent]
shape = "round"
diameter_mm = 50.0
length_mm = 130.0
outer_end = "flanged"
[tuning]
target_hz = 43.5
tolerance_percent = 4.0
[driver]
fs_hz = 48.0
qms = 4.2
qes = 0.42
vas_l = 17.5
re_ohm = 5.7
sd_cm2 = 132.0
xmax_mm = 5.0
power_w = 60.0
"""

OTHER_DESIGN = """[box]
volume_l = 60
width_mm = 300
height_mm = 500
depth_mm = 400
[vent]
shape = "rectangular"
width_mm = 200.0
height_mm = 40.0
length_mm = 180.0
inner_end = "free"
wall_distance_mm = 45.0
count = 2
shared_walls = 1
[driver]
fs_hz = 32
qts = 0.36
qes = 0.4
mms_g = 55
sd_cm2 = 350
re_ohm = 5.4
count = 2
wiring = "series"
[crossover]
series_mh = 1.5
series_ohm = 0.3
shunt_uf = 22.0
[air]
temperature_c = 18
"""

JIG = Jig("divider", 10.0)
SWEEP = Sweep(5.0, 1000.0, 3.0, begins_s=0.3, fade_s=0.05)


def seeds() -> dict[str, list[tuple[str, bytes]]]:
    """Return file names and contents by kind: sound, tag, table, touchstone, design, jig."""
    cabinet = invented()
    hz = np.geomspace(8.0, 400.0, 220)
    z = cabinet.impedance(hz)
    curve = ImpedanceCurve(hz, z, 1e-3 * np.abs(z))
    take = record(
        cabinet.impedance, JIG, SWEEP, "open", np.random.default_rng(1), rate_hz=6000.0, note="seed"
    )
    return {
        "sound": _sounds(take),
        "tag": [("tag.json", origin_to_tag(take.origin).encode()), ("tag.json", _full_tag(take))],
        "table": _tables(curve),
        "touchstone": _touchstones(curve),
        "design": [("design.toml", text.encode()) for text in (DESIGN, OTHER_DESIGN, template_text())],
        "jig": [("jig.toml", jig_text(jig).encode()) for jig in (JIG, _known_jig())],
    }


def sound_with_tag(tag: Path, corpus: dict[str, list[tuple[str, bytes]]]) -> Path:
    """Write a sound file with the tag that a file holds beside it, without one where the library refuses it."""
    text = tag.read_bytes().decode("utf-8", errors="replace")[:5000]
    channels, rate = soundfile.read(BytesIO(corpus["sound"][3][1]))
    stream = BytesIO()
    with soundfile.SoundFile(stream, "w", rate, 2, subtype="PCM_24", format="FLAC") as file:
        with suppress(soundfile.SoundFileError):
            file.comment = text.replace("\0", " ")
        file.write(channels)
    path = tag.with_name("open.flac")
    path.write_bytes(stream.getvalue())
    return path


def write_companions(folder: Path, corpus: dict[str, list[tuple[str, bytes]]]) -> None:
    """Write the table and the sound by which designs and jigs are gone on with, see `paths.go_on`."""
    (folder / "open.csv").write_bytes(corpus["table"][0][1])
    (folder / "open.wav").write_bytes(corpus["sound"][0][1])


def _full_tag(take: Recording) -> bytes:
    fields = json.loads(origin_to_tag(take.origin))
    fields |= {
        "complete": False,
        "recorded_at": "2026-03-01T10:15:00+00:00",
        "device": "card",
        "level_dbfs": -12.0,
    }
    fields["sweep"] |= {"repeats": 3, "pause_s": 0.5}
    return json.dumps(fields).encode()


def _sounds(take: Recording) -> list[tuple[str, bytes]]:
    coarse, exact = replace(take, step=2.0**-15), replace(take, step=0.0)
    named = (
        ("open.wav", take),
        ("open.wav", coarse),
        ("open.wav", exact),
        ("open.flac", take),
        ("open.flac", coarse),
    )
    found = []
    with TemporaryDirectory() as folder:
        for number, (name, recording) in enumerate(named):
            path = Path(folder) / f"{number}{name}"
            write_recording(path, recording)
            found.append((name, path.read_bytes()))
    for kind in ("RF64", "WAVEX"):
        stream = BytesIO()
        soundfile.write(stream, take.channels, 6000, format=kind, subtype="PCM_16")
        found.append(("open.wav", stream.getvalue()))
    return found


def _tables(curve: ImpedanceCurve) -> list[tuple[str, bytes]]:
    z = curve.impedance_ohm
    polar = table_text(curve).encode()
    cartesian = "frequency_hz,resistance_ohm,reactance_ohm\n" + "".join(
        f"{f:.4f},{v.real:.5f},{v.imag:.5f}\n" for f, v in zip(curve.frequency_hz, z, strict=True)
    )
    columns = [
        (f, abs(v), float(np.degrees(np.angle(v)))) for f, v in zip(curve.frequency_hz, z, strict=True)
    ]
    bare = "* made by hand\n" + "".join(f"{f:.4f}\t{m:.5f}\t{p:.4f}\n" for f, m, p in columns)
    commas = "Hz;Ohm;Grad\n" + "".join(f"{f:.4f};{m:.5f};{p:.4f}\n".replace(".", ",") for f, m, p in columns)
    return [
        ("open.csv", polar),
        ("open.csv", cartesian.encode()),
        ("open.txt", bare.encode()),
        ("open.csv", commas.encode("utf-16")),
        ("open.txt", polar.replace(b"\n", b"\r\n")),
    ]


def _touchstones(curve: ImpedanceCurve) -> list[tuple[str, bytes]]:
    z = curve.impedance_ohm
    rows = [
        f"{f:.6f} {v.real / 50:.8f} {v.imag / 50:.8f}" for f, v in zip(curve.frequency_hz, z, strict=True)
    ]
    normalised = "! by hand\n# Hz Z RI R 50\n" + "\n".join(rows) + "\n"
    rows = [
        f"{f / 1e3:.9f} {1 / abs(v):.9f} {-np.degrees(np.angle(v)):.6f}"
        for f, v in zip(curve.frequency_hz, z, strict=True)
    ]
    second = (
        "[Version] 2.0\n# kHz Y MA\n[Number of Ports] 1\n"
        f"[Number of Frequencies] {len(rows)}\n[Reference] 50\n[Network Data]\n"
        + "\n".join(rows)
        + "\n[End]\n"
    )
    return [
        ("open.s1p", touchstone_text(curve).encode()),
        ("open.s1p", normalised.encode()),
        ("open.s1p", second.encode()),
    ]


def _known_jig() -> Jig:
    hz = (5.0, 100.0, 1000.0)
    return replace(
        JIG,
        standards=JigStandards(
            balance=Standard(hz, (1.001 + 0j, 1.001 + 0j, 1.001 - 0.001j), (1e-4,) * 3),
            open_leads=Standard(hz, (1.001 + 0j, 1.001 + 0j, 1.001 + 0j), (1e-4,) * 3),
            shorted_leads=Standard(hz, (0.004 + 0j,) * 3, (1e-4,) * 3),
            resistor=KnownResistor(10.0, Standard(hz, (0.5 + 0j,) * 3, (1e-4,) * 3)),
        ),
    )

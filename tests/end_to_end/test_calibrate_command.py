"""`sealtune calibrate` as a person runs it, and the whole way from the jig to the verdict on the virtual bench."""

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from tests.program import sealtune

from sealtune.cli.main import commands
from sealtune.files.jig_file import read_jig
from sealtune.jobs.recordings import CheckOptions, measured
from sealtune.jobs.virtual_bench import open_virtual
from sealtune.records.recording import Wiring
from sealtune.records.sound_device import DeviceInfo, Hearer, Player
from sealtune.virtual.bench import Connection
from sealtune.virtual.sound_device import VirtualSoundDevice

DESIGN = Path(__file__).parents[2] / "recordings" / "design.toml"
DISTORTED = "virtual:gain_percent=3,leads_ohm=1,loading_ohm=20000,seed=5,design=design.toml"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "design.toml").write_bytes(DESIGN.read_bytes())
    return tmp_path


def test_calibrate_capture_and_check_through_a_distorted_jig(folder: Path) -> None:
    wiring: Wiring = "sense"
    jig = ("--wiring", wiring, "--reference-ohm", "10")
    done = sealtune(
        "calibrate",
        "--device",
        DISTORTED,
        "--yes",
        *jig,
        "--seconds",
        "4",
        "--check-ohm",
        "6.8",
        folder=folder,
    )
    assert done.returncode == 0, done.stderr
    assert "1 of 5  Both inputs on one point" in done.stdout
    assert "The second resistor of 6.8 ohm reads 6.8" in done.stdout
    known = read_jig(folder / "jig.toml")
    assert known.standards is not None
    # exact: 3 % of gain; the virtual amplifier's 10 V
    assert abs(known.standards.balance.value[5]) == pytest.approx(1.03, rel=1e-3)  # type: ignore[union-attr]
    assert known.full_scale_v == pytest.approx(10.0)
    done = sealtune(
        "capture", "open", "left", "--device", DISTORTED, "--yes", "--seconds", "4", folder=folder
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "left: GOOD" in done.stdout
    recording = next((folder / "left").glob("open*.wav"))
    curve = measured(recording, CheckOptions()).curve
    assert curve is not None
    inside = (curve.frequency_hz >= 8.0) & (curve.frequency_hz <= 300.0)
    device = open_virtual(DISTORTED.replace("design.toml", str(folder / "design.toml")), wiring=wiring)
    share = curve.impedance_ohm[inside] / device.bench.impedance(curve.frequency_hz[inside], "open")
    # exact: the virtual box's own impedance, within what the calibration has to reach
    assert np.abs(np.abs(share) - 1.0).max() < 0.003
    assert np.abs(np.degrees(np.angle(share))).max() < 0.2
    done = sealtune("check", "left", "--json", "-", folder=folder)
    result = json.loads(done.stdout)
    assert done.returncode == 0
    # exact: the virtual driver's coil has what its design says
    assert result["driver"]["re_ohm"] == pytest.approx(5.6, rel=0.02)


def test_a_person_answers_a_refusal_and_may_stop(folder: Path) -> None:
    swapped = (
        "calibrate",
        "--device",
        "virtual:swapped=yes",
        "--steps",
        "short",
        "--seconds",
        "2",
        "--out",
        "a.toml",
    )
    done = sealtune(*swapped, folder=folder, given="\ny\n\nn\n")
    assert done.returncode == 3
    assert done.stdout.count("NOT TAKEN. Channel 2 is loud and channel 1 hears almost nothing") == 2
    assert "Exchange the two input plugs" in done.stderr
    assert not (folder / "a.toml").exists()
    again = sealtune(*swapped, "--yes", folder=folder)
    assert again.returncode == 3
    assert "leads shorted" in again.stderr
    nobody = sealtune(*swapped, folder=folder)
    assert nobody.returncode == 2
    assert "--yes" in nobody.stderr


def test_values_are_asked_for_and_an_old_file_is_kept(folder: Path) -> None:
    (folder / "jig.toml").write_text('[jig]\nwiring = "sense"\nreference_ohm = 3\n', encoding="utf-8")
    words = ("calibrate", "--device", "virtual", "--steps", "resistor", "--seconds", "2")
    done = sealtune(*words, folder=folder, given="\n")
    assert done.returncode == 0, done.stderr
    kept = list(folder.glob("jig-*.toml"))
    assert len(kept) == 1
    assert "reference_ohm = 3" in kept[0].read_text(encoding="utf-8")
    assert kept[0].name in done.stdout
    assert read_jig(folder / "jig.toml").wiring == "divider"


@pytest.mark.parametrize(("volts", "warned"), [((), True), (("--full-scale-v", "2"), False)])
def test_a_loud_level_without_volts_is_warned_of(folder: Path, volts: tuple[str, ...], warned: bool) -> None:
    words = ("--device", "virtual", "--steps", "balance", "--seconds", "2", "--level", "-6", "--yes")
    done = sealtune("calibrate", *words, *volts, folder=folder)
    assert ("-6 dB of full scale is loud" in done.stdout) == warned, done.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--steps", "balance,opne"), "opne"),
        (("--steps", ""), "some of balance"),
        (("--device", "virtual:nonsense=1"), "nonsense"),
        (("--device", "virtual", "--rate", "22050"), "22050"),
        (("--steps", "resistor", "--reference-ohm", "10"), "--resistor-ohm"),
        (("--steps", "open"), "--reference-ohm"),
        (("--device", "virtual", "--out", "nowhere/jig.toml"), "nowhere"),
        (("--reference-ohm", "-3"), "--reference-ohm"),
    ],
)
def test_wrong_use_is_told_and_nothing_is_written(folder: Path, words: tuple[str, ...], said: str) -> None:
    done = sealtune("calibrate", "--yes", *words, folder=folder)
    assert done.returncode == (4 if "--rate" in words else 2)
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert not (folder / "jig.toml").exists()


def test_a_device_that_vanishes_leaves_the_old_file_alone(folder: Path) -> None:
    (folder / "jig.toml").write_text('[jig]\nwiring = "sense"\nreference_ohm = 3\n', encoding="utf-8")
    done = sealtune(
        "calibrate", "--device", "virtual:vanishes_at=90000", "--yes", "--level", "-20", folder=folder
    )
    assert done.returncode == 4
    assert "it is gone" in done.stderr
    assert [path.name for path in folder.glob("*.toml") if "jig" in path.name] == ["jig.toml"]
    assert read_jig(folder / "jig.toml").reference_ohm == 3.0


class Plugged:
    """The virtual device as if it were a real one, with what was played last."""

    def __init__(self, device: VirtualSoundDevice) -> None:
        self._device = device
        self.played: list[np.ndarray[tuple[int], np.dtype[np.float64]]] = []

    @property
    def info(self) -> DeviceInfo:
        return self._device.info

    def now_s(self) -> float:
        return self._device.now_s()

    def connect(self, connection: Connection) -> None:
        self._device.connect(connection)

    def exchange(self, rate_hz: float, play: Player, hear: Hearer) -> None:
        self.played = []

        def noted(frames: int) -> np.ndarray[tuple[int], np.dtype[np.float64]] | None:
            block = play(frames)
            if block is not None:
                self.played.append(block)
            return block

        self._device.exchange(rate_hz, noted, hear)


def test_volts_of_full_scale_come_from_the_multimeter(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plugged = Plugged(open_virtual("virtual"))
    monkeypatch.setattr("sealtune.jobs.devices.open_device", lambda name, jig: plugged)
    words = ["calibrate", "--reference-ohm", "10", "--steps", "balance", "--seconds", "2", "--level", "-20"]
    done = CliRunner().invoke(
        commands, [*words, "--out", str(folder / "jig.toml")], input="\n\nwhat\n0,7071\n"
    )
    assert done.exit_code == 0, done.output
    tone = np.concatenate(plugged.played)
    # exact: -20 dB is a tenth; 50 turns a second
    assert np.abs(tone).max() == pytest.approx(0.1, rel=1e-3)
    assert np.argmax(np.abs(np.fft.rfft(tone[48000:96000]))) == 50
    # exact: 0.7071 V of a sine peak at 1 V, at a tenth of full scale
    assert read_jig(folder / "jig.toml").full_scale_v == pytest.approx(10.0, rel=1e-3)
    done = CliRunner().invoke(commands, [*words, "--out", str(folder / "other.toml")], input="\ns\n")
    assert done.exit_code == 0, done.output
    assert read_jig(folder / "other.toml").full_scale_v is None


def test_a_resistance_that_is_none_is_asked_for_again(folder: Path) -> None:
    plugged = Plugged(open_virtual("virtual"))
    words = ("calibrate", "--steps", "balance", "--seconds", "2", "--level", "-20", "--full-scale-v", "10")
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("sealtune.jobs.devices.open_device", lambda name, jig: plugged)
        done = sealtune(*words, folder=folder, given="ten\n-3\n10,2\n\n")
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("A number of ohms from 0.1 to 100000, please, such as 10.2.") == 2
    # exact: what was typed, with a comma
    assert read_jig(folder / "jig.toml").reference_ohm == 10.2


def test_open_leads_that_nothing_loads_read_more_than_a_megohm(folder: Path) -> None:
    # through so large a reference little else is seen; exact: 1e9 ohm beside the open leads
    words = ("--reference-ohm", "100000", "--steps", "open", "--seconds", "2", "--level", "-20", "--yes")
    done = sealtune("calibrate", "--device", "virtual:loading_ohm=1e9", *words, folder=folder)
    assert done.returncode == 0, done.stderr
    assert "taken: reads more than 1 Mohm" in done.stdout

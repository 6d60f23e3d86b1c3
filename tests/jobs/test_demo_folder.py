"""The recordings that ship with the program, where they do not."""

from pathlib import Path

import pytest
from tests.program import sealtune

from sealtune.jobs import report


def test_a_wheel_without_its_recordings_is_to_be_installed_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(report, "__file__", str(tmp_path / "site" / "sealtune" / "jobs" / "report.py"))
    done = sealtune("demo", folder=tmp_path)
    assert done.returncode == 2
    assert "expected the demo's recordings; got nothing there. Install the program again." in done.stderr
    assert list(tmp_path.iterdir()) == []

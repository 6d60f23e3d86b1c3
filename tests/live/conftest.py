"""Tests over a real sound server are skipped, with the reason, where it or PortAudio is missing."""

from pathlib import Path

import pytest
from tests.live.audio_server import why_not


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    missing = why_not()
    for item in items:
        if missing is not None and here in item.path.parents:
            item.add_marker(pytest.mark.skip(reason=f"live sound: {missing}"))

"""A headless browser window of any size, light or dark, that tells what a page asked for and complained of."""

from __future__ import annotations

import base64
import json
import time
from pathlib import Path
from typing import Any

from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

SIZES = {"desk": (1280, 800), "phone": (390, 844)}


class Window:
    """One window of Chromium."""

    def __init__(self, chromium: str, driver: str) -> None:
        options = Options()
        options.binary_location = chromium
        for switch in (
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--hide-scrollbars",
        ):
            options.add_argument(switch)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        self._driver = webdriver.Chrome(options=options, service=Service(driver))

    def open(self, page: Path, size: str = "desk", *, dark: bool = False, script: bool = True) -> None:
        """Show a page; what was asked for and complained of before is forgotten."""
        width, height = SIZES[size]
        self.tell(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=size == "phone",
        )
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.tell("Emulation.setEmulatedMedia", features=[scheme])
        self.tell("Emulation.setScriptExecutionDisabled", value=not script)
        self._driver.get("about:blank")
        for kind in ("browser", "performance"):
            self._said(kind)
        self._driver.get(page.resolve().as_uri())

    def tell(self, command: str, **values: Any) -> Any:
        """Give a command of the browser's own protocol."""
        return self._driver.execute_cdp_cmd(command, values)

    def height(self) -> float:
        """Return the height of the page once it stands still: without script nothing tells that it has loaded."""
        height, before = -1.0, -2.0
        while height != before:
            time.sleep(0.1)
            before = height
            height = float(self.tell("Page.getLayoutMetrics")["cssContentSize"]["height"])
        return height

    def ask(self, script: str, *values: Any) -> Any:
        """Return what a piece of script in the page returns."""
        return self._driver.execute_script(script, *values)

    def ask_later(self, script: str) -> Any:
        """Return what a piece of script gives to its last argument, a function."""
        return self._driver.execute_async_script(script)

    def _said(self, kind: str) -> list[dict[str, Any]]:
        """Return the entries of a log since it was read last."""
        entries: list[dict[str, Any]] = self._driver.get_log(kind)  # type: ignore[no-untyped-call]
        return entries

    def complaints(self) -> list[str]:
        """Return errors and warnings of the console since the page was opened."""
        return [str(entry["message"]) for entry in self._said("browser")]

    def requests(self) -> list[str]:
        """Return the addresses that were asked for since the page was opened, its own among them."""
        messages = [json.loads(entry["message"])["message"] for entry in self._said("performance")]
        return [
            str(message["params"]["request"]["url"])
            for message in messages
            if message["method"] == "Network.requestWillBeSent"
        ]

    def point_at(self, x: float, y: float) -> None:
        """Move the pointer there, in pixels of the window."""
        self.tell("Input.dispatchMouseEvent", type="mouseMoved", x=x, y=y)

    def tap(self, x: float, y: float) -> None:
        """Tap there with a finger."""
        self.tell("Emulation.setTouchEmulationEnabled", enabled=True)
        self.tell("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": x, "y": y}])
        self.tell("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])
        self.tell("Emulation.setTouchEmulationEnabled", enabled=False)

    def picture(self) -> bytes:
        """Return the window as a PNG."""
        return base64.b64decode(self.tell("Page.captureScreenshot", format="png")["data"])

    def printed(self) -> bytes:
        """Return the page as a PDF on the paper that its style asks for; on a busy machine the first try may fail."""
        for left in (2, 1, 0):
            try:
                told = self.tell("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
            except WebDriverException:
                if not left:
                    raise
                time.sleep(1.0)
            else:
                return base64.b64decode(told["data"])
        raise AssertionError("not reached")

    def close(self) -> None:
        """End the browser."""
        self._driver.quit()

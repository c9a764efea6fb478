"""A headless Chromium that visits a server of our own: keys are pressed and pages are looked at as a person
would.

It is driven over a pair of pipes, so that no port is opened for it. The tests that ask are skipped where
Chromium is absent.
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from waiting import SECONDS

CHROMIUM = shutil.which("chromium")
#: What a key is called, and its number where a page still asks for that.
_KEYS = {
    "Enter": 13, "Tab": 9, "Escape": 27, "ArrowUp": 38, "ArrowDown": 40, "ArrowLeft": 37, "ArrowRight": 39,
    "Delete": 46, "F2": 113,
}  # fmt: skip


class Page:
    """One page of the browser."""

    def __init__(self, reading: int, writing: int) -> None:
        self._reading, self._writing = reading, writing
        self._number = 0
        self._held = b""
        self._session = ""
        self.complaints: list[str] = []

    def open(self, width: int = 1280, height: int = 900) -> None:
        """A first page of a size in pixels."""
        target = self._call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self._call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log"):
            self._call(f"{domain}.enable")
        self.resize(width, height)

    def resize(self, width: int, height: int, zoom: float = 1) -> None:
        """The window's size; `zoom` 2 is what a person has who reads at 200 %."""
        self._call(
            "Emulation.setDeviceMetricsOverride",
            width=round(width / zoom),
            height=round(height / zoom),
            deviceScaleFactor=zoom,
            mobile=width < 600,
        )

    def prefer(self, scheme: str) -> None:
        """What the person's system asks for: `light` or `dark` pages."""
        wanted = [{"name": "prefers-color-scheme", "value": scheme}]
        self._call("Emulation.setEmulatedMedia", features=wanted)

    def visit(self, address: str) -> None:
        """Goes to a page and waits until it is there."""
        self._call("Page.navigate", url=address)
        self.wait("document.readyState === 'complete' && location.href !== 'about:blank'")

    def ask(self, script: str) -> Any:
        """What an expression gives, awaited."""
        told = self._call("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in told, told
        return told["result"].get("value")

    def wait(self, script: str) -> None:
        """Until an expression holds, through a change of pages too."""
        end = time.monotonic() + SECONDS
        while True:
            told = self._send("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
            # A page that is just giving way to the next has no answer.
            if told.get("result", {}).get("result", {}).get("value"):
                return
            assert time.monotonic() < end, f"never so: {script}"
            time.sleep(0.02)

    def press(self, key: str, *, ctrl: bool = False) -> None:
        """A key, down and up."""
        told: dict[str, Any] = {"key": key, "code": key, "modifiers": 2 if ctrl else 0}
        if key in _KEYS:
            told["windowsVirtualKeyCode"] = _KEYS[key]
        text = "\r" if key == "Enter" else key if len(key) == 1 else ""
        self._call("Input.dispatchKeyEvent", type="keyDown", **told, **({"text": text} if text else {}))
        self._call("Input.dispatchKeyEvent", type="keyUp", **told)

    def type(self, text: str) -> None:
        """Text into what has the focus, as a keyboard of any script gives it."""
        self._call("Input.insertText", text=text)

    def choose(self, selector: str, file: Path) -> None:
        """A file for a field, as if it had been chosen in the system's window."""
        root = self._call("DOM.getDocument")["root"]["nodeId"]
        node = self._call("DOM.querySelector", nodeId=root, selector=selector)["nodeId"]
        self._call("DOM.setFileInputFiles", files=[str(file)], nodeId=node)

    def picture(self, file: Path) -> None:
        """What stands on the screen, as a PNG."""
        data = self._call("Page.captureScreenshot", format="png")["data"]
        file.write_bytes(base64.b64decode(data))

    def _call(self, method: str, **parameters: Any) -> dict[str, Any]:
        answer = self._send(method, **parameters)
        assert "error" not in answer, (method, answer["error"])
        result: dict[str, Any] = answer["result"]
        return result

    def _send(self, method: str, **parameters: Any) -> dict[str, Any]:
        self._number += 1
        message = {"id": self._number, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._writing, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._read()
            self._note(answer)
            if answer.get("id") == self._number:
                return answer

    def _read(self) -> dict[str, Any]:
        while b"\0" not in self._held:
            part = os.read(self._reading, 1 << 16)
            assert part, "the browser has ended"
            self._held += part
        message, _, self._held = self._held.partition(b"\0")
        told: dict[str, Any] = json.loads(message)
        return told

    def _note(self, told: dict[str, Any]) -> None:
        """What the browser complains of: a script's fault, something that the policy forbids."""
        if told.get("method") == "Runtime.exceptionThrown":
            self.complaints.append(str(told["params"]["exceptionDetails"]))
        if told.get("method") == "Log.entryAdded" and told["params"]["entry"]["level"] == "error":
            entry = told["params"]["entry"]
            # A form that was refused comes with a status of its own, which the browser takes for an error.
            if "status of 4" not in entry["text"]:
                self.complaints.append(entry["text"])


@contextmanager
def browse(folder: Path) -> Iterator[Page]:
    """A browser with a profile in a folder, ended with the block."""
    if CHROMIUM is None:
        pytest.skip("chromium is not installed")
    theirs_in, ours_out = os.pipe()
    ours_in, theirs_out = os.pipe()
    command = (
        f"exec {CHROMIUM} --headless --no-sandbox --disable-gpu --no-first-run"
        f" --disable-background-networking --disable-component-update --disable-sync --remote-debugging-pipe"
        f" --user-data-dir='{folder / 'p'}'"
        f" about:blank 3<&{theirs_in} 4>&{theirs_out} 2>/dev/null"
    )
    with subprocess.Popen(["bash", "-c", command], pass_fds=(theirs_in, theirs_out)) as browser:
        os.close(theirs_in)
        os.close(theirs_out)
        page = Page(ours_in, ours_out)
        try:
            page.open()
            yield page
        finally:
            browser.terminate()
            os.close(ours_in)
            os.close(ours_out)

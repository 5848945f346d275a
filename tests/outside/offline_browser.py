"""Debian's chromium without a network, driven over the two pipes of its own protocol."""

from __future__ import annotations

import json
import os
import shlex
import subprocess
import time
from pathlib import Path
from typing import Any

_FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
          "--disable-component-update", "--disable-sync", "--host-resolver-rules=MAP * ~NOTFOUND", "--remote-debugging-pipe")
_PATIENCE_S = 60


class OfflineBrowser:
    """One browser with one tab. errors: what its console said; requested: every address that it was asked for."""

    def __init__(self, folder: Path) -> None:
        to_read, self._out = os.pipe()
        self._in, to_write = os.pipe()
        words = shlex.join(["chromium", *_FLAGS, f"--user-data-dir={folder}", "about:blank"])
        self._process = subprocess.Popen(["bash", "-c", f"exec {words} 3<&{to_read} 4>&{to_write}"], pass_fds=(to_read, to_write),
                                         stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        os.close(to_read)
        os.close(to_write)
        self._number, self._rest, self._session = 0, b"", ""
        self.errors: list[str] = []
        self.requested: list[str] = []
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.ask(f"{domain}.enable")

    def ask(self, method: str, **parameters: Any) -> dict[str, Any]:
        """One call of the protocol and its answer; what happened meanwhile is noted."""
        self._number += 1
        call = {"id": self._number, "method": method, "params": parameters}
        os.write(self._out, json.dumps(call | ({"sessionId": self._session} if self._session else {})).encode() + b"\0")
        while True:
            said = self._message()
            if said.get("id") == self._number:
                assert "error" not in said, said
                answer: dict[str, Any] = said["result"]
                return answer
            if said.get("method") == "Network.requestWillBeSent":
                self.requested.append(said["params"]["request"]["url"])
            elif said.get("method") in ("Runtime.exceptionThrown", "Log.entryAdded"):
                self.errors.append(json.dumps(said["params"]))

    def _message(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            more = os.read(self._in, 1 << 20)
            assert more, "the browser has gone"
            self._rest += more
        one, self._rest = self._rest.split(b"\0", 1)
        found: dict[str, Any] = json.loads(one)
        return found

    def value(self, expression: str) -> Any:
        """What an expression gives in the page, as JSON can hold it."""
        found = self.ask("Runtime.evaluate", expression=expression, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def open(self, page: Path, *, before: str = "") -> dict[str, str]:
        """The page's own summary once it is done. before: a script that runs before the page's."""
        self.errors.clear()
        self.requested.clear()
        first = self.ask("Page.addScriptToEvaluateOnNewDocument", source=before)["identifier"]
        self.ask("Page.navigate", url=page.as_uri())
        end = time.monotonic() + _PATIENCE_S
        here = f"location.href === {json.dumps(page.as_uri())}"
        while self.value(f"{here} && document.getElementById('result')?.dataset.state") != "done":
            assert time.monotonic() < end, (self.value("document.body.innerText"), self.errors)
            time.sleep(0.02)
        self.ask("Page.removeScriptToEvaluateOnNewDocument", identifier=first)
        summary: dict[str, str] = self.value("({...document.getElementById('result').dataset})")
        return summary

    def close(self) -> None:
        """End it, and wait until it has ended."""
        self.ask("Browser.close")
        self._process.wait(timeout=_PATIENCE_S)
        os.close(self._out)
        os.close(self._in)

"""A real printer to test with: Debian's ippeveprinter on the loopback interface, with a message bus of its own: it wants
one even where it announces itself to nobody (-r off).

It has label media of 60 × 40 mm (loaded) and 50 × 25 mm, keeps what it prints, and can be made to wait or to fail.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image
from pwg_reader import Page, pages_of_file

PROGRAMS = {"ippeveprinter": "cups-ipp-utils", "ipptool": "cups-ipp-utils", "dbus-daemon": "dbus"}
START_S = 20
POINTS_PER_MM = 72 / 25.4
MEDIA_MM = ((60, 40), (50, 25))

BUS = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-BUS Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig><type>system</type><listen>unix:path={folder}/bus</listen><auth>EXTERNAL</auth>
<policy context="default"><allow own="*"/><allow send_destination="*"/><allow receive_sender="*"/><allow user="*"/></policy>
</busconfig>
"""
PRINT = """#!/bin/sh
cd "{folder}"
touch started
while [ -e hold ]; do sleep 0.02; done
[ -e fail ] && exit 1
cp "$1" printed/$(date +%s%N)
"""
CANCEL = """{
OPERATION Cancel-Job
GROUP operation-attributes-tag
ATTR charset attributes-charset utf-8
ATTR language attributes-natural-language en
ATTR uri printer-uri $uri
ATTR integer job-id $jobid
ATTR name requesting-user-name $user
STATUS successful-ok
}
"""


def _ppd() -> str:
    """The least description of a printer of labels at 300 dpi that ippeveprinter takes."""
    sizes = [(f"{width}x{height}mm", f"{width * POINTS_PER_MM:.3f} {height * POINTS_PER_MM:.3f}") for width, height in MEDIA_MM]
    lines = ['*PPD-Adobe: "4.3"', '*FormatVersion: "4.3"', '*FileVersion: "1.0"', "*LanguageVersion: English",
             "*LanguageEncoding: ISOLatin1", '*PCFileName: "LABEL.PPD"', '*Manufacturer: "Test"', '*Product: "(Label printer)"',
             '*ModelName: "Label printer"', '*ShortNickName: "Label printer"', '*NickName: "Label printer"',
             '*PSVersion: "(3010.000) 0"', '*LanguageLevel: "3"', "*ColorDevice: False", "*DefaultColorSpace: Gray",
             "*FileSystem: False", '*Throughput: "60"', "*TTRasterizer: Type42"]
    for option in ("PageSize", "PageRegion"):
        lines += [f"*OpenUI *{option}/Media Size: PickOne", f"*OrderDependency: 10 AnySetup *{option}",
                  f"*Default{option}: {sizes[0][0]}"]
        lines += [f'*{option} {name}/{name}: "<</PageSize[{points}]>>setpagedevice"' for name, points in sizes]
        lines += [f"*CloseUI: *{option}"]
    lines += [f"*DefaultImageableArea: {sizes[0][0]}", *(f'*ImageableArea {name}: "0 0 {points}"' for name, points in sizes),
              f"*DefaultPaperDimension: {sizes[0][0]}", *(f'*PaperDimension {name}: "{points}"' for name, points in sizes),
              "*OpenUI *Resolution/Resolution: PickOne", "*OrderDependency: 10 AnySetup *Resolution",
              "*DefaultResolution: 300dpi",
              '*Resolution 300dpi/300 dpi: "<</HWResolution[300 300]>>setpagedevice"', "*CloseUI: *Resolution"]
    return "\n".join(lines) + "\n"


def _free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@dataclass
class Peer:
    """A running printer; `folder` holds all it has and makes."""

    folder: Path
    port: int
    running: list[subprocess.Popen[bytes]] = field(default_factory=list)

    @property
    def uri(self) -> str:
        """Its address."""
        return f"ipp://localhost:{self.port}/ipp/print"

    @property
    def log(self) -> str:
        """All that the printer said of its requests."""
        return (self.folder / "printer.log").read_text(errors="replace")

    def printed(self) -> list[Page]:
        """All pages in the order in which they were printed."""
        return [page for file in sorted((self.folder / "printed").iterdir()) for page in pages_of_file(file)]

    def printed_codes(self) -> list[str]:
        """What the codes on the pages say, read by zxing-cpp, page by page."""
        return [code.text for page in self.printed()
                for code in zxingcpp.read_barcodes(Image.fromarray(page.dots), formats=zxingcpp.BarcodeFormat.QRCodeModel2)]

    def hold(self) -> None:
        """Let the next job wait while it is printed."""
        (self.folder / "started").unlink(missing_ok=True)
        (self.folder / "hold").touch()

    def release(self) -> None:
        """Let it go on."""
        (self.folder / "hold").unlink(missing_ok=True)

    def wait_started(self) -> None:
        """Until a job is being printed."""
        self._wait("a job to be printed", (self.folder / "started").exists)

    def fail(self, failing: bool) -> None:
        """Whether jobs are aborted."""
        (self.folder / "fail").unlink(missing_ok=True)
        if failing:
            (self.folder / "fail").touch()

    def ipptool(self, *arguments: str | Path) -> str:
        """What CUPS' own test program says; RuntimeError when the printer fails its test."""
        done = subprocess.run(["ipptool", "-tv", *map(str, arguments)], capture_output=True, text=True, timeout=60, check=False)
        if done.returncode:
            raise RuntimeError(f"ipptool: {done.stdout[-2000:]} {done.stderr[-500:]}")
        return done.stdout

    def other_job(self, document: Path) -> None:
        """Somebody else prints, and the printer is at it."""
        self.ipptool("-d", "filetype=image/pwg-raster", "-f", document, self.uri, "print-job.test")
        self.wait_started()

    def cancel(self, job_id: int) -> None:
        """Somebody cancels a job at the printer."""
        self.ipptool("-d", f"jobid={job_id}", self.uri, self.folder / "cancel.test")

    def start(self) -> None:
        """Switch the printer on; it counts its jobs from 1 then."""
        arguments = ["ippeveprinter", "-vvv", "-n", "localhost", "-p", str(self.port), "-r", "off", "-P", "label.ppd",
                     "-c", "./print.sh", "-d", "spool", "-K", "keys", "Label printer"]
        with (self.folder / "printer.log").open("ab") as log:
            self.running.append(self._begun(arguments, log.fileno()))
        self._wait("the printer", self._answers)

    def stop(self) -> None:
        """Switch the printer off."""
        _end(self.running.pop())

    def _answers(self) -> bool:
        with socket.socket() as one:
            return one.connect_ex(("127.0.0.1", self.port)) == 0

    def _begun(self, arguments: list[str], log: int) -> subprocess.Popen[bytes]:
        # Nothing of the tests' own surroundings goes into the printer.
        surroundings = {"PATH": f"{os.environ['PATH']}:/usr/sbin:/usr/bin:/bin", "LANG": "C.UTF-8", "HOME": str(self.folder),
                        "DBUS_SYSTEM_BUS_ADDRESS": f"unix:path={self.folder}/bus"}
        return subprocess.Popen(arguments, cwd=self.folder, env=surroundings, stdout=log, stderr=log, stdin=subprocess.DEVNULL)

    def _wait(self, what: str, done: Callable[[], bool]) -> None:
        until = time.monotonic() + START_S
        while not done():
            if time.monotonic() > until:
                said = "".join(file.read_text(errors="replace")[-1500:] for file in self.folder.glob("*.log"))
                raise RuntimeError(f"waited {START_S} s for {what}: {said}")
            time.sleep(0.02)

    def start_all(self) -> None:
        """Bus and printer."""
        with (self.folder / "bus.log").open("ab") as log:
            self.running.append(self._begun(["dbus-daemon", f"--config-file={self.folder}/bus.conf", "--nofork", "--nopidfile"],
                                            log.fileno()))
        self._wait("the bus", (self.folder / "bus").exists)
        self.start()


def _end(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.wait(10)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait(10)


@contextmanager
def running_peer(folder: Path) -> Iterator[Peer]:
    """A printer in an empty folder of a short name (a socket's path has 108 characters at most), ended afterwards."""
    path = f"{os.environ['PATH']}:/usr/sbin"
    missing = sorted({package for program, package in PROGRAMS.items() if not shutil.which(program, path=path)})
    if missing:
        raise RuntimeError(f"a printer to test with needs the Debian packages: apt-get install {' '.join(missing)}")
    for name, text in (("bus.conf", BUS.format(folder=folder)), ("label.ppd", _ppd()),
                       ("print.sh", PRINT.format(folder=folder)), ("cancel.test", CANCEL)):
        (folder / name).write_text(text)
    (folder / "print.sh").chmod(0o755)
    for name in ("spool", "keys", "printed"):
        (folder / name).mkdir()
    peer = Peer(folder, _free_port())
    try:
        peer.start_all()
        yield peer
    finally:
        peer.release()
        while peer.running:
            peer.stop()


def attribute_values(log: str, operation: str, name: str) -> list[str]:
    """The values of an attribute in all requests of that kind in the printer's log."""
    requests = re.findall(rf"Request:\n(?:  .*\n)*?  operation-id={operation}\(.*\n(?:(?:  .*)?\n)*", log)
    return [found[1] for text in requests for found in [re.search(rf"^ +{name} \(.*?\) (.*)$", text, re.MULTILINE)] if found]


@pytest.fixture
def peer() -> Iterator[Peer]:
    """A printer for one test."""
    # What the printer started may write there for a moment after it has ended itself.
    with tempfile.TemporaryDirectory(prefix="peer", ignore_cleanup_errors=True) as folder, running_peer(Path(folder)) as running:
        yield running

"""The one door to a printer: IPP requests (RFC 8011) through aioipp, which is loaded when somebody prints."""

from __future__ import annotations

import asyncio
import os
from collections.abc import AsyncIterator, Coroutine, Mapping
from contextlib import asynccontextmanager
from enum import Enum
from typing import TYPE_CHECKING, Any, TypeVar
from urllib.parse import urlsplit

from labels.errors import LabelError

if TYPE_CHECKING:
    from pyipp import IPP

T = TypeVar("T")
Attributes = Mapping[str, Any]
ANSWER_S = 30  # for one request, all of it
MOST_ANSWER_BYTES = 8_000_000  # the longest lists of media and jobs are far below
USER = "gearkeep"
VERSION_NOT_SUPPORTED = 0x0503
_PRINTER_STATES, _JOB_STATES = range(3, 6), range(3, 10)
CHECK_PATH = "Check the path in its address; printers mostly have /ipp/print."


class Operation(Enum):
    """Requests that are made here (RFC 8011 clause 5.4.15)."""

    PRINT_JOB = 0x02
    VALIDATE_JOB = 0x04
    GET_JOB_ATTRIBUTES = 0x09
    GET_JOBS = 0x0A
    GET_PRINTER_ATTRIBUTES = 0x0B


class Refused(Exception):
    """The printer answered with an error: nothing was taken. status: RFC 8011 appendix B."""

    def __init__(self, status: int) -> None:
        super().__init__(f"IPP status {status:#06x}")
        self.status = status


class NoAnswer(Exception):
    """The request may have reached the printer or not."""


class Door:
    """An open way to one printer. Requests raise Refused, NoAnswer, or LabelError (no-printer) where nothing was sent."""

    def __init__(self, uri: str, client: IPP) -> None:
        self.uri, self._client = uri, client

    async def ask(self, operation: Operation, asked: Attributes, *, job: Attributes | None = None,
                  data: bytes = b"") -> dict[str, Any]:
        """One request: its operation attributes, job attributes and document. Gives jobs, printers, unsupported-attributes."""
        from aiohttp import ClientConnectorError, ClientError
        from pyipp import IPPConnectionUpgradeRequired, IPPError, IPPResponseError, IPPVersionNotSupportedError
        from pyipp.enums import IppOperation

        message: dict[str, Any] = {"operation-attributes-tag": {"requesting-user-name": USER, **asked}}
        if job is not None:
            message["job-attributes-tag"] = dict(job)
        if data:
            message["data"] = data
        try:
            async with asyncio.timeout(ANSWER_S):
                return _sound(operation, await self._client.execute(IppOperation(operation.value), message))
        except IPPConnectionUpgradeRequired as problem:
            raise LabelError(f"The printer {self.uri} takes encrypted connections only.", kind="printer-refused",
                             hint="Give its address with ipps://.") from problem
        except IPPVersionNotSupportedError as problem:
            raise Refused(VERSION_NOT_SUPPORTED) from problem
        except IPPResponseError as problem:
            status = int(problem.args[1]["status-code"])
            if status >= 500:
                raise NoAnswer(f"HTTP status {status}") from problem
            raise LabelError(f"The printer {self.uri} answered with HTTP status {status}.", kind="printer-refused",
                             hint=CHECK_PATH) from problem
        except IPPError as problem:
            details = problem.args[1] if len(problem.args) > 1 else {}
            if "status-code" in details:
                raise Refused(int(details["status-code"])) from problem
            if isinstance(problem.__cause__, ClientConnectorError):
                raise gone(self.uri, _reason(problem.__cause__.os_error)) from problem
            raise NoAnswer(str(problem.__cause__ or problem)) from problem
        except TimeoutError as problem:
            raise NoAnswer(f"no answer within {ANSWER_S} s") from problem
        except UnicodeDecodeError as problem:  # aioipp takes what stands beside an HTTP error for a text
            raise NoAnswer("it answered with an error and bytes that are no text") from problem
        except (OSError, ClientError) as problem:  # a connection that broke while the answer was read
            raise NoAnswer(str(problem)) from problem


def _sound(operation: Operation, answer: dict[str, Any]) -> dict[str, Any]:
    """The answer, where it has what every answer has to have (RFC 8011 clauses 4.2.1.2, 5.3.7, 5.4.11). Raises NoAnswer."""
    printers, jobs = answer.get("printers", []), answer.get("jobs", [])
    good = (all(one.get("printer-state", 3) in _PRINTER_STATES for one in printers)
            and all(isinstance(one.get("job-id"), int) and one.get("job-state", 3) in _JOB_STATES for one in jobs)
            and (operation is not Operation.PRINT_JOB or bool(jobs)))
    if not good:
        raise NoAnswer("it answered with numbers or states that IPP does not have")
    return answer


def _reason(problem: OSError) -> str:
    return os.strerror(problem.errno) if problem.errno and problem.errno > 0 else str(problem.strerror or problem)


def gone(uri: str, why: str) -> LabelError:
    """The error for a printer that cannot be reached."""
    return LabelError(f"The printer {uri} cannot be reached: {why}.", kind="no-printer",
                      hint="Check that it is switched on, in this network, and its address; then print again.")


def printer_uri(given: str) -> str:
    """The address with the path that printers mostly have where it has none. Raises LabelError (bad-printer).

    Any host will do: the user names the printer. But no name or password before an @: they are not used, would be sent in
    the clear, and the host behind them is easily overlooked.
    """
    try:
        parts = urlsplit(given)
        # A line end inside would be taken out in silence, and another address asked than the one that is shown.
        good = parts.scheme in ("ipp", "ipps") and bool(parts.hostname) and parts.port != 0 and given.isprintable()
        named = "@" in parts.netloc
    except ValueError:
        good = named = False
    if named:
        raise LabelError("An address of a printer holds no name and no password.", kind="bad-printer",
                         hint=f"Give {parts.scheme}://{parts.netloc.rpartition('@')[2]}{parts.path} alone.")
    if not good:
        raise LabelError(f"{given} is no address of a printer.", kind="bad-printer",
                         hint="Give ipp://HOST/ipp/print, or ipps:// for an encrypted connection.")
    return given if parts.path.strip("/") else parts._replace(path="/ipp/print").geturl()


def _teach_attributes() -> None:
    """aioipp silently leaves out what is not in its table, and has media as a name where RFC 8011 has a keyword."""
    from pyipp.enums import IppTag
    from pyipp.tags import ATTRIBUTE_TAG_MAP

    ATTRIBUTE_TAG_MAP.update({"print-scaling": IppTag.KEYWORD, "media": IppTag.KEYWORD, "limit": IppTag.INTEGER})


async def _refuse_redirect(_session: Any, _context: Any, seen: Any) -> None:
    # A printer must not make this computer knock at another door of the network.
    where = seen.response.headers.get("Location", "elsewhere")
    raise LabelError(f"The printer at {seen.url} points to {where[:80]}, and is not followed there.", kind="printer-refused",
                     hint="If that is the printer's right address, give it yourself.")


def _bounded_response() -> Any:
    """aiohttp's answer, read no further than any printer's answer is long."""
    from aiohttp import ClientPayloadError, ClientResponse

    class Bounded(ClientResponse):
        async def read(self) -> bytes:
            held = bytearray()
            async for part in self.content.iter_any():
                held += part
                if len(held) > MOST_ANSWER_BYTES:
                    self.close()
                    raise ClientPayloadError(f"its answer is longer than {MOST_ANSWER_BYTES // 1_000_000} MB")
            return bytes(held)

    return Bounded


@asynccontextmanager
async def door(uri: str) -> AsyncIterator[Door]:
    """A way to the printer at that address. Raises LabelError: no-printing where aioipp is missing, bad-printer."""
    address = printer_uri(uri)
    try:
        from aiohttp import ClientSession, TCPConnector, TraceConfig
        from pyipp import IPP
    except ImportError as problem:
        raise LabelError("Printing needs a library that is not installed.", kind="no-printing",
                         hint="pip install 'gearkeep[print]'") from problem
    _teach_attributes()
    # A kept connection that the printer closes meanwhile would leave a job in doubt, so each request has its own.
    watch = TraceConfig()
    watch.on_request_redirect.append(_refuse_redirect)
    async with ClientSession(connector=TCPConnector(force_close=True), trace_configs=[watch],
                             response_class=_bounded_response()) as session:
        yield Door(address, IPP(address, request_timeout=ANSWER_S, session=session))


def run(work: Coroutine[Any, Any, T]) -> T:
    """Do it to its end in this thread."""
    return asyncio.run(work)


def values(attributes: Attributes, name: str) -> list[Any]:
    """All values of an attribute: none, one or many; what the printer calls unknown or no value is none."""
    given = attributes.get(name)
    if given is None or given == "":
        return []
    return list(given) if isinstance(given, list) else [given]

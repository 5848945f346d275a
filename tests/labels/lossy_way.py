"""A way to a printer on which print jobs, or the answers to them, get lost."""

from __future__ import annotations

import http.client
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

PRINT_JOB = b"\x00\x02"  # operation-id, behind two bytes of version (RFC 8010 clause 3.1.1)


@contextmanager
def lossy_way(port: int, *, request_arrives: bool) -> Iterator[str]:
    """An address that passes everything on to the printer at that port, save that no Print-Job is answered; whether it
    reaches the printer is said.
    """

    class Way(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            lost = body[2:4] == PRINT_JOB
            if lost and not request_arrives:
                return
            printer = http.client.HTTPConnection("localhost", port)
            printer.request("POST", self.path, body, {"Content-Type": "application/ipp"})
            answer = printer.getresponse().read()
            printer.close()
            if not lost:
                self.send_response(200)
                self.send_header("Content-Type", "application/ipp")
                self.send_header("Content-Length", str(len(answer)))
                self.end_headers()
                self.wfile.write(answer)

        def log_message(self, *_arguments: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Way)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"ipp://localhost:{server.server_port}/ipp/print"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()

"""A way to a PostgreSQL server that is cut when a certain command goes past."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field


@dataclass(slots=True)
class Proxy:
    """Passes on what a client says and hears, on `port`; `arm` says when to cut, once.

    shut: nobody is let through any more.
    """

    server_port: int
    listener: socket.socket
    shut: bool = False
    cuts: int = 0
    _marker: bytes | None = None
    _arrives: bool = False
    _stays_shut: bool = False
    _late_s: float = 0.0
    _open: list[socket.socket] = field(default_factory=list)

    @property
    def port(self) -> int:
        number: int = self.listener.getsockname()[1]
        return number

    def arm(self, marker: bytes, *, arrives: bool, stays_shut: bool = False, late_s: float = 0.0) -> None:
        """Cut at the next command that holds the marker. arrives: the server still gets it, so much later than the client
        learns that the connection is gone. stays_shut: nobody is let through from then on.
        """
        self._marker, self._arrives, self._stays_shut, self._late_s = marker, arrives, stays_shut, late_s

    def serve(self) -> None:
        """Take clients until the listener is closed."""
        while True:
            try:
                client, _ = self.listener.accept()
            except OSError:
                return
            if self.shut:
                client.close()
                continue
            self._open.append(client)
            threading.Thread(target=self._pass_on, args=(client,), daemon=True).start()

    def _pass_on(self, client: socket.socket) -> None:
        with contextlib.suppress(OSError), client, socket.create_connection(("127.0.0.1", self.server_port)) as server:
            back = threading.Thread(target=self._answers, args=(server, client), daemon=True)
            back.start()
            while said := client.recv(65536):
                if self._marker is not None and self._marker in said:
                    self._marker, self.cuts, self.shut = None, self.cuts + 1, self._stays_shut
                    # From here on the client hears nothing.
                    client.shutdown(socket.SHUT_WR)
                    if self._arrives:
                        time.sleep(self._late_s)
                        server.sendall(said)
                        server.shutdown(socket.SHUT_WR)
                        back.join(10)
                    else:
                        # Closing alone does not wake the thread that listens, and the server would wait for us.
                        server.shutdown(socket.SHUT_RDWR)
                    return
                server.sendall(said)

    @staticmethod
    def _answers(server: socket.socket, client: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while said := server.recv(65536):
                with contextlib.suppress(OSError):
                    client.sendall(said)

    def close(self) -> None:
        """End it, with every connection through it."""
        for one in (self.listener, *self._open):
            with contextlib.suppress(OSError):
                one.close()


@contextlib.contextmanager
def proxy_to(server_port: int) -> Iterator[Proxy]:
    """A proxy on 127.0.0.1 to a server's port."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        proxy = Proxy(server_port, listener)
        threading.Thread(target=proxy.serve, daemon=True).start()
        try:
            yield proxy
        finally:
            proxy.close()

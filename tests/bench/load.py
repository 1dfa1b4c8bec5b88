"""Bounded load on a local server: keep-alive sockets, one thread a client, latencies kept."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

Request = tuple[str, bytes]  # path, urlencoded form
HEAD = (
    "POST {path} HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\norigin: http://127.0.0.1:{port}\r\n"
    "content-type: application/x-www-form-urlencoded\r\nhx-request: true\r\n"
    "content-length: {length}\r\n\r\n"
)


class Refusal(RuntimeError):
    """The server did not answer 200."""


@dataclass(frozen=True)
class Latencies:
    """Of one load, sorted.  [ms]"""

    all_ms: tuple[float, ...]
    seconds: float

    @property
    def median_ms(self) -> float:
        return self.all_ms[len(self.all_ms) // 2]

    @property
    def p99_ms(self) -> float:
        return self.all_ms[min(len(self.all_ms) - 1, int(len(self.all_ms) * 0.99))]


class Client:
    """One keep-alive connection."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.socket = socket.create_connection(("127.0.0.1", port), timeout=30)
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def post(self, path: str, form: bytes) -> bytes:
        """The body of a 200 answer.  Raises Refusal with anything else."""
        head = HEAD.format(path=path, port=self.port, length=len(form))
        self.socket.sendall(head.encode() + form)
        received = b""
        while b"\r\n\r\n" not in received:
            received += self.more()
        headers, _, body = received.partition(b"\r\n\r\n")
        if b" 200 " not in headers[:16]:
            raise Refusal(received[:600].decode(errors="replace"))
        length = int(headers.lower().split(b"content-length:")[1].split(b"\r\n")[0])
        while len(body) < length:
            body += self.more()
        return body

    def more(self) -> bytes:
        chunk = self.socket.recv(1 << 18)
        if not chunk:
            raise Refusal("the server hung up")
        return chunk

    def close(self) -> None:
        self.socket.close()


def run_load(
    port: int, requests_of: Callable[[int], Iterator[Request]], clients: int, seconds: float
) -> Latencies:
    """Closed loop: each client sends its next request when the last was answered."""
    found: list[float] = []
    faults: list[BaseException] = []
    start = threading.Barrier(clients)

    def work(number: int) -> None:
        client, mine = Client(port), []
        try:
            requests = requests_of(number)
            start.wait()
            end = time.perf_counter() + seconds
            for path, form in requests:
                before = time.perf_counter()
                if before > end:
                    break
                client.post(path, form)
                mine.append((time.perf_counter() - before) * 1000)
        except BaseException as fault:
            faults.append(fault)
            start.abort()
        finally:
            client.close()
        found.extend(mine)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(clients)]
    began = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    if faults:
        raise faults[0]
    return Latencies(tuple(sorted(found)), time.perf_counter() - began)

"""How often a pairing code may be guessed wrong, by one address and by all together."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable

WINDOW_S = 600.0
MOST_BY_ONE = 5
MOST_BY_ALL = 30


class Pace:
    """Counts wrong tries of the last ten minutes, in this process, by an even clock."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self.clock = clock
        self._wrong: deque[tuple[float, str]] = deque(maxlen=MOST_BY_ALL)
        self._lock = threading.Lock()

    def wait_s(self, address: str) -> int:
        """Seconds until this address may try again; 0 where it may now."""
        with self._lock:
            since = self.clock() - WINDOW_S
            while self._wrong and self._wrong[0][0] <= since:
                self._wrong.popleft()
            mine = [at for at, by in self._wrong if by == address]
            waits = [0.0]
            if len(mine) >= MOST_BY_ONE:
                waits.append(mine[-MOST_BY_ONE] - since)
            if len(self._wrong) >= MOST_BY_ALL:
                waits.append(self._wrong[0][0] - since)
            longest = max(waits)
        return int(longest) + 1 if longest > 0 else 0

    def note_wrong(self, address: str) -> None:
        with self._lock:
            self._wrong.append((self.clock(), address))

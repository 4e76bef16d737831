"""A real process on a pseudo-terminal, driven line by line."""

from __future__ import annotations

import os
import pty
import select
import signal
import sys
import time
import warnings
from pathlib import Path

ROOT = Path(__file__).parents[3]


class Terminal:
    """Runs loadworthy with a terminal for its input and output; ``seen`` is everything printed so far."""

    def __init__(self, *arguments: str, cwd: Path | None = None, **env: str) -> None:
        self.seen = ""
        self.code: int | None = None
        self._read = 0
        with warnings.catch_warnings():
            # Newer interpreters warn of threads, and those of a test runner are none of the child's business.
            warnings.simplefilter("ignore", DeprecationWarning)
            self.pid, self._handle = pty.fork()
        if self.pid == 0:  # the child: as little as can be before exec
            try:
                # A test run in the background ignores it, and what is ignored stays so in the new program.
                signal.signal(signal.SIGINT, signal.SIG_DFL)
                if cwd is not None:
                    os.chdir(cwd)
                path = os.pathsep.join((str(ROOT / "core"), str(ROOT / "plugins"), os.environ.get("PYTHONPATH", "")))
                settings = {"TERM": "dumb", "COLUMNS": "200", "PYTHONPATH": path, "PYTHONUTF8": "1"}
                command = [sys.executable, "-m", "loadworthy", *arguments]
                os.execve(sys.executable, command, {**os.environ, **settings, **env})
            finally:
                os._exit(127)

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *_: object) -> None:
        if self.code is None:
            self.kill()
        os.close(self._handle)

    def pump(self, seconds: float) -> bool:
        """Take in what is printed within that time at most; false at the end of the output."""
        ready, _, _ = select.select([self._handle], [], [], max(0.0, seconds))
        if not ready:
            return True
        try:
            data = os.read(self._handle, 65536)
        except OSError:  # the other end is closed
            return False
        self.seen += data.decode("utf-8", "replace").replace("\r\n", "\n")
        return bool(data)

    def expect(self, text: str, seconds: float = 20.0) -> str:
        """Wait until a text is printed behind what was expected before; return all that was printed up to it."""
        end = time.monotonic() + seconds
        while text not in self.seen[self._read :]:
            assert time.monotonic() < end, f"{text!r} was not printed in time, but: {self.seen[self._read :]!r}"
            assert self.pump(0.1), f"{text!r} was never printed, but: {self.seen[self._read :]!r}"
        first = self._read
        self._read = self.seen.index(text, self._read) + len(text)
        return self.seen[first : self._read]

    def send(self, text: str) -> None:
        """Type a text and Enter."""
        os.write(self._handle, f"{text}\n".encode())

    def press(self, key: bytes) -> None:
        """Press a key, say Ctrl-C (3) or Ctrl-D (4), once the process waits for it: after its prompt."""
        time.sleep(0.1)
        os.write(self._handle, key)

    def play(self, *pairs: tuple[str, str]) -> None:
        """Wait for each prompt and answer it."""
        for prompt, answer in pairs:
            self.expect(prompt)
            self.send(answer)

    def kill(self) -> None:
        """End the process at once, as a power cut would, and take in what it had printed."""
        os.kill(self.pid, signal.SIGKILL)
        while self.pump(0.2):
            pass
        self._wait()

    def end(self, seconds: float = 20.0) -> int:
        """Wait for the process to end by itself; return its exit code."""
        limit = time.monotonic() + seconds
        while self.pump(0.1):
            assert time.monotonic() < limit, f"it did not end, but printed: {self.seen[-400:]!r}"
        return self._wait()

    def _wait(self) -> int:
        _, status = os.waitpid(self.pid, 0)
        self.code = os.waitstatus_to_exitcode(status)
        return self.code

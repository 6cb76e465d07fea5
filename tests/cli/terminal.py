"""A person at a terminal, who runs the command line and types."""

from __future__ import annotations

import codecs
import os
import pty
import re
import select
import subprocess
import sys
import time

# Opening it makes the terminal that of the new session, so that Ctrl-C reaches the program.
_AT_A_TERMINAL = """
import os
os.close(os.open(os.ttyname(0), os.O_RDWR))
# Whoever starts the tests in the background has them ignore Ctrl-C, and what they start with them.
import signal
signal.signal(signal.SIGINT, signal.default_int_handler)
from callpath.cli import main
main()
"""


class Terminal:
    """A person at a terminal: types lines, and reads what stands there."""

    def __init__(self, *arguments: str) -> None:
        main_end, far_end = pty.openpty()
        environment = {**os.environ, "TERM": "dumb", "COLUMNS": "120"}
        self._process = subprocess.Popen(
            [sys.executable, "-c", _AT_A_TERMINAL, *arguments],
            stdin=far_end,
            stdout=far_end,
            stderr=far_end,
            env=environment,
            start_new_session=True,
        )
        os.close(far_end)
        self._end = main_end
        # A character that a read has cut in two is no mistake of the program's.
        self._decoder = codecs.getincrementaldecoder("utf-8")()
        self.seen = ""
        self._ahead = ""

    def wait_for(self, words: str, seconds: float = 30) -> None:
        """Read until some words have come since the last ones that were waited for."""
        until = time.monotonic() + seconds
        while not (found := re.search(words, self._ahead)):
            assert time.monotonic() < until, f"waited for {words!r}, saw {self._ahead!r}"
            if select.select([self._end], [], [], 0.2)[0]:
                self._ahead += self._decoder.decode(os.read(self._end, 4096))
        # What came after them, in the same read, is still to be waited for.
        self.seen, self._ahead = self.seen + self._ahead[: found.end()], self._ahead[found.end() :]

    def type(self, question: str, line: str) -> None:
        """Answer a question that ends in a colon."""
        self.wait_for(question + r".*: ")
        time.sleep(0.05)
        os.write(self._end, f"{line}\n".encode())

    def kill(self) -> None:
        """End it at once, as when the power goes."""
        self._process.kill()
        self._process.wait(30)
        os.close(self._end)

    def answer(self, question: str, line: str) -> None:
        self.wait_for(re.escape(question) + r".*\]: ")
        # A person takes a moment, in which the program has got the terminal ready.
        time.sleep(0.05)
        os.write(self._end, line.encode())

    def leave(self, again: str = "") -> int:
        """Return the exit status, after everything that was still to come.

        What was typed the moment a question appeared can be lost while the program readies the terminal for the answer; a
        person types ``again``.
        """
        until = time.monotonic() + 30
        self.seen += self._ahead
        while time.monotonic() < until:
            if not select.select([self._end], [], [], 1)[0]:
                if self._process.poll() is not None:
                    break
                os.write(self._end, again.encode())
                continue
            try:
                data = os.read(self._end, 4096)
            except OSError:  # how Linux says that nobody is at the other end
                break
            if not data:
                break
            self.seen += self._decoder.decode(data)
        # Not before it has ended: a terminal that closes hangs up on whoever is still on the way out.
        try:
            return self._process.wait(30)
        except subprocess.TimeoutExpired:
            self._process.kill()
            raise
        finally:
            os.close(self._end)

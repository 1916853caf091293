"""An instrument on loopback, or behind a serial port, that answers SCPI queries, well or badly, as told.

Each answer is a text to send, or one of DROP (close the line instead of answering), SILENCE (say nothing), or a pair
(seconds, text) to send late. When the answers run out the last one is repeated.
"""

import contextlib
import io
import os
import socket
import termios
import threading
import time
import tty

DROP = object()
SILENCE = object()


class Simulator:
    """Serves until it is closed; `queries` holds what was asked."""

    def __init__(self, answers):
        self.answers = list(answers)
        self.queries = []
        self.connections = 0
        self._next = 0
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        threading.Thread(target=self._serve, daemon=True).start()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._listener.close()

    @property
    def address(self):
        return f"tcp://127.0.0.1:{self.port}"

    def _serve(self):
        while True:
            try:
                connection, _ = self._listener.accept()
            except OSError:
                return
            self.connections += 1
            threading.Thread(target=self._answer_all, args=(connection,), daemon=True).start()

    def _answer_all(self, connection):
        with connection, connection.makefile("r", encoding="ascii", errors="replace") as lines:
            for line in lines:
                self.queries.append(line.strip())
                answer = self.answers[min(self._next, len(self.answers) - 1)]
                self._next += 1
                if answer is DROP:
                    return
                if answer is SILENCE:
                    continue
                if isinstance(answer, tuple):
                    time.sleep(answer[0])
                    answer = answer[1]
                try:
                    connection.sendall(answer.encode("utf-8") + b"\n")
                except OSError:
                    return


class SerialSimulator(Simulator):
    """The same instrument behind a serial port: a pseudo-terminal, opened by the name of its other end."""

    def __init__(self, answers):
        self.answers = list(answers)
        self.queries = []
        self.connections = 0
        self._next = 0
        self._ours, self._theirs = os.openpty()
        tty.setraw(self._theirs)
        self.device = os.ttyname(self._theirs)
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self):
        with contextlib.suppress(OSError):  # the line's end, once nobody has the other end open
            self._answer_all(_Port(self._ours))

    def __exit__(self, *_):
        os.close(self._theirs)

    @property
    def address(self):
        return f"serial:{self.device}@19200"

    def baud(self):
        return termios.tcgetattr(self._theirs)[5]


class _Port:
    """A descriptor with what _answer_all needs of a socket."""

    def __init__(self, descriptor):
        self._file = os.fdopen(descriptor, "r+b", buffering=0)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._file.close()

    def makefile(self, *_, **__):
        return io.TextIOWrapper(io.BufferedReader(self._file), encoding="ascii", errors="replace")

    def sendall(self, data):
        self._file.write(data)

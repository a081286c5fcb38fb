"""Run the program as a process of its own that need not load it: it is forked from one that has.

Loading takes most of the time of a short command. What a shell or a terminal starts here is a small client; it hands
its arguments, environment, folder and standard streams to a process that has loaded everything (unix(7), SCM_RIGHTS),
waits for what is forked there, and leaves with its exit code. The terminal, its width and what is typed are the real
ones, and Ctrl-C is passed on. No other signal is, and how the program itself starts is not tried: whoever tests these
takes `tests.support.cli.program`.
"""

from __future__ import annotations

import atexit
import os
import socket
import struct
import subprocess
import sys
import tempfile
import time
from functools import cache
from pathlib import Path
from typing import Any

_ROOT = Path(__file__).parents[2]
# Without site and the usual modules: what a client loads, every command of a test waits for.
_CLIENT = """
import sys, posix, _signal, _socket
server = _socket.socket(_socket.AF_UNIX)
server.connect(sys.argv[1])
words = [word.encode("utf-8", "surrogateescape") for word in sys.argv[2:]]
environment = [name + b"=" + value for name, value in posix.environ.items()]
parts = [posix.getcwd().encode(), b"%d" % len(words), *words, *environment]
content = b"\\0".join(parts)
streams = b"".join(number.to_bytes(4, sys.byteorder) for number in (0, 1, 2))
server.sendmsg([len(content).to_bytes(4, "big")], [(_socket.SOL_SOCKET, _socket.SCM_RIGHTS, streams)])
server.sendall(content)
number = int.from_bytes(server.recv(4), "big")
_signal.signal(2, lambda *_: posix.kill(number, 2))  # Ctrl-C
code = server.recv(1)
posix._exit(code[0] if code else 99)
"""


def warm_program(*args: str) -> list[str]:
    """Return the words that run the program, as `program` does, from a process that has loaded it."""
    return [sys.executable, "-I", "-S", "-c", _CLIENT, _server(), *args]


@cache
def _server() -> str:
    """Start the process from which the others are forked; it ends with this one. Return where it listens."""
    place = f"{tempfile.mkdtemp(prefix='spindlebook-warm-')}/socket"
    env = {**os.environ, "PYTHONPATH": str(_ROOT), "OPENBLAS_NUM_THREADS": "1"}  # a fork takes no threads along
    server = subprocess.Popen(
        [sys.executable, __file__, place],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=env,
        start_new_session=True,  # Ctrl-C is for the tests
    )
    assert server.stdin is not None
    assert server.stdout is not None
    assert server.stdout.readline() == b"ready\n"
    server.stdout.close()

    atexit.register(server.communicate, timeout=30)
    return place


def _serve(place: str) -> None:
    """Fork a process for each client until standard input ends."""
    import gc
    import selectors

    from tests.support.kills import load_all

    load_all()
    gc.collect()
    gc.freeze()
    with socket.socket(socket.AF_UNIX) as listening, selectors.DefaultSelector() as ready:
        listening.bind(place)
        listening.listen(16)
        ready.register(listening, selectors.EVENT_READ)
        ready.register(0, selectors.EVENT_READ)
        os.write(1, b"ready\n")
        while not any(key.fd == 0 for key, _ in ready.select(timeout=1.0) or []):
            _answer(listening)
            _reap()
    Path(place).unlink()
    Path(place).parent.rmdir()  # here, for whoever started this may have been killed


def _answer(listening: socket.socket) -> None:
    listening.settimeout(0)
    try:
        client, _ = listening.accept()
    except BlockingIOError:
        return
    with client:
        if not os.fork():
            _become(client)


def _reap() -> None:
    try:
        while os.waitpid(-1, os.WNOHANG)[0]:
            pass
    except ChildProcessError:
        pass


def _become(client: socket.socket) -> None:
    """Be what the client asked for, then tell it the exit code; never returns."""
    code = 99
    try:
        client.setblocking(True)
        size, streams, _, _ = socket.recv_fds(client, 4, 3)
        content = b""
        while len(content) < struct.unpack(">I", size)[0]:
            content += client.recv(1 << 16)
        folder, number, *rest = content.split(b"\0")
        words, environment = rest[: int(number)], rest[int(number) :]
        for stream, fd in enumerate(streams):
            os.dup2(fd, stream)
            os.close(fd)
        os.chdir(folder)
        os.environ.clear()
        os.environb.update(pair.partition(b"=")[::2] for pair in environment)
        time.tzset()
        client.sendall(struct.pack(">I", os.getpid()))
        code = _run([os.fsdecode(word) for word in words])
    finally:
        client.send(bytes([code]))
        os._exit(0)


def _run(words: list[str]) -> int:
    from collection.cli.entry import main

    sys.argv = ["spindlebook", *words]
    sys.stdin = _open(0, "r", "strict")
    sys.stdout = _open(1, "w", "strict")
    sys.stderr = _open(2, "w", "backslashreplace")
    code: object = 0
    try:
        main()
    except SystemExit as leave:
        code = leave.code
    sys.stdout.flush()
    sys.stderr.flush()
    return code if isinstance(code, int) else int(bool(code))


def _open(number: int, mode: str, errors: str) -> Any:
    """Open a standard stream anew as Python does at its start: line by line where it is a terminal."""
    buffering = 1 if mode == "w" and (number == 2 or os.isatty(number)) else -1
    return open(number, mode, buffering, encoding="utf-8", errors=errors, closefd=False)


if __name__ == "__main__":
    _serve(sys.argv[1])

"""Kills what holds a key, in every way, and measures when the key comes up.

A stand-in for the control line (a Unix socket) notes each change on the machine's monotonic clock, the same that the
moment of the kill is taken from. A stand-in for the run, a process of its own, starts the program's `keyholder`, keys,
and beats every 100 ms as a run does.
"""

import argparse
import json
import os
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time

BEAT = 0.1
LONGEST = {"secs": 20, "nanos": 0}


class Line:
    """The control line: its changes with their moments. Its last close is key up."""

    def __init__(self, path):
        self.changes = []
        self.changed = threading.Condition()
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(path)
        self.listener.listen(4)
        threading.Thread(target=self.serve, daemon=True).start()

    def set(self, down):
        with self.changed:
            if not self.changes or self.changes[-1][1] != down:
                self.changes.append((time.monotonic(), down))
                self.changed.notify_all()

    def serve(self):
        while True:
            try:
                connection, _ = self.listener.accept()
            except OSError:
                return
            threading.Thread(target=self.hold, args=(connection,), daemon=True).start()

    def hold(self, connection):
        down = False
        try:
            for word in connection.makefile("rb"):
                if word in (b"down\n", b"up\n"):
                    down = word == b"down\n"
                    self.set(down)
                connection.sendall(b"down\n" if down else b"up\n")
        except OSError:
            pass
        if down:
            self.set(False)

    def when(self, down, after, within):
        """The first moment after `after` at which the line was so; None if it was not within so long."""
        end = time.monotonic() + within
        with self.changed:
            while True:
                for at, state in self.changes:
                    if state == down and at >= after:
                        return at
                left = end - time.monotonic()
                if left <= 0:
                    return None
                self.changed.wait(left)


def stand_in(program, path, tracer, leak):
    """A run: keys and beats until it is ended. Says the number of the process that holds the key."""
    # It dies as any process does; what this language makes of a Ctrl-C takes its time.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    ours, theirs = socket.socketpair()
    holder = subprocess.Popen([*tracer, program, "keyholder"], stdin=theirs, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    theirs.close()
    answers = ours.makefile("rb")
    number = 0

    def ask(what):
        nonlocal number
        ours.sendall(json.dumps({"number": number, "ask": what}).encode() + b"\n")
        while True:
            said = json.loads(answers.readline())
            if said["word"] != "working":
                break
        number += 1
        return said

    second = {"secs": 1, "nanos": 0}
    line = {"path": path, "wire": "rts", "two_lines": False}
    armed = ask({"arm": {
        "protocol": 1, "parent": holder_parent(holder.pid, tracer), "wiring": {"control": line}, "longest": LONGEST,
        "beat_within": {"secs": 0, "nanos": 300_000_000}, "rest": second, "rest_factor": 3,
        "brief": {"secs": 0, "nanos": 0},
        "rest_first": {"secs": 0, "nanos": 0}, "again": False,
    }})
    assert "armed" in armed["word"], armed
    ask({"down": {"longest": LONGEST}})
    if leak:
        os.set_inheritable(ours.fileno(), True)
        subprocess.Popen(["sleep", "5"], close_fds=False, stdout=subprocess.DEVNULL)
    print(holder_of(holder.pid, tracer), flush=True)
    while True:
        time.sleep(BEAT)
        ask("beat")


def holder_of(pid, tracer):
    """Behind a tracer the holder is its child."""
    if not tracer:
        return pid
    return int(open(f"/proc/{pid}/task/{pid}/children").read().split()[0])


def holder_parent(pid, tracer):
    return pid if tracer else os.getpid()


def signalled(*whom):
    def do(run, holder):
        for who, number in whom:
            os.kill(holder if who == "holder" else run, number)
    return do


def broke_a_page(run, holder):
    """The first such signal that comes from outside is taken for one of its own, and passes: until it is gone."""
    try:
        for _ in range(20):
            os.kill(holder, signal.SIGSEGV)
            time.sleep(0.002)
    except ProcessLookupError:
        pass


def to_the_group(run, _):
    os.killpg(run, signal.SIGINT)


# What is done, and the bound in seconds. A stopped run's beats are missed: 300 ms.
CASES = {
    "run killed": (signalled(("run", signal.SIGKILL)), 0.05),
    "holder killed": (signalled(("holder", signal.SIGKILL)), 0.05),
    "both killed": (signalled(("run", signal.SIGKILL), ("holder", signal.SIGKILL)), 0.05),
    "run stopped": (signalled(("run", signal.SIGSTOP)), 0.5),
    "run aborted": (signalled(("run", signal.SIGABRT)), 0.05),
    "run broke a page": (signalled(("run", signal.SIGSEGV)), 0.05),
    "holder aborted": (signalled(("holder", signal.SIGABRT)), 0.05),
    "holder broke a page": (broke_a_page, 0.05),
    "run killed, line leaked": (signalled(("run", signal.SIGKILL)), 0.5),
    "Ctrl-C to the group": (to_the_group, 0.05),
}


def trial(program, folder, name):
    path = os.path.join(folder, "key")
    if os.path.exists(path):
        os.unlink(path)
    line = Line(path)
    leak = ["--leak"] if "leaked" in name else []
    run = subprocess.Popen(
        [sys.executable, __file__, program, "--stand-in", path, *leak], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        start_new_session=True, text=True)
    holder = int(run.stdout.readline())
    assert line.when(True, 0, 5) is not None, "it was never keyed"
    # Anywhere between two beats.
    time.sleep(0.12 + (time.monotonic_ns() % 100) / 1000)
    assert line.when(False, line.when(True, 0, 0), 0) is None, "it came up before anything was done"
    do, _ = CASES[name]
    at = time.monotonic()
    do(run.pid, holder)
    up = line.when(False, at, 5)
    for pid in (run.pid, holder):
        try:
            os.kill(pid, signal.SIGKILL)
        except ProcessLookupError:
            pass
    run.wait()
    run.stdout.close()
    line.listener.close()
    return None if up is None else up - at


def injected(program, folder):
    """Errors of the holder's own calls: whatever fails, the line is up at the end, or its holder gone."""
    if shutil.which("strace") is None:
        print("no strace here: errors of the holder's calls were not tried")
        return True
    good = True
    for call, error in [("recvfrom", "EIO"), ("sendto", "EIO"), ("write", "ENOSPC"), ("epoll_wait", "EINTR"),
                        ("recvfrom", "ENOMEM"), ("sendto", "EPIPE"), ("read", "EIO")]:
        for first in (5, 12, 20, 30):
            path = os.path.join(folder, "key")
            if os.path.exists(path):
                os.unlink(path)
            line = Line(path)
            inject = f"inject={call}:error={error}:when={first}+"
            run = subprocess.Popen(
                [sys.executable, __file__, program, "--stand-in", path, "--strace", inject], stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL, start_new_session=True, text=True)
            threading.Timer(2.0, run.kill).start()
            run.wait()
            run.stdout.close()
            time.sleep(0.7)
            is_up = not line.changes or not line.changes[-1][1]
            if not is_up:
                print(f"{call} fails with {error} from call {first} on: the key STAYS DOWN")
            good &= is_up
            line.listener.close()
    print(f"{'errors of its own calls':28} the key is up at the end of each" if good else "see above")
    return good


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("program")
    arguments.add_argument("--trials", type=int, default=1000)
    arguments.add_argument("--only", help="a kind alone, such as `run killed`")
    arguments.add_argument("--stand-in")
    arguments.add_argument("--leak", action="store_true")
    arguments.add_argument("--strace")
    given = arguments.parse_args()
    if given.stand_in:
        tracer = ["strace", "-f", "-o", "/dev/null", "-e", given.strace] if given.strace else []
        stand_in(given.program, given.stand_in, tracer, given.leak)
    program = os.path.abspath(given.program)
    good = True
    with tempfile.TemporaryDirectory() as folder:
        print(f"{'':28} {'trials':>6} {'median':>9} {'worst':>9} {'bound':>9}")
        for name, (_, bound) in CASES.items():
            if given.only and name != given.only:
                continue
            took = [trial(program, folder, name) for _ in range(given.trials)]
            never = took.count(None)
            took = [1000 * span for span in took if span is not None] or [float("nan")]
            late = never or max(took) > 1000 * bound
            good &= not late
            print(f"{name:28} {given.trials:6} {statistics.median(took):6.1f} ms {max(took):6.1f} ms {1000 * bound:6.0f} ms"
                  + (f"  {never} NEVER" if never else "") + ("  TOO LATE" if late else ""), flush=True)
        if not given.only:
            good &= injected(program, folder)
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()

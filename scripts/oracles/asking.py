"""Our programs, asked one question at a time, and how far an answer may be off."""

import json
import subprocess


class Ours:
    """One of our programs that reads a question a line and answers it."""

    def __init__(self, program):
        self.process = subprocess.Popen([program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def __call__(self, ask, **question):
        self.process.stdin.write(json.dumps({"ask": ask, **question}) + "\n")
        self.process.stdin.flush()
        answer = json.loads(self.process.stdout.readline())
        if isinstance(answer, dict) and "error" in answer:
            raise AssertionError(answer["error"])
        return answer

    def end(self):
        self.process.stdin.close()
        assert self.process.wait(10) == 0


class Worst:
    """The largest deviation of many, over what each is allowed."""

    def __init__(self):
        self.share, self.count, self.shown = 0.0, 0, "0"

    def hold(self, found, expected, allowed, what=""):
        off = abs(found - expected)
        assert off <= allowed, f"{what}: found {found}, expected {expected} within {allowed}"
        self.count += 1
        if off / allowed >= self.share:
            self.share, self.shown = off / allowed, f"{off:.2g}, allowed {allowed:.2g}"

    def __str__(self):
        return f"{self.count} figures, farthest off {self.shown}"

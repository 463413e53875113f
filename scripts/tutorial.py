"""Follows pages of the book: runs what they have people type, and holds what comes of it against what they say.

What a page is read for:

  a block `sh`               commands, one a line (a `\\` at the end joins lines); each must end with status 0, or with the
                             one that its comment says: `# exit status 1`. One that ends with ` &` goes on beside the others
  a block `text` behind it   its standard output, line by line; `…` is anything within a line, and alone any lines
  a block `text,talk`        the same of standard error
  `<!-- file: NAME -->`      the next block is a file of that name
  a block `sh,by-hand`       is not run: it fetches and builds the program, or wants a person
"""

import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PAGES = ["tutorial", "own-rule", "own-profile", "night"]
STATUS = re.compile(r"#\s*exit status (\d+)")
FILE = re.compile(r"<!-- file: (\S+) -->")


class Differs(Exception):
    """The page says something else than what comes."""


def blocks(text):
    """The fenced blocks: number of the first line, language, lines, and the file that a comment before it names."""
    found, inside, name = [], None, None
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith("```"):
            if inside is None:
                inside = (number, line[3:].strip(), [], name)
                name = None
            else:
                found.append(inside)
                inside = None
        elif inside is not None:
            inside[2].append(line)
        elif match := FILE.search(line):
            name = match.group(1)
    if inside is not None:
        raise Differs(f"line {inside[0]}: this block has no end")
    return found


def commands(lines):
    """The commands of a block, with joined lines, and the status that each must end with."""
    joined = ""
    for line in lines:
        if line.endswith("\\"):
            joined += line[:-1]
            continue
        line, joined = joined + line, ""
        if line.strip() and not line.lstrip().startswith("#"):
            match = STATUS.search(line)
            yield line, int(match.group(1)) if match else 0


def pattern(line):
    return re.compile(".*".join(re.escape(part) for part in line.rstrip().split("…")))


def fits(wanted, came):
    """None if the lines are those that the page shows, else the first line of the page that is not there."""
    wanted = [line for line in wanted if line.strip()]
    came = [line.rstrip() for line in came if line.strip()]
    # Places in what came up to which everything so far fits.
    places, skip = {0}, False
    for line in wanted:
        if line.strip() == "…":
            skip = True
            continue
        starts = range(min(places), len(came)) if skip else sorted(places)
        places = {place + 1 for place in starts if place < len(came) and pattern(line).fullmatch(came[place])}
        skip = False
        if not places:
            return line
    if not skip and len(came) not in places:
        return f"the end; but there is more: {came[max(places)]}"
    return None


class Place:
    """A copy of the repository to type commands in, with a record of its own."""

    def __init__(self, program, folder):
        self.folder = folder / "spurline"
        listed = subprocess.run(["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
                                check=True, capture_output=True).stdout
        for name in filter(None, listed.decode().split("\0")):
            if Path(name).is_file():
                target = self.folder / name
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(name, target)
        tools = folder / "bin"
        tools.mkdir()
        (tools / "spurline").symlink_to(Path(program).resolve())
        self.environment = {
            "PATH": f"{tools}:{os.environ['PATH']}", "HOME": str(folder), "NO_COLOR": "1", "TZ": "UTC",
            "SPURLINE_DATA": str(folder / "data"), "LANG": "C.UTF-8",
        }
        self.beside = []

    def run(self, line):
        return subprocess.run(["bash", "-c", line], cwd=self.folder, env=self.environment,
                              capture_output=True, text=True, timeout=120, stdin=subprocess.DEVNULL)

    def start(self, line):
        """A command that goes on beside the others; what it prints is waited for."""
        file = tempfile.NamedTemporaryFile("w+", dir=self.folder.parent, suffix=".out")
        process = subprocess.Popen(["bash", "-c", "exec " + line], cwd=self.folder, env=self.environment, stdout=file,
                                   stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL, start_new_session=True)
        self.beside.append(process)
        return process, file

    def end(self):
        for process in self.beside:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGTERM)
                try:
                    process.wait(20)
                except subprocess.TimeoutExpired:
                    os.killpg(process.pid, signal.SIGKILL)


def must_fit(number, wanted, came, what):
    missing = fits(wanted, came.splitlines())
    if missing is not None:
        raise Differs(f"line {number}: {what} is not what the page shows. Missing:\n  {missing}\nWhat came:\n{came}")


def wait_for(number, wanted, process, file):
    until = time.monotonic() + 30
    while True:
        came = Path(file.name).read_text()
        if fits(wanted, came.splitlines()) is None:
            return
        if process.poll() is not None or time.monotonic() > until:
            must_fit(number, wanted, came, "what it printed")
        time.sleep(0.05)


def follow(page, place):
    """How many commands were run, and how many lines of output were held against the page."""
    ran = held = 0
    out = talk = ""
    going_on = None
    for number, language, lines, name in blocks(Path(page).read_text()):
        if name is not None:
            target = place.folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text("\n".join(lines) + "\n")
        elif language == "sh":
            out = talk = ""
            going_on = None
            for line, status in commands(lines):
                ran += 1
                if line.rstrip().endswith(" &"):
                    going_on = place.start(line.rstrip()[:-2])
                    continue
                begun = time.monotonic()
                done = place.run(line)
                out, talk = out + done.stdout, talk + done.stderr
                print(f"  {time.monotonic() - begun:5.1f} s  {line}", flush=True)
                # A shell tells a command that was killed by 128 and its signal.
                code = done.returncode if done.returncode >= 0 else 128 - done.returncode
                if code != status:
                    raise Differs(f"line {number}: `{line}` ended with {code}, not {status}:\n{done.stdout}{done.stderr}")
        elif language in ("text", "text,talk") and going_on is not None:
            wait_for(number, lines, *going_on)
            held += len(lines)
        elif language in ("text", "text,talk"):
            must_fit(number, lines, *((out, "its output") if language == "text" else (talk, "what it said")))
            held += len(lines)
    return ran, held


def self_test():
    assert fits(["a", "b … d"], ["a", "b c d"]) is None
    assert fits(["a", "…", "d"], ["a", "b", "c", "d"]) is None
    assert fits(["…", "c", "…"], ["a", "b", "c", "d"]) is None
    assert fits(["a", "c"], ["a", "b", "c"]) == "c"
    assert fits(["a"], ["a", "b"]) is not None
    assert fits(["a", "b"], ["a"]) == "b"
    assert [status for _, status in commands(["x  # exit status 3", "# no command", "y \\", "  z"])] == [3, 0]


def main():
    self_test()
    program, pages = sys.argv[1], sys.argv[2:] or PAGES
    for name in pages:
        page = name if name.endswith(".md") else f"docs/src/{name}.md"
        print(page, flush=True)
        with tempfile.TemporaryDirectory() as folder:
            place = Place(program, Path(folder))
            try:
                ran, held = follow(page, place)
            except Differs as differs:
                sys.exit(f"{page}, {differs}")
            finally:
                place.end()
        if ran < 2 or held < 2:
            sys.exit(f"{page}: {ran} commands and {held} lines of output: nothing to follow")
        print(f"  {ran} commands, {held} lines of output, as the page says", flush=True)


main()

"""Disturbs the writer of a record at every system call, and looks at what is left. Called by scripts/prove-record."""
import argparse, collections, concurrent.futures, os, pathlib, resource, shutil, signal, subprocess, sys, tempfile, threading, time

READINGS = 4
# Calls that reach the disk or its files, with what each may answer instead. strace numbers a call from 1.
FAULTS = [
    # Tried beside the others: who gets no lock waits for it.
    ("fcntl", "EIO"), ("fcntl", "EAGAIN"),
    ("pwrite64", "EIO"), ("pwrite64", "ENOSPC"), ("pread64", "EIO"), ("fsync", "EIO"), ("fdatasync", "EIO"),
    ("ftruncate", "EIO"), ("ftruncate", "ENOSPC"), ("fallocate", "ENOSPC"), ("openat", "EMFILE"), ("openat", "EIO"),
    ("unlink", "EIO"), ("mmap", "ENOMEM"), ("write", "EIO"), ("newfstatat", "EIO"),
    ("fstat", "EIO"), ("statfs", "EIO"), ("mkdir", "ENOSPC"), ("read", "EIO"), ("munmap", "EINVAL"), ("close", "EIO"),
]
CALLS = list(dict.fromkeys(call for call, _ in FAULTS))
SECONDS = 60
WORKERS = 4


def traced(call, fault, when, command, folder):
    """Runs a command with a fault put in; gives back its exit, output and how often the fault struck."""
    log = folder / "strace"
    inject = f"inject={call}:{fault}:when={when}"
    done = subprocess.run(["strace", "-f", "-qq", "-o", log, "-e", f"trace={call}", "-e", inject, *command],
                          capture_output=True, text=True, timeout=SECONDS)
    text = log.read_text(errors="replace") if log.exists() else ""
    struck = text.count("(INJECTED)") + text.count("+++ killed by SIGKILL +++")
    return done, struck


class Prover:
    def __init__(self, survivor, share, work):
        self.survivor, self.share, self.work = survivor, share, pathlib.Path(work)
        self.counts, self.failures, self.lock = collections.Counter(), [], threading.Lock()

    def look(self, name, folder, acknowledged):
        seen = subprocess.run([self.survivor, "look", folder / "data", str(acknowledged)], capture_output=True, text=True)
        if seen.returncode:
            self.failures.append(f"{name}: {seen.stderr.strip()}")

    def one(self, kind, call, fault, when):
        """One disturbed writer and the look at its record; how often it was disturbed."""
        name = f"{call}:{fault}:when={when}"
        folder = pathlib.Path(tempfile.mkdtemp(dir=self.work))
        try:
            done, struck = traced(call, fault, when, [self.survivor, "write", str(READINGS), folder / "data"], folder)
            if not struck:
                return 0
            numbers = [int(line) for line in done.stdout.split()]
            # Where standard output itself failed, nothing was acknowledged by it.
            acknowledged = numbers[-1] if numbers else 0
            if acknowledged != 2 + 2 * READINGS and done.returncode == 0:
                self.failures.append(f"{name}: it ended well and acknowledged {acknowledged} events only")
            if "panicked" in done.stderr:
                self.failures.append(f"{name}: it panicked: {done.stderr.strip()}")
            with self.lock:
                self.counts[kind] += 1
                self.counts["of these, ended with an error that was told"] += done.returncode == 1
            if (folder / "data").exists() or acknowledged:
                self.look(name, folder, acknowledged)
            return struck
        except subprocess.TimeoutExpired:
            self.failures.append(f"{name}: it hung for {SECONDS} s")
            return 1
        finally:
            shutil.rmtree(folder)

    def until_clean(self, kind, call, fault, form, share, pool, width=WORKERS):
        """Goes on until a fault strikes nowhere any more: that is the number of places that there are."""
        when = 1
        while True:
            places = [when + share * step for step in range(width)]
            struck = list(pool.map(lambda place: self.one(kind, call, fault, form.format(place)), places))
            if not all(struck):
                return
            when = places[-1] + share

    def recovering(self):
        """A writer killed half way, then its successor killed or failing in recovery: what the first acknowledged stays."""
        start = self.work / "recover"
        start.mkdir()
        done, struck = traced("pwrite64", "signal=KILL", "150", [self.survivor, "write", str(READINGS), start / "data"], start)
        assert struck and done.stdout, "expected the first writer to be killed between two commits"
        acknowledged = int(done.stdout.split()[-1])

        def again(call, fault, when):
            folder = pathlib.Path(tempfile.mkdtemp(dir=self.work))
            try:
                shutil.copytree(start / "data", folder / "data")
                _, struck = traced(call, fault, when, [self.survivor, "look", folder / "data", str(acknowledged)], folder)
                if struck:
                    self.counts["fault while recovering from a fault"] += 1
                    self.look(f"recovery, {call}:{fault}:when={when}", folder, acknowledged)
                return struck
            finally:
                shutil.rmtree(folder)

        for call in ["pwrite64", "pread64", "fsync", "fdatasync", "ftruncate", "openat", "fcntl", "mmap", "unlink"]:
            for fault in ["signal=KILL", "error=EIO"]:
                when = 1
                while again(call, fault, str(when)):
                    when += self.share

    def without_strace(self):
        """A file that may not grow stands in for a full disk; a folder and a file that may not be written."""
        for limit in range(4096, 140_000, 4096 * self.share):
            folder = pathlib.Path(tempfile.mkdtemp(dir=self.work))

            def bound():
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

            done = subprocess.run([self.survivor, "write", str(READINGS), folder / "data"], capture_output=True, text=True, preexec_fn=bound)
            numbers = [int(line) for line in done.stdout.split()]
            self.counts["file that may not grow beyond a size"] += done.returncode != 0
            if done.returncode == 0 and (not numbers or numbers[-1] != 2 + 2 * READINGS):
                self.failures.append(f"RLIMIT_FSIZE {limit}: it ended well without an end")
            self.look(f"RLIMIT_FSIZE {limit}", folder, numbers[-1] if numbers else 0)
            shutil.rmtree(folder)

    def full_disk(self):
        """File systems of a few hundred kilobytes, each a page larger than the last: needs the right to mount."""
        mount = self.work / "small"
        mount.mkdir()
        for size in range(40, 400, 4 * self.share):
            if subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}k", "small", mount], capture_output=True).returncode:
                print("no right to mount: a full disk was tried by RLIMIT_FSIZE alone")
                return
            try:
                environment = {**os.environ, "SPURLINE_RESERVE": "0"}
                done = subprocess.run([self.survivor, "write", str(READINGS), mount / "data"], capture_output=True, text=True, env=environment)
                numbers = [int(line) for line in done.stdout.split()]
                self.counts["full file system"] += done.returncode != 0
                folder = pathlib.Path(tempfile.mkdtemp(dir=self.work))
                if (mount / "data").exists():
                    shutil.copytree(mount / "data", folder / "data")
                    self.look(f"tmpfs of {size} kB", folder, numbers[-1] if numbers else 0)
                elif numbers:
                    self.failures.append(f"tmpfs of {size} kB: acknowledged without a folder")
                shutil.rmtree(folder)
            finally:
                subprocess.run(["umount", mount], check=True)


def can_inject():
    tried = subprocess.run(["strace", "-qq", "-o", "/dev/null", "-e", "inject=chdir:error=EIO", "true"], capture_output=True)
    return tried.returncode == 0


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("survivor")
    arguments.add_argument("--share", type=int, default=1)
    arguments.add_argument("--without-strace", action="store_true")
    given = arguments.parse_args()
    start = time.monotonic()
    with tempfile.TemporaryDirectory() as work, concurrent.futures.ThreadPoolExecutor(WORKERS) as pool:
        prover = Prover(given.survivor, given.share, work)
        prover.without_strace()
        prover.full_disk()
        if given.without_strace:
            print("WITHOUT STRACE: no failing call and no kill was tried")
        elif not shutil.which("strace") or not can_inject():
            sys.exit("strace cannot put faults in here: install it and allow ptrace, or say `--without-strace`")
        else:
            with concurrent.futures.ThreadPoolExecutor(8) as beside, concurrent.futures.ThreadPoolExecutor(24) as waiting:
                jobs = []
                for call, error in FAULTS:
                    for kind, form in [("call failed once", "{}"), ("call failed for ever", "{}+")]:
                        if call == "fcntl":
                            jobs.append(beside.submit(prover.until_clean, kind, call, f"error={error}", form, given.share, waiting, 12))
                        else:
                            prover.until_clean(kind, call, f"error={error}", form, given.share, pool)
                for call in CALLS:
                    prover.until_clean("killed at a call", call, "signal=KILL", "{}", given.share, pool)
                prover.recovering()
                for job in jobs:
                    job.result()
    for what, count in prover.counts.items():
        print(f"{what:44} {count:6}")
    print(f"{'seconds':44} {time.monotonic() - start:6.0f}")
    for failure in prover.failures:
        print(f"FAILED {failure}")
    sys.exit(1 if prover.failures else 0)


main()

"""Works out the chain of every run of a record anew, with nothing of the program: sqlite3 and hashlib alone.

    chain.py RECORD                   prints each run with its head, or where its chain breaks; ends with 1 if one does
    chain.py RECORD PUBLIC_KEY        also has every signature by that key tried by openssl

The form of the chain is told in docs/src/record.md. The levels of sweeps are in a coding of their own: their hashes are
taken from the record as they stand.
"""
import hashlib, sqlite3, struct, subprocess, sys, tempfile, zlib

PARTS = {
    "event": "run, sequence, at, kind, reading, detail",
    "run": "id, plan, bench, unit_maker, unit_model, unit_serial, unit_firmware, rule, decision, started, software, simulated_seed, header",
    "text": "run, ordinal, role, name, text",
    "instrument": "run, sequence, role, address, profile, maker, model, serial, firmware, calibrated, due, certificate",
    "reading": "run, ordinal, quantity, channel, power_setting, supply, path, harmonic_order, frequency_hz, value, unit, level_dbm, bound, limit_dbm, limit_low, limit_high, margin_db, expanded_uncertainty_db, outcome, reason_code, reason, at, detail",
    "acquisition": "run, reading, ordinal, purpose, keyed, at, centre_hz, span_hz, rbw_hz, vbw_hz, points, sweep_time_s, detector, attenuation_db, preamplifier, reference_level_dbm, overload, uncalibrated, marker_hz, marker_dbm, sweeps",
    "sweep": "run, reading, acquisition, ordinal, n, hash",
    "transcript_batch": "run, entries, size, hash",
}


class Text(bytes):
    """A text column, told from bytes."""


def field(value):
    if value is None:
        return b"N"
    if isinstance(value, int):
        return b"I" + struct.pack(">q", value)
    if isinstance(value, float):
        return b"F" + struct.pack(">d", value)
    return (b"T" if isinstance(value, Text) else b"B") + struct.pack(">Q", len(value)) + value


def rows(record, table, which, values):
    found = record.execute(f"SELECT {PARTS[table]} FROM {table} WHERE {which}", values)
    return b"".join(b"R" + field(Text(table.encode())) + field(len(row)) + b"".join(map(field, row)) for row in found)


def digest(record, run, kind, reading, place):
    if kind is None:
        return b"".join([field(Text(b"spurline transcript 1")), rows(record, "transcript_batch", "ordinal = ?", [place])])
    content = field(Text(b"spurline event 1")) + rows(record, "event", "run = ? AND sequence = ?", [run, place])
    if kind == b"run-started":
        content += rows(record, "run", "id = ?", [run]) + rows(record, "text", "run = ? ORDER BY ordinal", [run])
    content += rows(record, "instrument", "run = ? AND sequence = ?", [run, place])
    if reading is not None:
        content += rows(record, "reading", "run = ? AND ordinal = ?", [run, reading])
        content += rows(record, "acquisition", "run = ? AND reading = ? ORDER BY ordinal", [run, reading])
        content += rows(record, "sweep", "run = ? AND reading = ? ORDER BY acquisition, ordinal", [run, reading])
    return content


def sha256(content):
    return hashlib.sha256(content).digest()


def head_of(record, run):
    link, last = bytes(32), 0
    chain = record.execute("""SELECT number, kind, reading, sequence FROM event WHERE run = :run UNION ALL
        SELECT number, NULL, NULL, ordinal FROM transcript_batch WHERE run = :run ORDER BY 1""", {"run": run})
    for number, kind, reading, place in chain.fetchall():
        if number != last + 1:
            sys.exit(f"{run}: expected link {last + 1}, found {number}")
        if kind is None:
            codec, data, kept = record.execute("SELECT codec, data, hash FROM transcript_batch WHERE ordinal = ?", [place]).fetchone()
            if codec != 2 and sha256(zlib.decompress(data) if codec else data) != kept:
                sys.exit(f"{run}: the messages of link {number} are not what was recorded")
        of_all = sha256(digest(record, run, kind, reading, place))
        link, last = sha256(field(Text(b"spurline link 1")) + field(link) + field(of_all)), number
    return link, last


def signed(record, run, public_key):
    found = record.execute("SELECT head, at, software, signature FROM signature WHERE run = ?", [run]).fetchall()
    for head, at, software, signature in found:
        message = b"".join(map(field, [Text(b"spurline signature 1"), Text(run.encode()), head, at, software]))
        with tempfile.NamedTemporaryFile() as what, tempfile.NamedTemporaryFile() as by:
            what.write(message), by.write(signature), what.flush(), by.flush()
            subprocess.run(["openssl", "pkeyutl", "-verify", "-pubin", "-inkey", public_key, "-rawin", "-in", what.name,
                            "-sigfile", by.name], check=True, stdout=subprocess.DEVNULL)
    return len(found)


def main():
    record = sqlite3.connect(f"file:{sys.argv[1]}?mode=ro", uri=True)
    record.text_factory = Text
    runs = record.execute("SELECT id, links, head FROM run WHERE chain = 1 ORDER BY started").fetchall()
    for run, links, head in [(run.decode(), links, head) for run, links, head in runs]:
        found, count = head_of(record, run)
        if (found, count) != (head, links):
            sys.exit(f"{run}: the chain does not lead to its head")
        by_key = f" {signed(record, run, sys.argv[2])} signed" if len(sys.argv) > 2 else ""
        print(f"{run} {found.hex()} {count} links{by_key}")


main()

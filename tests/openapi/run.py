"""Holds the service's interface against its own OpenAPI document with schemathesis: run.py PROGRAM.

Every operation is called with what the document allows and with what it does not, with the token and without. The
benches are simulated; what is asked for is measured.
"""

import json
import os
import pathlib
import subprocess
import sys

from service import served


def main(program: str) -> int:
    with served(program) as service:
        address = service.link()
        folder = service.folder
        token = (folder / "data/token").read_text().strip()
        # A run to be asked for.
        subprocess.run(
            [program, "run", str(folder / "plans/short.yaml"), "--bench", str(folder / "bench.yaml"),
             "--data", str(folder / "data")],
            check=True, capture_output=True,
        )
        (folder / "schemathesis.toml").write_text(
            "[parameters]\n"
            '"run" = "last"\n'
        )
        schemathesis = pathlib.Path(sys.executable).with_name("schemathesis")
        ran = subprocess.run(
            [schemathesis, "run", f"{address}/api/openapi.json", "--header", f"Authorization: Bearer {token}",
             "--checks", "all", "--max-examples", os.environ.get("SPURLINE_EXAMPLES", "5"),
             "--seed", "7", "--rate-limit", "150/s", "--no-color", *sys.argv[2:]],
            cwd=folder, check=False,
        )
        ended, panics = service.end()
        print(json.dumps({"schemathesis": ran.returncode, "service": ended, "panics": panics}))
        return 1 if ran.returncode or ended or panics else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))

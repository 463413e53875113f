"""Prints the licences of all that is built into the program, with their texts, each text once.

The packages are those that `cargo metadata` resolves for this machine, without what only tests and builds use. Ends with 1
if one of them says nothing about its licence.
"""

import collections
import json
import pathlib
import re
import subprocess
import sys

NAMES = re.compile(r"(licen[cs]e|copying|copyright|notice|unlicense)", re.IGNORECASE)


def host():
    told = subprocess.run(["rustc", "-vV"], check=True, capture_output=True, text=True).stdout
    return re.search(r"^host: (.*)$", told, re.MULTILINE).group(1)


def metadata():
    command = ["cargo", "metadata", "--format-version", "1", "--locked", "--filter-platform", host()]
    return json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def built_in(told):
    """The names of the packages that the program is made of, its own aside."""
    nodes = {node["id"]: node for node in told["resolve"]["nodes"]}
    own = set(told["workspace_members"])
    program = next(package["id"] for package in told["packages"] if package["name"] == "spurline" and package["id"] in own)
    reached, todo = set(), [program]
    while todo:
        for dependency in nodes[todo.pop()]["deps"]:
            usual = any(kind["kind"] is None for kind in dependency["dep_kinds"])
            if usual and dependency["pkg"] not in reached:
                reached.add(dependency["pkg"])
                todo.append(dependency["pkg"])
    return reached - own


def texts(package):
    folder = pathlib.Path(package["manifest_path"]).parent
    for file in sorted(folder.iterdir()):
        if file.is_file() and NAMES.search(file.name) and file.suffix not in {".rs", ".toml"}:
            yield file.read_text(encoding="utf-8", errors="replace").strip()


def main():
    told = metadata()
    wanted = built_in(told)
    packages = sorted((p for p in told["packages"] if p["id"] in wanted), key=lambda p: (p["name"], p["version"]))
    print("What is built into spurline of others, and the licences of it.\n")
    missing, of_text = [], collections.defaultdict(list)
    for package in packages:
        name = f"{package['name']} {package['version']}"
        print(f"{name}: {package['license'] or 'see the text below'}; {package['repository'] or ''}".rstrip("; "))
        own = list(texts(package))
        for text in own:
            of_text[text].append(name)
        if not package["license"] and not own:
            missing.append(name)
    for text, names in of_text.items():
        print(f"\n{'-' * 78}\nof {', '.join(names)}:\n\n{text}")
    for name in missing:
        print(f"{name} says nothing about its licence", file=sys.stderr)
    return 1 if missing else 0


sys.exit(main())

#!/usr/bin/env python3
"""What README points at is there: links, headings, tools, commands and options of the program; its TOML is TOML."""
import pathlib
import re
import sys
import tomllib

root = pathlib.Path(__file__).resolve().parents[2]


def main():
    text = (root / "README.md").read_text(encoding="utf-8")
    program = "".join(f.read_text() for f in (root / "src/cli").glob("*.cpp"))
    faults = []
    headings = {re.sub(r"[^\w\- ]", "", h.lower()).replace(" ", "-") for h in re.findall(r"^#+ (.*)", text, re.M)}
    for link in re.findall(r"\]\(([^)]+)\)", text):
        if link[1:] not in headings if link.startswith("#") else not (root / link).exists():
            faults.append(f"link: {link}")
    for tool in set(re.findall(r"(?<![\w/])tools/\w+", text)):
        if not (root / tool).exists():
            faults.append(f"tool: {tool}")
    for block in re.findall(r"```toml\n(.*?)```", text, re.S):
        try:
            tomllib.loads(block)
        except tomllib.TOMLDecodeError as e:
            faults.append(f"TOML: {e}: {block[:60]}")
    calls = re.findall(r"(?:^    |`)gapfront ([a-z]+)([^`#\n]*)", text, re.M)
    for command, rest in calls:
        if f'"{command}"' not in program:
            faults.append(f"command: gapfront {command}")
        for option in re.findall(r"(?<!\S)(--[a-z-]+)", rest):
            if option not in program:
                faults.append(f"option: gapfront {command} {option}")
    for fault in faults:
        print(f"README.md: {fault}", file=sys.stderr)
    print(f"{len(calls)} calls of the program, {len(faults)} faults")
    sys.exit(1 if faults or len(calls) < 20 else 0)  # fewer: the search itself is broken


main()

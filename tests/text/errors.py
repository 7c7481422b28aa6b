#!/usr/bin/env python3
"""Every error says what to do: place, fault; remedy. In the source of each there is a semicolon before the remedy, or the
fault is the remedy ("must be greater than zero", "give it once"), or both come in a variable that is read here too. And every note of a result has its entry in `gapfront help messages`.
"""
import pathlib
import re
import sys

root = pathlib.Path(__file__).resolve().parents[2]


def calls(text, start):
    """The text of a call from its opening bracket to the closing one; brackets in literals do not count."""
    depth, k = 0, start
    while k < len(text):
        c = text[k]
        if c == '"':
            k += 1
            while text[k] != '"':
                k += 2 if text[k] == "\\" else 1
        elif c == "'" and text[k + 2 : k + 3] == "'":
            k += 2
        elif c in "({":
            depth += 1
        elif c in ")}":
            depth -= 1
            if depth == 0:
                return text[start : k + 1]
        k += 1
    return text[start:]


def unlisted_notes():
    """Notes that `gapfront help messages` does not list: it lists what begins like the texts named in topics.cpp."""
    topics = (root / "src/cli/topics.cpp").read_text()
    topics = topics[topics.index("ManualPage topic_messages()") :]
    begins = tuple(m[1] for m in re.finditer(r'"([a-z]+\.[a-z-]*)"', topics))
    out = []
    for file in sorted((root / "src").rglob("*.cpp")):
        text = file.read_text()
        for m in re.finditer(r"warnings\.(push_back|emplace_back)\(", text):
            for note in re.finditer(r'Message\("([a-z]+\.[^"]*)"', calls(text, m.end() - 1)):
                if not note[1].startswith(begins):
                    out.append(f"{file.relative_to(root)}: {note[1]}: is not in gapfront help messages")
    return out


def literals(code):
    return "".join(m[1] for m in re.finditer(r'"((?:[^"\\]|\\.)*)"', code))


# "must be above zero" tells what to do; these words do.
SAYS_WHAT_TO_DO = re.compile(r"\bmust\b|\bgive\b|\bneeds?\b|\bneeded\b|e\.g\.|\bexchange\b")
# What is handed in: a line that was made elsewhere, by code that this script sees there, or a doubt's text, which says
# what to check first (src/text/po: doubt.…).
HANDED_IN = re.compile(r"\b(line|text|what|fault|headline)\b")
EXCEPTIONS = {
    "src/report/picture.cpp": "libpng says it: out of memory",
    "src/report/packer.cpp": "out of memory",
    "src/units/parse.cpp": "a fault of the caller: a quantity that has no units",
    "src/pipeline/validate.cpp": "the painted mesh that is not given is the remedy",
}


def main():
    found, faults = 0, unlisted_notes()
    for file in sorted((root / "src").rglob("*.[ch]pp")):
        text = file.read_text()
        for m in re.finditer(r"\bError\((?=Fault::(input|measurement))", text):
            call = calls(text, m.end() - 1)
            found += 1
            words = literals(call)
            line = text[: m.start()].count("\n") + 1
            short = str(file.relative_to(root))
            code = re.sub(r'"(?:[^"\\\\]|\\\\.)*"', "", call)
            if not (";" in words or SAYS_WHAT_TO_DO.search(words) or HANDED_IN.search(code) or short in EXCEPTIONS):
                faults.append(f"{file.relative_to(root)}:{line}: {' '.join(call.split())[:200]}")
            if "\\n" in words:
                faults.append(f"{file.relative_to(root)}:{line}: more than one line: {words[:120]}")
    for fault in faults:
        print(fault, file=sys.stderr)
    print(f"{found} errors, {len(faults)} without a remedy")
    sys.exit(1 if faults or found < 200 else 0)  # fewer: the search itself is broken


main()

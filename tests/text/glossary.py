#!/usr/bin/env python3
"""One word, one meaning, in five languages: wherever an English text uses a term of src/text/glossary.csv, the other
languages use the term's word, in any of its forms.

A cell holds the word and, after bars, its other stems; a longer term ("open channel") is looked for before a shorter one
and hides it. EXCEPTIONS are texts where the English word means something else, with the reason.
"""
import csv
import pathlib
import re
import sys

root = pathlib.Path(__file__).resolve().parents[2] / "src/text"
languages = ("de", "fr", "es", "pt")
EXCEPTIONS = {
    ("bench.title", "half"): "of an hour",
    ("clamping.bench-press", "half"): "a fraction",
    ("clamping.weight-from-thickness", "half"): "a fraction",
    ("diagnosis.vent-shut-when-half", "half"): "a fraction",
    ("mesh.what-mesh-does-dry", "half"): "a fraction",
    ("pages.flow-schedule-if-half", "half"): "a fraction",
    ("pages.leak-costs-half-vacuum", "half"): "a fraction",
    ("clamping.how-half-breathes-computed", "half"): "breathing is said without the half",
    ("order.dust-grinding-mold-face", "wear"): "gloves",
    ("order.styrene-ventilate-keep-ignition", "wear"): "gloves",
    ("proof.grinding-mold-face-makes", "wear"): "gloves",
    ("proof.resins-styrene-organic-peroxides", "wear"): "gloves",
    ("pages.give-cycles-job-if", "cycles"): "a key of the job file",
}


def texts(language):
    """Identifier -> text (all plural forms in one) of a gettext catalogue."""
    out, key, field = {}, "", ""
    for line in (root / f"po/{language}.po").read_text(encoding="utf-8").splitlines():
        if m := re.match(r'(msgid|msgid_plural|msgstr(?:\[\d\])?) "(.*)"$', line):
            field = m[1]
            if field == "msgid":
                key = m[2]
            elif field.startswith("msgstr"):
                out[key] = out.get(key, "") + " " + m[2]
        elif line.startswith('"') and field.startswith("msgstr"):
            out[key] += line[1:-1]
        elif line.startswith('"') and field == "msgid":
            key += line[1:-1]
    out.pop("", None)
    return {key: re.sub(r"<[^>]*>", "", text).lower() for key, text in out.items()}


def main():
    rows = list(csv.DictReader((root / "glossary.csv").open(encoding="utf-8")))
    terms = sorted(((form, row) for row in rows for form in row["term"].split("|")), key=lambda t: -len(t[0]))
    said = {language: texts(language) for language in ("en", *languages)}
    faults, uses = [], {row["term"]: 0 for row in rows}
    for key, english in said["en"].items():
        for term, row in terms:
            if not (found := re.search(rf"(?<![\w-]){re.escape(term)}(?![\w-])", english)):
                continue
            uses[row["term"]] += 1
            english = english.replace(found[0], " ")
            if (key, term) in EXCEPTIONS:
                continue
            for language in languages:
                stems = row[language].split("|")
                if not any(stem in said[language].get(key, "") for stem in stems):
                    faults.append(f"{language}.po: {key}: \"{term}\" without {' or '.join(stems)}: {said[language].get(key)}")
    faults += [f"glossary.csv: \"{term}\": no text uses it" for term, n in uses.items() if n == 0]
    for fault in faults:
        print(fault, file=sys.stderr)
    print(f"{len(rows)} terms, {sum(uses.values())} uses, {len(faults)} faults")
    sys.exit(1 if faults else 0)


main()

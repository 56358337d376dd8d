#!/usr/bin/env python3
"""One term for one thing in all that a person reads: manuals, README, texts of both languages, and what the sources say
in quotation marks. The terms are those of ISO 21940-2 (unbalance, residual, permissible, balance quality grade); the
German ones those of its German edition, from memory. What each word stands for is in the manuals' index.

usage: terms_test.py SOURCE_FOLDER
"""
import glob
import os
import re
import sys

SOURCE = sys.argv[1]
# What must not be said, and what is said for it.
ENGLISH = {
    r"\bimbalance": "unbalance",
    r"\b(allowed|permitted|allowable|tolerable|admissible) (residual|unbalance)": "permissible residual unbalance",
    r"\b(remaining|leftover|rest) unbalance": "residual unbalance",
    r"\bcounter-?weights?\b|\bbalanc(e|ing) weights?\b|\bcorrection (mass|masses|weights?)\b": "weight",
    r"\btest weights?\b": "trial weight; test mass, of a qualification by ISO 21940-21",
    r"\bbalance (class|grade)\b|\bquality class\b": "balance quality grade",
    r"\b(correction|balancing) (positions?|places?)\b": "plane, of a correction; place, where it is held",
    r"\bcritical speeds? of (the |this )?(rig|pedestal|support)|\bthe rig'?s critical speed": "resonance speed, of a rig",
    r"\bresonance speeds? of the (shaft|tube)\b": "critical speed, of a shaft",
    r"\blines? (was|were) fitted(?! along)": "a line is fitted along",
    r"\b(weights?|pieces?) (was|were|is|are) fitted along": "a weight is fitted",
    r"\bbearing planes?\b": "support",
    r"\bsecond support plane\b": "support",
}
GERMAN = {
    r"\bUngleichgewicht|\bImbalance": "Unwucht",
    r"\b(erlaubte|gestattete|tolerierte) (Rest)?[Uu]nwucht": "zulässige Restunwucht",
    r"\b(übrige|verbleibende) Unwucht": "Restunwucht",
    r"\bWuchtg[üu]te|\bGüteklasse|\bWuchtklasse": "Auswucht-Gütestufe",
    r"(?<!Aus)(?<!aus)\bWuchtprotokoll|\bWuchtbericht": "Auswuchtprotokoll",
    r"\b(U|1)/min\b": "min⁻¹",
    r"\d ?Grad\b": "°",
    r"\bunentscheidbar|\bunsicher es Urteil|\bnicht bestimmbar": "nicht entscheidbar",
    r"\bGegengewicht|\bProbegewicht|\bVersuchsgewicht": "Testgewicht",
    r"\bUrteil\b|\bBeurteilung\b": "Bewertung",
}


def quoted(text):
    """What stands in quotation marks, line ends of the source between its parts taken out."""
    joined = re.sub(r'"\s*\n\s*"', "", text)
    return "\n".join(re.findall(r'"((?:[^"\\\n]|\\.)*)"', joined))


def texts():
    for name in sorted(glob.glob(f"{SOURCE}/src/manual/*") + [f"{SOURCE}/README.md"]):
        if name.endswith((".md", ".html")):
            yield name, ENGLISH, open(name, encoding="utf-8").read()
    for name in sorted(glob.glob(f"{SOURCE}/src/**/*", recursive=True)):
        if not name.endswith((".cpp", ".hpp", ".json", ".js")):
            continue
        german = re.search(r"_de\.(cpp|json)$", name)
        yield name, GERMAN if german else ENGLISH, quoted(open(name, encoding="utf-8").read())


def main():
    faults, seen = [], 0
    for name, terms, text in texts():
        seen += 1
        for wrong, right in terms.items():
            for found in re.finditer(wrong, text):
                around = text[max(0, found.start() - 50):found.end() + 40].replace("\n", " ")
                faults.append(f"{os.path.relpath(name, SOURCE)}: '{found.group()}': say {right}; …{around}…")
    assert seen > 300, seen
    for bad in ("the allowed residual", "an imbalance", "a balancing weight"):  # the list itself holds something
        assert any(re.search(wrong, bad) for wrong in ENGLISH), bad
    for bad in ("Wuchtgüte", "3200 U/min", "12 Grad"):
        assert any(re.search(wrong, bad) for wrong in GERMAN), bad
    if faults:
        raise SystemExit("\n".join(faults))
    print(f"{seen} files say one term for one thing")


main()

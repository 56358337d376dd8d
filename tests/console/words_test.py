#!/usr/bin/env python3
"""Both tables of the page's words have the same texts with as many parts, and every text that is asked for is in them.

usage: words_test.py SOURCE_FOLDER
"""
import json
import pathlib
import re
import sys

CONSOLE = pathlib.Path(sys.argv[1]) / "src" / "console"
EN, DE = (json.loads((CONSOLE / "page" / f"words_{language}.json").read_text(encoding="utf-8")) for language in ("en", "de"))
assert EN.keys() == DE.keys(), EN.keys() ^ DE.keys()
WHY_TURNING = EN.pop("motion"), DE.pop("motion")
assert WHY_TURNING[0] is None  # English is said by the watch itself
for key, text in EN.items():
    assert text and DE[key] and text.count("{}") == DE[key].count("{}"), (key, text, DE[key])

page = "".join(file.read_text(encoding="utf-8") for file in sorted((CONSOLE / "page").glob("*.[jh]*")) if file.suffix in (".js", ".html"))
server = "".join((CONSOLE / name).read_text(encoding="utf-8") for name in ("words.cpp", "live_faces.cpp", "live_curves.cpp", "job_session.cpp", "course.cpp", "stock_words.cpp", "rig_setup_session.cpp", "rig_words.cpp"))
asked = set(re.findall(r"say\('(\w+)'[,)]", page)) | set(re.findall(r'data-(?:words|label)="(\w+)"', page))
asked |= {key for pair in re.findall(r"say\([^()']*\? '(\w+)' : '(\w+)'\)", page) for key in pair}
asked |= set(re.findall(r'texts\("(\w+)"', server)) | {key for pair in re.findall(r'texts\([^()"]*\? "(\w+)" : "(\w+)"[,)]', server) for key in pair}
assert asked <= EN.keys(), asked - EN.keys()
made = {key for key in EN if key.startswith(("medians_by_", "of_order_", "units_", "show_"))}  # of a part and a name
made |= {"is", "other", "week", "rig", "family", "closed", "within", "yield", "spins", "final_residual"}
assert not EN.keys() - asked - made, EN.keys() - asked - made
doubts = set(re.findall(r'case MotionDoubt::\w+: return "(\w+)";', (CONSOLE.parent / "tracking" / "shaft_motion.cpp").read_text(encoding="utf-8")))
assert doubts | {"turning", "standing"} == WHY_TURNING[1].keys(), doubts ^ WHY_TURNING[1].keys()
# What an operator can be refused at the page, in a job or in work on a rig has German words; what refuses the start of the
# page speaks to who starts it.
SOURCES = CONSOLE.parent
refused = set()
for folder in ("job", "rig", "guide", "console"):
    for source in (SOURCES / folder).rglob("*.cpp"):
        text = source.read_text(encoding="utf-8")
        refused |= set(re.findall(r'(?:refused|refusal)\(\s*"(\w+)"', text)) | set(re.findall(r'(?:Error\(|\{)Trouble::\w+,\s*"(\w+)"', text))
refused -= {"bad_address", "bad_token", "needs_token", "port_taken", "short_token"}
words = "".join((SOURCES / "drawing" / name).read_text(encoding="utf-8") for name in ("words_de.cpp", "refusal_words_de.cpp", "refusals_of_files_de.cpp"))
german = set(re.findall(r'\{"(\w+)",', words))
german |= set(re.findall(r"\{WarningCode::(\w+),", (SOURCES / "units/warning_table.cpp").read_text(encoding="utf-8")))
assert len(refused) > 40 and refused <= german, refused - german
print(f"{len(EN) + len(WHY_TURNING[1])} texts in two languages")

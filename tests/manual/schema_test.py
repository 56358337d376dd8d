#!/usr/bin/env python3
"""schema_test.py PROGRAM SOURCE-TREE: the schemas that editors check files by, held against the specification's own
checker (python3-jsonschema, draft 2020-12), against the files of the demo and against files that readers refuse."""
import json
import pathlib
import re
import subprocess
import sys
import tomllib

import jsonschema

program, tree = sys.argv[1], pathlib.Path(sys.argv[2])


def printed(*arguments):
    return subprocess.run([program, *arguments], capture_output=True, check=True, text=True).stdout


checkers = {}
for kind in ("rig", "shaft", "spins", "stock", "shop"):
    schema = json.loads(printed("manual", f"{kind}-file", "--schema"))
    jsonschema.Draft202012Validator.check_schema(schema)
    checkers[kind] = jsonschema.Draft202012Validator(schema)


def kind_of(path):
    return re.match(r"(rig|shaft|spins|stock|shop)?", path.stem).group(0)


def troubles(kind, text):
    return [error.message for error in checkers[kind].iter_errors(tomllib.loads(text))]


# What is read is not refused: the demo, the manuals' tour, the shortest files.
read = 0
for path in sorted((tree / "data").rglob("*.toml")):
    kind = kind_of(path) or ("spins" if "[[spin]]" in path.read_text() else "shaft")
    assert not troubles(kind, path.read_text()), (path, troubles(kind, path.read_text()))
    read += 1
for kind in checkers:
    text = printed("manual", f"{kind}-file")
    shortest = "\n".join(line[4:] for line in text.splitlines() if line.startswith("    "))
    assert shortest and not troubles(kind, shortest), (kind, troubles(kind, shortest))
assert read >= 8, read


# Every key's own example passes it, and each key says what it does.
def example_of(schema):
    assert schema.get("description"), schema
    if schema.get("type") == "array" and "items" in schema and schema["items"].get("type") == "object":
        return [table_of(schema["items"])]
    return table_of(schema) if schema.get("type") == "object" else schema["examples"][0]


def table_of(schema):
    table = {name: example_of(each) for name, each in schema["properties"].items()}
    if schema["additionalProperties"]:
        table["X"] = example_of(schema["additionalProperties"])
    return table


def misspelt(table):
    """Each way to write one key of it wrong."""
    for name, value in table.items():
        if name != "X":
            yield {**{k: v for k, v in table.items() if k != name}, name + "_": value}
        inner = value[0] if isinstance(value, list) and isinstance(value[0], dict) else value
        if isinstance(inner, dict):
            for wrong in misspelt(inner):
                yield {**table, name: [wrong] if isinstance(value, list) else wrong}


keys = 0
for kind, checker in checkers.items():
    whole = table_of(checker.schema)
    assert checker.is_valid(whole), (kind, [error.message for error in checker.iter_errors(whole)])
    for wrong in misspelt(whole):
        keys += 1
        # Under a table of names ('limit', 'vector') every name goes.
        assert not checker.is_valid(wrong), (kind, wrong)
assert keys > 150, keys

# What a reader refuses for its key or for the form of its value, the schema refuses too.
refused = """rig-misspelt-key rig-bad-rotation rig-bad-viewing-end rig-bad-edge rig-bare-sensitivity rig-channel-zero rig-no-sensors
rig-no-tach rig-no-sensor-channel rig-no-pulses-per-revolution rig-pedestal-bare-mass rig-pedestal-mass-in-hertz rig-pedestal-misspelt
rig-speed-scale-of-no-speed rig-qualified-every-nothing rig-turned-badly rig-repeats-badly shaft-bare-mass shaft-mass-in-mm
shaft-negative-mass shaft-no-id shaft-no-planes shaft-plane-without-radius spins-no-rig spins-mass-without-unit
spins-vector-without-at""".split()
for name in refused:
    text = (tree / f"tests/broken/files/{name}.toml").read_text()
    assert troubles(name.split("-")[0], text), name
print(f"{read} files, {keys} keys misspelt, {len(refused)} files refused")

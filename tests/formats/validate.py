#!/usr/bin/env python3
"""Holds every example in formats/ against its JSON Schema, with a general validator (python3-jsonschema).

    validate.py FORMATS

For each FORMATS/<name>.schema.json: every FORMATS/examples/<name>/*.json must pass. Beside every
FORMATS/broken/<name>/*.json lies a .expected file with the error the program gives; where it starts with "schema:", the
schema must refuse the file as well (text that is not JSON counts as refused). The other broken files must pass: the
program refuses them for something a schema cannot say. A format without examples, a broken file without .expected and an
example folder without a schema are failures.
"""
import json
import pathlib
import sys

import jsonschema


def refuse_constant(name):
    raise ValueError(f"{name} is not JSON")


def accepts(validator, path):
    """None where the schema accepts the file, else the reason."""
    try:
        value = json.loads(path.read_text(encoding="utf-8"), parse_constant=refuse_constant)
    except ValueError as error:
        return str(error)
    errors = sorted(validator.iter_errors(value), key=lambda error: list(map(str, error.absolute_path)))
    return f"{'.'.join(map(str, errors[0].absolute_path))}: {errors[0].message}" if errors else None


def check_examples(name, validator, folder):
    files = sorted((folder / "examples" / name).glob("*.json"))
    if not files:
        yield f"{name}: there are no examples"
    for path in files:
        reason = accepts(validator, path)
        if reason:
            yield f"{path}: refused, {reason}"


def check_broken(name, validator, folder):
    for path in sorted((folder / "broken" / name).glob("*.json")):
        beside = path.with_suffix(".expected")
        if not beside.is_file():
            yield f"{path}: there is no {beside.name} beside it"
            continue
        must_fail = beside.read_text(encoding="utf-8").startswith("schema:")
        reason = accepts(validator, path)
        if must_fail and not reason:
            yield f"{path}: the schema accepts it"
        if not must_fail and reason:
            yield f"{path}: the schema refuses it ({reason}), so its .expected should start with schema:"


def main():
    if len(sys.argv) != 2:
        sys.exit("usage: validate.py FORMATS")
    folder = pathlib.Path(sys.argv[1])
    schemas = {path.name.removesuffix(".schema.json"): path for path in sorted(folder.glob("*.schema.json"))}
    problems = [] if schemas else [f"{folder}: there are no schemas"]
    for kind in ("examples", "broken"):
        for path in sorted((folder / kind).glob("*/")):
            if path.is_dir() and path.name not in schemas:
                problems.append(f"{path}: there is no {path.name}.schema.json")
    for name, path in schemas.items():
        schema = json.loads(path.read_text(encoding="utf-8"))
        jsonschema.Draft7Validator.check_schema(schema)
        validator = jsonschema.Draft7Validator(schema)
        problems += check_examples(name, validator, folder)
        problems += check_broken(name, validator, folder)
    print("\n".join(problems) if problems else f"{len(schemas)} formats: all examples and broken files as stated")
    sys.exit(1 if problems else 0)


if __name__ == "__main__":
    main()

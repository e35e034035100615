"""Reads what the page tells programs, by libraries that share nothing with it (tests/run installs them; all from PyPI).

  readers.py described   an OpenAPI document and answers, as {"document": ..., "answers": [{"path", "status", "media", "body"}]},
                         on standard input: the document by openapi-spec-validator, each answer by jsonschema against what the
                         document promises for it. A field that the document does not name is a fault, too. Writes the faults.
  readers.py metrics     OpenMetrics on standard input, by the parser of prometheus_client. Writes every figure as
                         [family, type, unit, name, labels, value].
"""

import json
import sys


def described():
    from jsonschema import Draft202012Validator
    from openapi_spec_validator import validate
    from referencing import Registry
    from referencing.jsonschema import DRAFT202012

    told = json.load(sys.stdin)
    document = told["document"]
    validate(document)
    schemas = document["components"]["schemas"]
    parts = set()
    for schema in schemas.values():
        refer_in_parts(schema, parts)
    for name, schema in schemas.items():
        close(schema, part="#/components/schemas/" + name in parts)
    registry = Registry().with_resource("urn:document", DRAFT202012.create_resource(document))
    faults = []
    for answer in told["answers"]:
        where = f"{answer['path']} {answer['status']}"
        responses = document["paths"][answer["path"]]["get"]["responses"]
        promised = responses.get(str(answer["status"]), responses["default"])["content"]
        if answer["media"] not in promised:
            faults.append(f"{where}: {answer['media']} is not promised, {list(promised)} is")
            continue
        # the whole document as a resource, so that what it refers to is found in it
        schema = json.loads(json.dumps(promised[answer["media"]]["schema"]).replace('"#/', '"urn:document#/'))
        validator = Draft202012Validator(
            schema, registry=registry, format_checker=Draft202012Validator.FORMAT_CHECKER
        )
        faults += [f"{where}: {error.json_path}: {error.message}" for error in validator.iter_errors(answer["body"])]
    json.dump(faults, sys.stdout)


def refer_in_parts(schema, parts):
    """The schemas that stand for a part of an object only: closed, they would refuse the other parts."""
    if isinstance(schema, dict):
        for word in ("anyOf", "oneOf", "allOf"):
            parts.update(choice["$ref"] for choice in schema.get(word, []) if "$ref" in choice)
        for inner in schema.values():
            refer_in_parts(inner, parts)
    elif isinstance(schema, list):
        for inner in schema:
            refer_in_parts(inner, parts)


def close(schema, part):
    """Refuses fields that are not named."""
    if isinstance(schema, list):
        for inner in schema:
            close(inner, part=False)
        return
    if not isinstance(schema, dict):
        return
    if not part and "properties" in schema:
        schema["unevaluatedProperties"] = False
    for word, inner in schema.items():
        if word in ("anyOf", "oneOf", "allOf"):
            for choice in inner:
                close(choice, part=True)
        elif word == "properties":
            for field in inner.values():
                close(field, part=False)
        elif word in ("items", "prefixItems"):
            close(inner, part=False)


def metrics():
    from prometheus_client.openmetrics.parser import text_string_to_metric_families

    families = text_string_to_metric_families(sys.stdin.read())
    figures = [
        [family.name, family.type, family.unit, sample.name, sample.labels, sample.value]
        for family in families
        for sample in family.samples
    ]
    json.dump(figures, sys.stdout)


{"described": described, "metrics": metrics}[sys.argv[1]]()

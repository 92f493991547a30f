"""The rules of the public schema of ISO 11783-10 v4.3, as the library isoxml carries them from the schema's own files, walked.

`isoxml` (Apache-2.0) was made from the public XSDs; each attribute of its classes says whether it is required, its pattern, length and range.
It reads without holding files to them, so this walker does.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from decimal import Decimal
from typing import Any


def violations(document: Any) -> list[str]:
    """Return every broken rule of a parsed document: required, pattern, length, range, unique ids, references."""
    ids, found = set(), []
    for node in _nodes(document):
        name = type(node).__name__
        for one in fields(node):
            rule, value = one.metadata, getattr(node, one.name)
            if rule.get("type") == "Element":
                count = len(value) if isinstance(value, list) else value is not None
                if count < rule.get("min_occurs", 0):
                    found.append(f"{name}.{one.name}: fewer than {rule['min_occurs']}")
                continue
            found += [f"{name}.{one.name}: {why}" for why in _broken(rule, value)]
            if one.name == "id" and value is not None:
                found += [f"{name}: {value} stands there twice"] if value in ids else []
                ids.add(value)
    refs = [
        (type(n).__name__, getattr(n, f.name))
        for n in _nodes(document)
        for f in fields(n)
        if f.name.endswith("id_ref")
    ]
    return found + [f"{name}: {ref} is nowhere" for name, ref in refs if ref and ref not in ids]


def _broken(rule: Any, value: Any) -> Iterator[str]:
    if value is None or value == "":
        if rule.get("required"):
            yield "is missing"
        return
    text = str(value)
    if "pattern" in rule and not re.fullmatch(rule["pattern"], text):
        yield f"{text!r} is not as {rule['pattern']}"
    if len(text) > rule.get("max_length", 10**6) or len(text) < rule.get("min_length", 0):
        yield f"{text!r} has {len(text)} letters"
    if isinstance(value, int | Decimal) and not (
        rule.get("min_inclusive", value) <= value <= rule.get("max_inclusive", value)
    ):
        yield f"{value} is out of range"
    if isinstance(value, bytes) and "length" in rule and len(value) != rule["length"]:
        yield f"{value!r} has {len(value)} bytes"
    if (
        isinstance(value, Decimal)
        and "fraction_digits" in rule
        and -int(value.as_tuple().exponent) > rule["fraction_digits"]
    ):
        yield f"{value} has too many digits"


def _nodes(node: Any) -> Iterator[Any]:
    yield node
    for one in fields(node):
        value = getattr(node, one.name)
        for part in value if isinstance(value, list) else [value]:
            if is_dataclass(part) and one.metadata.get("type") == "Element":
                yield from _nodes(part)

"""Changes that keep most of an input sound: by words for any text, by branches for JSON.

Bytes that flip anywhere are refused at once by a parser; what lies behind it is reached by inputs
that are still CSV, TOML or JSON.
"""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable
from typing import Any

_TOKEN = re.compile(r"[\w.+]+|\"[^\"\n]*\"|\r\n|\s|.", re.DOTALL)
_CHANGES = [1, 1, 1, 2, 3]


def changed_text(data: bytes, words: list[str], size: int, source: random.Random) -> bytes:
    """Replace, insert, double, exchange or delete words, or spans and lines of them."""
    text = data.decode("utf-8", "surrogateescape")
    tokens = _TOKEN.findall(text) or [""]
    for _ in range(source.choice(_CHANGES)):
        here = source.randrange(len(tokens))
        end = min(len(tokens), here + source.choice([1, 1, 2, 5, 20]))
        kind = source.randrange(8)
        if kind <= 1:
            tokens[here] = source.choice(words)
        elif kind == 2:
            tokens.insert(here, source.choice(words))
        elif kind == 3:
            del tokens[here:end]
        elif kind == 4:
            tokens[here:here] = tokens[here:end]
        elif kind == 5:
            there = source.randrange(len(tokens))
            tokens[here], tokens[there] = tokens[there], tokens[here]
        elif kind == 6:
            tokens[here] = source.choice(tokens)
        else:
            lines = "".join(tokens).split("\n")
            row, other = (source.randrange(len(lines)) for _ in range(2))
            change = source.randrange(3)
            if change == 0:
                lines.insert(row, lines[other])
            elif change == 1:
                del lines[row]
            else:
                lines[row], lines[other] = lines[other], lines[row]
            tokens = _TOKEN.findall("\n".join(lines))
        tokens = tokens or [""]
    return _bytes("".join(tokens))[:size]


def changed_json(data: bytes, words: list[str], size: int, source: random.Random) -> bytes:
    """Change branches of a JSON document; as text where it is none."""
    try:
        whole = json.loads(data)
    except (ValueError, RecursionError):
        return changed_text(data, words, size, source)
    for _ in range(source.choice(_CHANGES)):
        places = list(_places(whole))
        if not places:
            break
        holder, key = source.choice(places)
        kind = source.randrange(7)
        if kind == 0:
            other, name = source.choice(places)
            holder[key] = json.loads(json.dumps(other[name]))
        elif kind <= 2:
            holder[key] = _value(source.choice(words))
        elif kind == 3:
            del holder[key]
        elif kind == 4 and isinstance(holder, list):
            holder.insert(key, json.loads(json.dumps(holder[key])))
        elif kind == 5 and isinstance(holder[key], (int, float)):
            holder[key] = source.choice([holder[key] + 1, -holder[key], holder[key] * 2, 0, 0.5])
        elif isinstance(holder, dict):
            holder[source.choice([*holder, source.choice(words)])] = holder[key]
    return _bytes(json.dumps(whole))[:size]


def _places(value: Any) -> Any:
    """Yield every holder and key of a tree."""
    waiting = [value]
    while waiting:
        holder = waiting.pop()
        if isinstance(holder, (dict, list)):
            keys = holder if isinstance(holder, dict) else range(len(holder))
            yield from ((holder, key) for key in keys)
            waiting.extend(holder[key] for key in keys)


def _value(word: str) -> Any:
    try:
        return json.loads(word)
    except ValueError:
        return word


def _bytes(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass" if "\ud800" in text else "surrogateescape")


def mutation(target: str, words: list[str]) -> Callable[[bytes, int, int], bytes]:
    """Return the change for a target: takes data, the greatest size, and a seed."""
    change = changed_json if target == "document" else changed_text

    def mutate(data: bytes, size: int, seed: int) -> bytes:
        return change(data, words, size, random.Random(seed))

    return mutate

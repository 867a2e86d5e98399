"""Writes sim/yard/page/messages.js: the protocol's messages as JSDoc types, so that the type check sees every drift.

python .build/page_types.py          # write it
python .build/page_types.py --check  # status 1 where it is out of date
"""

from __future__ import annotations

import dataclasses
import sys
import types
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
TARGET = ROOT / "sim" / "yard" / "page" / "messages.js"
PLAIN = {str: "string", int: "number", float: "number", bool: "boolean", type(None): "null", object: "any"}
HEAD = "// Made from the yard's protocol by .build/page_types.py: every message as a type. Change it there.\n"


def main() -> int:
    """Write or compare."""
    wanted = text()
    if "--check" in sys.argv:
        same = TARGET.is_file() and TARGET.read_text(encoding="utf-8") == wanted
        if not same:
            sys.stderr.write(f"{TARGET.name} is out of date: run python .build/page_types.py\n")
        return 0 if same else 1
    TARGET.write_text(wanted, encoding="utf-8")
    return 0


def text() -> str:
    """The module: one typedef per message, then the two maps of names."""
    from sim.yard import protocol

    messages = [thing for thing in vars(protocol).values() if dataclasses.is_dataclass(thing)]
    blocks = [typedef(thing) for thing in messages if isinstance(thing, type)]
    blocks.append(names("Commands", {name: f"{kind.__name__}" for name, kind in protocol.COMMANDS.items()}))
    blocks.append(names("Tellings", {name: f"{kind.__name__}" for kind, name in protocol.TELLINGS.items()}))
    return HEAD + "\n" + "\n\n".join(blocks) + "\n\nexport {};\n"


def typedef(message: type) -> str:
    """A dataclass; fields with a default may be left out of what the page sends."""
    hints = get_type_hints(message)
    lines = [f"/**\n * @typedef {{object}} {message.__name__}"]
    for field in dataclasses.fields(message):
        name = field.name.rstrip("_")
        optional = field.default is not dataclasses.MISSING
        lines.append(f" * @property {{{written(hints[field.name])}}} {f'[{name}]' if optional else name}")
    return "\n".join([*lines, " */"])


def written(kind: Any) -> str:
    """A type as JSDoc writes it."""
    if kind in PLAIN:
        return PLAIN[kind]
    origin, inner = get_origin(kind), get_args(kind)
    if origin is Literal:
        return " | ".join(f'"{value}"' for value in inner)
    if origin in (Union, types.UnionType):
        return " | ".join(written(part) for part in inner)
    if origin is tuple and len(inner) == 2 and inner[1] is Ellipsis:
        return f"({written(inner[0])})[]"
    if origin is tuple:
        return f"[{', '.join(written(part) for part in inner)}]"
    if origin is dict:
        return f"Record<string, {written(inner[1])}>"
    return str(kind.__name__)


def names(title: str, entries: dict[str, str]) -> str:
    """A map from names on the wire to types."""
    lines = [f" * @property {{{kind}}} {name}" for name, kind in entries.items()]
    return "\n".join([f"/**\n * @typedef {{object}} {title}", *lines, " */"])


if __name__ == "__main__":
    sys.exit(main())

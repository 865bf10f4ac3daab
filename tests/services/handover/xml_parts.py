"""Try the parts of XML elements by rules of order and number, written by hand from a published schema.

``?`` none or one, ``*`` any number, ``+`` one or more, else exactly one; "#" is text alone. Parts of an element that
are left out of its rule may not be in it: we do not write them.
"""

from collections.abc import Mapping
from xml.etree import ElementTree as ET


def wrong_parts(at: ET.Element, namespace: str, rules: Mapping[str, str], path: str) -> list[str]:
    """What is against the rules in this element itself; ``path`` names it."""
    name = at.tag.removeprefix(f"{{{namespace}}}")
    rule = rules.get(name)
    if rule is None:
        return [f"{path}: is not known"]
    here = [c.tag.removeprefix(f"{{{namespace}}}") for c in at]
    if rule == "#":
        return [f"{path}: parts in a text" for _ in here[:1]]
    found = [f"{path}: text beside parts"] if at.text and at.text.strip() else []
    place = 0
    for one in rule.split():
        part, many = (one[:-1], one[-1]) if one[-1] in "?*+" else (one, "")
        count = 0
        while place < len(here) and here[place] == part:
            place, count = place + 1, count + 1
        if (count > 1 and many in ("", "?")) or (count == 0 and many in ("", "+")):
            found.append(f"{path}: {count} of {part}")
    return found + [f"{path}: {part} is not here, or not in its order" for part in here[place:]]

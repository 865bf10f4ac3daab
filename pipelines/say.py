"""What commands print for a person to read."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from intake.services.find import Found
    from intake.services.progress import Progress
    from intake.services.receive import Receipt


def inert(text: str) -> str:
    """Text from outside as a terminal may show it: what would steer it, break the line or turn it stands as \\xNN."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def hold_words(holds: Iterable[tuple[str, int]]) -> str:
    """What is said before anything else of boxes with pieces under hold; empty where there are none."""
    named = ", ".join(f"{inert(box)} ({n} {'piece' if n == 1 else 'pieces'})" for box, n in holds if n)
    return named and (
        f"HAZARD: possible cellulose nitrate, base unconfirmed: {named}. Fire risk. Before a box is opened, read the "
        "cautions at the desk (Hazards) and ask the person in charge of fire safety and a photograph conservator. "
        "Nothing is confirmed of boxes that are not named."
    )


def say_receipt(receipt: "Receipt") -> None:
    """What one receipt did, in a few lines."""
    print(
        f"Consignment {receipt.consignment}: {receipt.files} scans in the folder, {receipt.added} new, "
        f"{receipt.unchanged} known."
    )
    for path, finding in receipt.findings:
        print(f"  {inert(path)} {inert(finding.message)}")


def say_progress(progress: "Progress") -> None:
    """One line for each box, then the run."""
    if not progress.boxes:
        print("Nothing received yet. Begin with: kinfold receive FOLDER --consignment CODE")
        return
    if words := hold_words((f"{b.consignment} / {b.box}", b.on_hold) for b in progress.boxes):
        print(words)
    print(f"{'box':<24} {'listed':>7} {'received':>8} {'checked':>8} {'read':>6} {'matched':>8} {'reviewed':>8}")
    for box in progress.boxes:
        listed = "no list" if box.listed is None else str(box.listed)
        print(
            f"{inert(box.consignment + ' / ' + box.box):<24} {listed:>7} {box.received:>8} {box.checked:>8} "
            f"{box.read:>6} {box.matched:>8} {box.reviewed:>8}"
        )
    print(progress.words)


def say_found(found: "Found") -> None:
    """Ranked pieces, or that there are none, and how much was searched."""
    if words := hold_words(found.holds):
        print(words)
    for hit in found.hits:
        how = " ".join(w for w, on in (("negative", hit.polarity_flip), ("mirrored", hit.mirror)) if on)
        print(
            f"{hit.probability:.2f}  {inert(hit.piece):<20} {hit.relation:<15} {hit.inliers:>4} points {how:<18} "
            + inert(hit.scan)
            + (f"  family {hit.family}" if hit.family else "")
        )
    unread = f"; boxes not looked at yet: {inert(', '.join(found.boxes_unread))}" if found.boxes_unread else ""
    print(f"{'Nothing found' if not found.hits else 'Searched'} in {found.scans_searched:,} scans{unread}.")

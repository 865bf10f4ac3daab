"""What commands print for a person to read."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from intake.services.checking import Checkup
    from intake.services.explaining import Explained
    from intake.services.find import Found
    from intake.services.learning import Learning
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


def say_explained(made: "Explained") -> None:
    """What the next run would do and why."""
    if made.settled:
        print("Nothing: every scan is done under these settings, and families are made from just these.")
        return
    print(f"{made.scans:,} scans have work left.")
    for s in made.stages:
        first = f"{s.first:,} for the first time" if s.first else ""
        anew = f"{s.anew:,} anew" if s.anew else ""
        print(
            f"  {s.stage:<12} {' and '.join(w for w in (first, anew) if w)}" + (f": {inert(s.why[0])}" if s.why else "")
        )
        for line in s.why[1:]:
            print(f"  {'':<12} {inert(line)}")
    if made.kept:
        print(f"  kept as they are: {', '.join(made.kept)}")
    if made.pairs_anew:
        print(f"  {made.pairs_anew:,} pairs are compared anew: {inert('; '.join(made.why_pairs))}")
    print("  families are made anew, since scans, settings, rulings or lists have changed.")
    if made.scans:
        print(made.space.words)


def say_learning(home: "Path", made: "Learning") -> None:
    """What rulings teach, and what adopting it would change; nothing has changed yet."""
    x = made.lesson
    print(
        f"{x.same + x.other:,} ruled pairs ({x.same:,} one design, {x.other:,} not) of {x.rulings:,} rulings: log-odds "
        f"times {x.slope:.3f}, {x.offset:+.3f}."
    )
    print(
        f"Brier score {x.before.brier:.4f} as matched, {x.after.brier:.4f} as learnt (told by folds that never saw it)."
    )
    file = home / "learnt" / f"{made.name}.svg"
    print(f"Logarithmic loss {x.before.log_loss:.4f} and {x.after.log_loss:.4f}; reliability: {inert(str(file))}")
    if x.after.brier >= x.before.brier:
        print("It is no better than what matching says by itself: leave it.")
    print(
        f"Adopted, there would be {made.families_after:,} families ({made.families_before:,} now), "
        f"{made.waiting_after:,} of them waiting ({made.waiting_before:,} now)."
    )
    for change in made.changes[:20]:
        moves = [
            f"{sign}{inert(place)}" for sign, places in (("+", change.gained), ("-", change.lost)) for place in places
        ]
        print(
            f"  {inert(change.name)}: {', '.join(moves[:8])}{f' and {len(moves) - 8} more' if len(moves) > 8 else ''}"
        )
    if len(made.changes) > 20:
        print(f"  and {len(made.changes) - 20:,} families more")
    if not made.changes:
        print("  No family would change its pieces.")
    print(f'Nothing has changed. To let it hold: kinfold learn --adopt {made.name} --who "YOUR NAME"')


def say_page(report: "Path") -> None:
    """Where the morning's page is."""
    print(f"\nThe run on one page: {inert(str(report))}")


def say_checkup(found: "Checkup") -> None:
    """What was found of a home; at most 20 names of each sort."""
    print(f"{found.rows:,} files are named by rows, {found.files:,} are there.")
    listed = {
        "wrong with the database": found.flaws,
        "missing": found.missing,
        "damaged": found.damaged,
        "named by no row (what a run that was cut off wrote last; of no harm)": found.loose,
    }
    if found.originals:
        print(f"{found.originals.same:,} originals are what was received.")
        listed |= {
            "originals that are missing": found.originals.missing,
            "originals that are not what was received": found.originals.altered,
        }
    for words, names in listed.items():
        if names:
            print(f"{len(names):,} {words}:")
            for name in names[:20]:
                print(f"  {inert(name)}")
            if len(names) > 20:
                print(f"  and {len(names) - 20:,} more")
    print("Nothing missing, nothing altered." if found.is_whole else "The home is not whole.")
    if found.touched:
        print(f"{len(found.touched):,} scans are touched. To have them looked at anew: kinfold check-home --mend")

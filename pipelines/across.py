"""What one run does across all scans: ask the index, compare pairs, tell what differs."""

from collections.abc import Sequence
from functools import partial

from intake.imaging.candidates import Candidate
from intake.imaging.permute import bits_of
from intake.model import PartKey
from intake.services import differing, relate
from intake.services.piles import Item, Made, PairPile, PairToCompare, Pile, ReportPile
from intake.services.searching import ask_index
from pipelines.helping import for_each, share_out
from pipelines.shift import Shift, batched

_REPORTS_A_CHUNK = 2  # a few seconds, as many pairs take


def match_all(shift: Shift, count: int) -> None:
    """Compare all pairs that the index proposes, then those that have a mate in common."""
    home, config, stamps = shift.home, shift.config, shift.stamps
    keys, index = relate.to_compare(home, stamps, config)
    bar = shift.night.phase("looking up", len(keys))

    def ask(chunk: Sequence[PartKey]) -> list[tuple[PartKey, list[Candidate]]]:
        with shift.hands.at_work():
            stamp = stamps.stages["fingerprint"]
            found = shift.workers.call(ask_index, chunk, index, home.folder, stamp, config.match.candidates)
            shift.night.step(bar, len(chunk))
            return found

    asked = for_each(batched(keys, config.run.chunk_scans), ask, count)
    wanted = relate.pairs_of(one for found in asked for one in found)
    _compare(shift, count, wanted)
    wanted |= relate.pairs_through_mates(home, wanted, stamps, config)
    _compare(shift, count, wanted)
    relate.drop_others(home, wanted, stamps)


def _compare(shift: Shift, count: int, wanted: relate.Wanted) -> None:
    items = tuple(PairToCompare(*pair, bits_of(wanted[pair])) for pair in sorted(wanted))
    _work_off(shift, count, PairPile(shift.stamps, items, shift.config.run.pair_chunk), "matching")


def differ_all(shift: Shift, count: int) -> None:
    """Tell what differs in the families that wait."""
    todo = tuple(differing.tasks_left(shift.home, shift.config, shift.stamps))
    pile = ReportPile(shift.stamps, todo, _REPORTS_A_CHUNK, differing.settings_of(shift.config))
    _work_off(shift, count, pile, "what differs")
    with shift.hands.at_work():
        shift.patiently(lambda: differing.note_in_queue(shift.home, shift.config))


def _work_off(shift: Shift, count: int, whole: Pile[Item, Made], words: str) -> None:
    pile = whole.of(whole.left(shift.home, whole.items))
    if not pile.items:
        return
    bar = shift.night.phase(words, len(pile.items))

    def do(items: Sequence[Item]) -> None:
        with shift.hands.at_work():
            made = pile.do(shift.home, shift.config, shift.workers, items)
            shift.patiently(lambda: pile.record(shift.home, made))
            shift.night.step(bar, len(items))

    if shift.call_help is not None and len(pile.chunks) >= shift.config.run.help_from_chunks:
        share_out(shift, count, pile, do, partial(shift.night.reached, bar))
    else:
        for_each(pile.chunks, lambda number: do(pile.chunk(number)), count)

"""What people ruled on single pieces: kind, format, that it is a reproduction, that nothing is to be added."""

from collections.abc import Iterable
from dataclasses import dataclass

from intake.kin import Decision, Verb
from intake.model import Measured
from intake.services.rulings import standing

VERBS: tuple[Verb, ...] = ("set_role", "set_format", "reproduction", "nothing_to_add")


@dataclass(frozen=True, slots=True)
class PieceRuled:
    """The newest ruling of each sort that stands on one part."""

    role: Decision | None = None
    format: Decision | None = None
    reproduction: Decision | None = None
    done: Decision | None = None

    @property
    def kind(self) -> str:
        """The kind that a person said it is; empty where nobody did."""
        return str(self.role.shown.get("as", "")) if self.role else ""

    @property
    def words(self) -> tuple[str, ...]:
        """Each ruling in words, with who made it."""
        why = self.reproduction.shown.get("text", "") if self.reproduction else ""
        said = [
            (self.role, "kind as ruled"),
            (self.format, "format as ruled"),
            (
                self.reproduction,
                f"reproduction: {why}",
            ),
            (self.done, "nothing to add"),
        ]
        return tuple(f"{words}, by {d.who}" for d, words in said if d)

    def measured(self, found: Measured | None) -> Measured | None:
        """What was measured, with the format that a person said it is."""
        if self.format is None:
            return found
        named = str(self.format.shown.get("as", ""))
        if found is None:
            return Measured(None, None, "size unknown", named, "as ruled")
        return Measured(found.width_mm, found.height_mm, found.size_source, named, "as ruled", (), found.findings)


NOT_RULED = PieceRuled()


def piece_ruled(decisions: Iterable[Decision]) -> PieceRuled:
    """Bring the rulings on one part together; ``decisions`` are its own, the oldest first, undoings among them."""
    newest = {d.verb: d for d in standing(decisions)}
    return PieceRuled(*(newest.get(verb) for verb in VERBS))

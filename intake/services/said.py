"""Rulings in words: what was done, what is about to be, and how long ago."""

from datetime import UTC, datetime

PAST = {
    "confirm": "said that these belong together",
    "part_off": "took a piece out",
    "join": "joined families",
    "accept_reading": "accepted a reading",
    "correct_reading": "corrected a reading",
    "reject_reading": "rejected a reading",
    "note_hazard": "noted a hazard",
    "propose_clearing": "proposed to rule a film base safety",
    "confirm_clearing": "ruled a film base safety, as the second person",
    "undo": "took a ruling back",
    "divide": "parted a selection off as a family of its own",
    "same_campaign": "said that two designs are of one campaign",
    "name_design": "named the design",
    "refer": "referred a family",
    "set_aside": "set a family aside",
    "set_role": "said what a piece is",
    "set_format": "said which format a piece is",
    "reproduction": "ruled a piece a reproduction",
    "nothing_to_add": "had nothing to add to a piece",
    "date_catalogue": "set the catalogue date",
    "confirm_place": "confirmed a worn place, with the piece in hand",
    "reject_place": "rejected a worn place, with the piece in hand",
    "add_place": "put a worn place, with the piece in hand",
    "grade": "graded a piece",
    "note_measure": "measured a piece",
    "mark_point": "marked a comparison point",
    "name_element": "named an element of a campaign",
    "log_search": "searched a source outside",
    "choose_reference": "chose what the family is set beside",
    "offer": "put pieces into one offer",
    "adopt_learnt": "adopted what rulings taught the match probability",
    "materials": "said what a piece is made of",
}
DOING = {
    "confirm": "these belong together",
    "part_off": "take out what was chosen",
    "divide": "what was chosen is a family of its own",
    "join": "join the two",
    "same_campaign": "same campaign, other design",
    "name_design": "name it so",
    "refer": "refer it",
    "set_aside": "set it aside",
    "set_role": "put that kind",
    "set_format": "put that format",
    "reproduction": "a reproduction",
    "nothing_to_add": "nothing to add",
}


def ago(at: str) -> str:
    """How long ago a time of the ledger is, in words: a minute ago, 3 hours ago."""
    seconds = max(0.0, (datetime.now(UTC) - datetime.fromisoformat(at)).total_seconds())
    if seconds < 45:
        return "a moment ago"
    for size, one, more in ((86_400, "a day", "days"), (3_600, "an hour", "hours"), (60, "a minute", "minutes")):
        if seconds >= size * 0.75:
            many = round(seconds / size)
            return f"{one} ago" if many <= 1 else f"{many} {more} ago"
    return "a minute ago"

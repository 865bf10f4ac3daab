"""Is the word NITRATE among what was read? Asked generously: a slip of the reader must not hide it."""

from intake.ocr.text import squeeze

_WORD = "nitrate"
_SLIPS = 1
_LETTERS_FOR = str.maketrans("01347", "oiaet")  # digits that readers take for letters
_LONGEST = 400


def says_nitrate(text: str) -> bool:
    """Tell whether NITRATE stands anywhere in ``text``, with one letter more, less or wrong, digits taken for letters.

    The edit distance to the nearest stretch of the text (Sellers 1980, "The theory and computation of evolutionary
    distances"). What is nearly so in other words ("arbitrate") counts as well.
    """
    bare = "".join(c for c in squeeze(text[:_LONGEST]).translate(_LETTERS_FOR) if c.isalpha())
    column = list(range(len(_WORD) + 1))
    for letter in bare:
        above, column[0] = column[0], 0
        for i, wanted in enumerate(_WORD, start=1):
            above, column[i] = column[i], min(column[i] + 1, column[i - 1] + 1, above + (letter != wanted))
        if column[-1] <= _SLIPS:
            return True
    return False

"""One paper set in a process apart: Typst keeps what it has set in memory, and gives it back when its process ends."""

from datetime import datetime


class CannotSet(Exception):
    """The template cannot be set; ``str(error)`` says why."""


def set_pdf(template: bytes, root: str, data: str, made_at: str) -> bytes:
    """The paper as PDF. ``root`` is all that the template may open, ``data`` its JSON. Raises CannotSet."""
    import typst

    try:
        pdf: bytes = typst.compile(  # type: ignore[type-var]
            template,
            root=root,
            ignore_system_fonts=True,
            sys_inputs={"data": data},
            timestamp=datetime.fromisoformat(made_at),
        )
    except typst.TypstError as error:
        raise CannotSet(str(error)[:300]) from None
    return pdf

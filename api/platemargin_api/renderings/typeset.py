"""A process that sets one document as PDF: a template by its path, words as JSON in, the document out."""

from __future__ import annotations

import sys
from pathlib import Path

import typst

__all__ = ["main"]


def main(template: Path, fonts: Path) -> None:
    """Write the document, which declares PDF/UA-1 and has no time in it.

    The machine's own fonts would set the same words differently elsewhere: they are left out.
    """
    known = typst.Fonts(include_system_fonts=False, font_paths=[str(fonts)])
    compiler = typst.Compiler(template, root=template.parent, font_paths=known)
    words = sys.stdin.buffer.read().decode()
    try:
        made = _made(compiler, words, floats="yes")
    except typst.TypstError:
        # typst 0.15 cannot tag everything that floats past the end of a page (typst/typst#8487): it stays where it stands.
        made = _made(compiler, words, floats="no")
    sys.stdout.buffer.write(made)


def _made(compiler: typst.Compiler, words: str, *, floats: str) -> bytes:
    made = compiler.compile(format="pdf", pdf_standards=["ua-1"], sys_inputs={"words": words, "floats": floats})
    if not isinstance(made, bytes):
        raise SystemExit("it gives no document")
    return made


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))

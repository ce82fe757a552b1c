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
    words = {"words": sys.stdin.buffer.read().decode()}
    compiler = typst.Compiler(template, root=template.parent, font_paths=known, sys_inputs=words)
    made = compiler.compile(format="pdf", pdf_standards=["ua-1"])
    if not isinstance(made, bytes):
        raise SystemExit(f"{template.name} gives no document")
    sys.stdout.buffer.write(made)


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))

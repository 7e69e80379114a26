"""Paper: PDFs set by typst from a template and plain content, drawings in black for the copier, QR codes.

What people typed reaches the page as data and never as markup: the content goes in as JSON, and the templates set
strings as text.
"""

import json
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import segno
import typst

ROOT = Path(__file__).resolve().parent.parent.parent

# The drawings' strokes on paper: black, hollow, grey; colour would not survive the copier. Names as in sheet.css.
_INK = """
.t{font:13px 'Libertinus Serif';fill:#000}.mid{text-anchor:middle}.end{text-anchor:end}.tb{font-weight:bold}
.halo{stroke:none;fill:#000}
.hair,.leg,.ring-fit,.tick2{fill:none;stroke:#000;stroke-width:1}
.axis,.bracket,.spool{fill:none;stroke:#000;stroke-width:1.5}
.grid,.tick1{stroke:#bbb;stroke-width:1}
.limit{stroke:#000;stroke-width:4}.limit-s{stroke:#000;stroke-width:2}
.whisker{stroke:#000;stroke-width:4}.whisker-s{stroke:#000;stroke-width:3}.cap{stroke:#000;stroke-width:2}
.mark{stroke:#000;stroke-width:2}.dots{stroke:#000;stroke-dasharray:1 3}
.f-in,.f-none{fill:#fff}.f-close{fill:#999}.f-out,.f-ink,.dot{fill:#000}
.shaft{stroke:#000;stroke-width:4}.target{stroke:#000;stroke-width:1.75;stroke-dasharray:7 5}
.plane{stroke:#555;stroke-dasharray:1 4;stroke-width:1.5}.gate{stroke:#000;stroke-width:4}
.band{fill:#000;fill-opacity:.07}.hinge,.ring,.dialface{fill:#fff;stroke:#000;stroke-width:2}
.post{stroke:#555;stroke-width:1}.foot{stroke:#000;stroke-width:4}
.move{stroke:#000;stroke-width:3}.arrow,.tab,.ta{fill:#000}
"""


def pdf(template: str, content: Mapping[str, Any], *, at: datetime, title: str) -> bytes:
    """Set `content` (JSON values only) by a template, named by its path from the root of the program.

    `at` is the instant written into the file, so that the same record gives the same bytes.
    """
    inputs = {"content": json.dumps(content, ensure_ascii=False, allow_nan=False), "title": title}
    return typst.compile(
        ROOT / template,
        root=ROOT,
        format="pdf",
        sys_inputs=inputs,
        ignore_system_fonts=True,
        timestamp=int(at.timestamp()),
    )


def for_paper(svg: str | None) -> str | None:
    """A drawing of the pages as a file of its own, with the strokes it has on paper."""
    if svg is None:
        return None
    head, _, rest = svg.partition(">")
    head = head.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1)
    return f"{head}><style>{_INK}</style>{rest}"


@cache
def qr(text: str) -> str:
    """A QR code as a drawing; level M: a quarter of a label may be greasy and it is still read."""
    out = BytesIO()
    segno.make(text, error="m", micro=False).save(out, kind="svg", border=2, xmldecl=False, dark="#000", light="#fff")
    return out.getvalue().decode()

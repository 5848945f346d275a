"""A PDF file written page by page, with memory for a number a page: fonts embedded once, references at the end.

The file follows ISO 32000-1 (PDF 1.7). Every font is whole in the file and every letter has its Unicode value, so it can be
read anywhere for as long as labels last. The same pages give the same bytes.
"""

from __future__ import annotations

import hashlib
import zlib
from array import array
from collections.abc import Iterable
from typing import BinaryIO

from labels.faces import Face
from labels.page_stream import FONT_NAMES

KIDS = 256  # pages under one node of the page tree
_CATALOG, _ROOT, _RESOURCES, _INFO = range(1, 5)
_PRODUCER = "gearkeep"


def _to_unicode(face: Face) -> bytes:
    """The map from glyph numbers back to letters (ISO 32000-1 clause 9.10.3), the lowest code point of each glyph."""
    letters: dict[int, int] = {}
    for point, glyph in sorted(face.glyphs.items()):
        letters.setdefault(glyph, point)
    rows = [f"<{glyph:04X}> <{chr(point).encode('utf-16-be').hex().upper()}>" for glyph, point in sorted(letters.items())]
    blocks = [rows[start : start + 100] for start in range(0, len(rows), 100)]
    maps = "\n".join(f"{len(block)} beginbfchar\n" + "\n".join(block) + "\nendbfchar" for block in blocks)
    return ("/CIDInit /ProcSet findresource begin 12 dict begin begincmap\n"
            "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
            "/CMapName /Adobe-Identity-UCS def /CMapType 2 def\n"
            f"1 begincodespacerange <0000> <FFFF> endcodespacerange\n{maps}\n"
            "endcmap CMapName currentdict /CMap defineresource pop end end").encode("ascii")


class PdfWriter:
    """Writes to `out`, an empty binary file. Call `add_page` for each page in order, then `close`."""

    def __init__(self, out: BinaryIO, faces: Iterable[Face], title: str) -> None:
        self._out, self._title, self._position = out, title, 0
        self._digest = hashlib.sha256()
        self._offsets = array("Q", [0] * (_INFO + 1))
        self._nodes: list[tuple[int, int]] = []  # number of a page tree's node, and its pages
        self._kids: list[int] = []
        self._write(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
        fonts = " ".join(f"/{FONT_NAMES[face.bold]} {self._font(face)} 0 R" for face in faces)
        self._object(_RESOURCES, f"<< /Font << {fonts} >> >>")

    def _write(self, data: bytes) -> None:
        self._out.write(data)
        self._digest.update(data)
        self._position += len(data)

    def _reserve(self) -> int:
        self._offsets.append(0)
        return len(self._offsets) - 1

    def _object(self, number_: int, body: str) -> int:
        self._offsets[number_] = self._position
        self._write(f"{number_} 0 obj\n{body}\nendobj\n".encode("latin-1"))
        return number_

    def _stream(self, number_: int, data: bytes, entries: str) -> int:
        """A stream object; `data` is written as it is."""
        self._offsets[number_] = self._position
        self._write(f"{number_} 0 obj\n<< {entries} /Length {len(data)} >>\nstream\n".encode("latin-1"))
        self._write(data)
        self._write(b"\nendstream\nendobj\n")
        return number_

    def _deflated(self, data: bytes, entries: str = "") -> int:
        return self._stream(self._reserve(), zlib.compress(data, 9), f"{entries} /Filter /FlateDecode".strip())

    def _font(self, face: Face) -> int:
        """A composite font over the whole file, so that any letter it has can be shown (clause 9.7)."""
        file = self._deflated(face.data, f"/Length1 {len(face.data)}")
        descriptor = self._object(self._reserve(), (
            f"<< /Type /FontDescriptor /FontName /{face.name} /Flags 32 /FontBBox [{' '.join(map(str, face.box))}] "
            f"/ItalicAngle 0 /Ascent {face.ascent} /Descent {face.descent} /CapHeight {face.cap} "
            f"/StemV {140 if face.bold else 80} /FontFile2 {file} 0 R >>"))
        widths = " ".join(f"{width:g}" for width in face.widths)
        inner = self._object(self._reserve(), (
            f"<< /Type /Font /Subtype /CIDFontType2 /BaseFont /{face.name} /CIDToGIDMap /Identity "
            "/CIDSystemInfo << /Registry (Adobe) /Ordering (Identity) /Supplement 0 >> "
            f"/FontDescriptor {descriptor} 0 R /W [0 [{widths}]] >>"))
        letters = self._deflated(_to_unicode(face))
        return self._object(self._reserve(), (
            f"<< /Type /Font /Subtype /Type0 /BaseFont /{face.name} /Encoding /Identity-H "
            f"/DescendantFonts [{inner} 0 R] /ToUnicode {letters} 0 R >>"))

    def add_page(self, width: str, height: str, stream: bytes) -> None:
        """One page. width, height: in points, as PDF numbers; stream: its operators, deflated."""
        if not self._kids:
            self._nodes.append((self._reserve(), 0))
        content = self._stream(self._reserve(), stream, "/Filter /FlateDecode")
        box = f"[0 0 {width} {height}]"
        self._kids.append(self._object(self._reserve(), (
            f"<< /Type /Page /Parent {self._nodes[-1][0]} 0 R /MediaBox {box} /BleedBox {box} /TrimBox {box} "
            f"/Resources {_RESOURCES} 0 R /Contents {content} 0 R >>")))
        if len(self._kids) == KIDS:
            self._end_node()

    def _end_node(self) -> None:
        node = self._nodes[-1][0]
        kids = " ".join(f"{kid} 0 R" for kid in self._kids)
        self._object(node, f"<< /Type /Pages /Parent {_ROOT} 0 R /Kids [{kids}] /Count {len(self._kids)} >>")
        self._nodes[-1] = node, len(self._kids)
        self._kids = []

    def close(self) -> None:
        """Write what could not be known before: the page tree, the document's own data, the references."""
        if self._kids:
            self._end_node()
        kids = " ".join(f"{node} 0 R" for node, _ in self._nodes)
        self._object(_ROOT, f"<< /Type /Pages /Kids [{kids}] /Count {sum(pages for _, pages in self._nodes)} >>")
        title = self._title.encode("utf-16-be").hex().upper()
        self._object(_INFO, f"<< /Title <FEFF{title}> /Producer ({_PRODUCER}) >>")
        self._object(_CATALOG, (
            f"<< /Type /Catalog /Pages {_ROOT} 0 R /ViewerPreferences << /PrintScaling /None >> >>"))
        name = self._digest.hexdigest()[:32].upper()
        start = self._position
        self._write(f"xref\n0 {len(self._offsets)}\n0000000000 65535 f \n".encode("ascii"))
        for offset in self._offsets[1:]:
            self._write(f"{offset:010d} 00000 n \n".encode("ascii"))
        self._write((f"trailer\n<< /Size {len(self._offsets)} /Root {_CATALOG} 0 R /Info {_INFO} 0 R /ID [<{name}> <{name}>] >>\n"
                     f"startxref\n{start}\n%%EOF\n").encode("ascii"))


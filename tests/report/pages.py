"""Help for the tests of HTML pages: what a page holds, and the pages of one report."""

from dataclasses import dataclass
from datetime import date
from html.parser import HTMLParser

from ribbonbar.report.crop import crops_of, thumbnail
from ribbonbar.report.html import Item, handover, overview, page
from tests.report.conftest import ATTACK, keys, photograph

ALL = ["in_order", "out_of_order", "doubtful", "perhaps_wrong", "no_bar", "verified", "two_bars", "hostile"]
ON = date(2031, 5, 17)
_VOID = {"meta", "img", "input", "br", "link", "hr"}


class Page(HTMLParser):
    """What a page holds: its text, its tags with attributes, its headings; unclosed tags are a fault."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open, self.open

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open and self.open.pop() == tag, tag

    def handle_data(self, data):
        if not {"style", "script"} & set(self.open):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


@dataclass(frozen=True)
class Held:
    award: str
    emblems: tuple[str, ...] = ()


@dataclass(frozen=True)
class Job:
    reference: str = "job 1042"
    rows: tuple[tuple[str, ...], ...] = ()
    held: tuple[Held, ...] = ()


def crops(report):
    return crops_of(report, photograph(report)) if report.bars else ()


def every_page(report, specification) -> list[str]:
    cut = crops(report)
    job = Job(reference=report.work_order, rows=(keys("valour-cross"),), held=(Held("tarn/valour-cross", (ATTACK,)),))
    items = [Item(report, thumbnail(cut[0]) if cut else b"", error) for error in ("", ATTACK)]
    return [
        page(report, cut, specification),
        handover(report, cut, specification, job, ON),
        overview(items, specification),
    ]

"""The report as content: all sections in their order, with the sources that they cite."""

from __future__ import annotations

from flowunc.bench.report.advice import consistency_section, improvement_section
from flowunc.bench.report.asked import Asked
from flowunc.bench.report.budgets import budget_section, cross_check_section
from flowunc.bench.report.content import Document, Paragraph, Section, one_line, texts_of
from flowunc.bench.report.measured import bench_section, lead, readings_section
from flowunc.bench.report.method import method_section
from flowunc.bench.report.pictures import Pictures
from flowunc.bench.report.provenance import provenance_section
from flowunc.bench.report.results import results_section, summary_section
from flowunc.bench.report.sources import cited
from flowunc.bench.report.theory import agreement_section, fits_section

__all__ = ["TITLE", "document_of"]

TITLE = "Pipe friction: results and their uncertainty"


def document_of(asked: Asked, pictures: Pictures, title: str) -> Document:
    """Put the report together.

    Parameters
    ----------
    asked : Asked
    pictures : Pictures
        The charts.
    title : str
    """
    note = (Paragraph(pictures.note),) if pictures.note else ()
    sections = (
        summary_section(asked),
        readings_section(asked),
        bench_section(asked),
        method_section(asked),
        results_section(asked, (*pictures.of("friction"), *note)),
        cross_check_section(asked, pictures.of("distribution")),
        budget_section(asked, pictures.of("budget")),
        consistency_section(asked, pictures.of("zero")),
        agreement_section(asked, pictures.of("agreement")),
        fits_section(asked),
        improvement_section(asked),
        provenance_section(asked),
    )
    found = Document(one_line(title), lead(asked), tuple(map(_cleaned, sections)))
    texts = [text for block in found.blocks() for text in texts_of(block)]
    return Document(found.title, found.lead, found.sections, cited(texts))


def _cleaned(section: Section) -> Section:
    return Section(one_line(section.title), section.blocks)
